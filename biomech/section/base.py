"""What every cross-section offers, whatever its shape.

Local axes: a1 along the wire, a2 outward (bucco-lingual, size `depth`), a3 up (occluso-gingival, size
`height`). Every section here is a rectangle with quarter-round corners of radius `bevel`; a round wire is the
limit height = depth = 2 bevel.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from biomech.errors import InputError

Array = NDArray[np.float64]

MIN_SIZE, MAX_SIZE = 0.05, 5.0
"""Sizes outside this range, mm, are refused as mistakes of unit (common practice, no source)."""
_INCH = 25.4
_SHARP = 1e-9


class Boundary(NamedTuple):
    """Sampled outline, counter-clockwise from a2 towards a3, with the shear stress along its tangent.

    x2, x3 (p,) mm; torsion (p,) in MPa per N.mm; shear_2, shear_3 (p,) in MPa per N.
    """

    x2: Array
    x3: Array
    torsion: Array
    shear_2: Array
    shear_3: Array


class Section(ABC):
    """A cross-section of a wire. Lengths in mm, moments of area in mm^4.

    `height` is the size along a3 (occluso-gingival), `depth` along a2 (bucco-lingual), `bevel` the radius of
    the rounded corners; a round wire has its diameter twice and its radius.
    """

    height: float
    depth: float
    bevel: float

    @property
    @abstractmethod
    def area(self) -> float:
        """Area, mm^2."""

    @property
    @abstractmethod
    def inertia_2(self) -> float:
        """Second moment for bending about a2 (vertical deflection), mm^4."""

    @property
    @abstractmethod
    def inertia_3(self) -> float:
        """Second moment for bending about a3 (in the arch plane), mm^4."""

    @property
    @abstractmethod
    def torsion(self) -> float:
        """Saint-Venant torsion constant J, mm^4."""

    @abstractmethod
    def shear_2(self, poisson: float) -> float:
        """Shear factor kappa along a2 for Poisson's ratio `poisson` (Cowper 1966, J Appl Mech 33:335)."""

    @abstractmethod
    def shear_3(self, poisson: float) -> float:
        """Shear factor kappa along a3 for Poisson's ratio `poisson` (Cowper 1966, J Appl Mech 33:335)."""

    @abstractmethod
    def boundary(self) -> Boundary:
        """Return the sampled outline with its unit shear stresses."""

    @abstractmethod
    def label(self) -> str:
        """Return the size in words, inch and mm."""

    def stiffness(self, young: float, poisson: float, shear_factor: float | None = None) -> Array:
        """Return (EA, k2 GA, k3 GA, GJ, EI2, EI3) (6,) in N and N.mm^2, G = E / (2 (1 + nu)).

        `young` in MPa. `shear_factor` replaces both of Cowper's factors (to compare with other programs).
        Raises InputError for a modulus that is not positive or a Poisson's ratio outside [0, 0.5].
        """
        _require("young", young, 0.0, math.inf, "MPa", open_low=True)
        _require("poisson", poisson, 0.0, 0.5, "")
        shear = young / (2 * (1 + poisson))
        k2 = self.shear_2(poisson) if shear_factor is None else shear_factor
        k3 = self.shear_3(poisson) if shear_factor is None else shear_factor
        return np.array(
            [
                young * self.area,
                k2 * shear * self.area,
                k3 * shear * self.area,
                shear * self.torsion,
                young * self.inertia_2,
                young * self.inertia_3,
            ]
        )

    def peak_stress(self, resultants: ArrayLike) -> Array:
        """Return the largest von Mises stress (...), MPa, under (N, V2, V3, T, M2, M3) (..., 6), N and N.mm.

        Elastic. Axial stress N/A + M2 x3/I2 - M3 x2/I3; Saint-Venant torsion shear; transverse shear by the
        elementary formula V Q / (I t), directed along the outline. The latter takes the shear as uniform
        across the section: its own peak is 9 % (0.019 x 0.025 in, force along the long side) to 24 % (along
        the short side) below a finite-element solution, and it peaks where bending vanishes, so it matters
        only in spans as short as the wire is thick. The maximum is taken over sampled points of the
        outline; between samples at most 5e-4 is missed.
        """
        r = np.asarray(resultants, dtype=np.float64)[..., None, :]
        b = self.boundary()
        axial = r[..., 0] / self.area + r[..., 4] * b.x3 / self.inertia_2 - r[..., 5] * b.x2 / self.inertia_3
        shear = r[..., 1] * b.shear_2 + r[..., 2] * b.shear_3 + r[..., 3] * b.torsion
        out: Array = np.sqrt(np.max(axial * axial + 3 * shear * shear, axis=-1))
        return out

    def max_bending_strain(self, curvature_2: ArrayLike, curvature_3: ArrayLike) -> Array:
        """Return the largest bending strain (...) for curvatures about a2 and a3 (...), rad/mm. Exact."""
        k2 = np.abs(np.asarray(curvature_2, dtype=np.float64))
        k3 = np.abs(np.asarray(curvature_3, dtype=np.float64))
        r = self.bevel
        out: Array = k2 * (self.height / 2 - r) + k3 * (self.depth / 2 - r) + r * np.hypot(k2, k3)
        return out


def _require(key: str, value: float, low: float, high: float, unit: str, open_low: bool = False) -> None:
    """Raise InputError unless `value` is a finite number within [low, high]."""
    good = isinstance(value, (int, float, np.floating)) and math.isfinite(value) and low <= value <= high
    if not good or (open_low and value <= low):
        upper = "" if high == math.inf else f" and at most {high:g}"
        lower = f"greater than {low:g}" if open_low else f"at least {low:g}"
        raise InputError(f"{key} = {value!r} {unit}".rstrip() + f": must be {lower}{upper} {unit}".rstrip())


def require_size(key: str, value: float) -> None:
    """Raise InputError unless `value` is a plausible wire size in mm."""
    _require(key, value, MIN_SIZE, MAX_SIZE, "mm")


def require_bevel(value: float, height: float, depth: float) -> None:
    """Raise InputError unless the corner radius fits into the rectangle."""
    _require("bevel", value, 0.0, min(height, depth) / 2, "mm")


def sizes_label(*sizes: float) -> str:
    """Return "0.019 x 0.025 in (0.4826 x 0.6350 mm)"; mm come first if the sizes are not inch sizes."""
    inches = [size / _INCH for size in sizes]
    millimetres = " x ".join(f"{size:.4f}" for size in sizes)
    if all(abs(value * 2000 - round(value * 2000)) < 2e-6 * 2000 for value in inches):
        texts = [f"{value:.4f}" for value in inches]
        inch = " x ".join(text[:-1] if text.endswith("0") else text for text in texts)
        return f"{inch} in ({millimetres} mm)"
    return f"{millimetres} mm ({' x '.join(f'{value:.4f}' for value in inches)} in)"
