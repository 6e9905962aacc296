"""Round and rectangular wires."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache
from typing import final

import numpy as np

from biomech.section import torsion as saint_venant
from biomech.section.base import (
    Array,
    Boundary,
    Section,
    require_bevel,
    require_size,
    sizes_label,
)

_CORNER = 1 - math.pi / 4  # area of a unit corner between its square and its quarter circle
_CORNER_CENTROID = (0.5 - (math.pi / 4) * (1 - 4 / (3 * math.pi))) / _CORNER  # from the square's corner
_SIDE, _ARC = 9, 33  # outline points per half side and per corner


@final
@dataclass(frozen=True)
class Round(Section):
    """A round wire of `diameter` mm. Raises InputError for an implausible size."""

    diameter: float
    height: float = field(init=False, repr=False, compare=False)
    depth: float = field(init=False, repr=False, compare=False)
    bevel: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        require_size("diameter", self.diameter)
        object.__setattr__(self, "height", self.diameter)
        object.__setattr__(self, "depth", self.diameter)
        object.__setattr__(self, "bevel", self.diameter / 2)

    @property
    def area(self) -> float:
        """Equal to pi d^2 / 4."""
        return math.pi * self.diameter**2 / 4

    @property
    def inertia_2(self) -> float:
        """Equal to pi d^4 / 64."""
        return math.pi * self.diameter**4 / 64

    @property
    def inertia_3(self) -> float:
        """Equal to pi d^4 / 64."""
        return self.inertia_2

    @property
    def torsion(self) -> float:
        """Equal to pi d^4 / 32."""
        return 2 * self.inertia_2

    def shear_2(self, poisson: float) -> float:
        """6 (1 + nu) / (7 + 6 nu), Cowper 1966."""
        return 6 * (1 + poisson) / (7 + 6 * poisson)

    def shear_3(self, poisson: float) -> float:
        """6 (1 + nu) / (7 + 6 nu), Cowper 1966."""
        return self.shear_2(poisson)

    def boundary(self) -> Boundary:
        """See Section.boundary; torsion shear T r / J."""
        return _boundary(self.height, self.depth, self.bevel, self.area, self.inertia_2, self.inertia_3)

    def label(self) -> str:
        """Return e.g. "0.036 in round (0.9144 mm)"."""
        return sizes_label(self.diameter).replace(" (", " round (", 1)


@final
@dataclass(frozen=True)
class Rectangular(Section):
    """A rectangular wire: `height` along a3, `depth` along a2, corners rounded by `bevel`, all mm.

    A "0.019 x 0.025" wire set edgewise in a slot has height 0.4826 (0.019 in), depth 0.635 (0.025 in). Area
    and second moments are exact with the rounded corners; J is exact to 1e-6 (see biomech.section.torsion);
    Cowper's shear factor is that of the sharp rectangle (the corners carry next to no shear).
    Raises InputError for implausible sizes or a bevel above half the smaller side.
    """

    height: float
    depth: float
    bevel: float = 0.0

    def __post_init__(self) -> None:
        require_size("height", self.height)
        require_size("depth", self.depth)
        require_bevel(self.bevel, self.height, self.depth)

    @property
    def area(self) -> float:
        """Area, mm^2."""
        return self.height * self.depth - 4 * _CORNER * self.bevel**2

    @property
    def inertia_2(self) -> float:
        """Equal to depth height^3 / 12 less the missing corners, mm^4."""
        return _inertia(self.depth, self.height, self.bevel)

    @property
    def inertia_3(self) -> float:
        """Equal to height depth^3 / 12 less the missing corners, mm^4."""
        return _inertia(self.height, self.depth, self.bevel)

    @property
    def torsion(self) -> float:
        """Saint-Venant constant, mm^4."""
        if self.bevel == 0.0:
            return saint_venant.rectangle_constant(self.height, self.depth)
        return saint_venant.rounded(self.height, self.depth, self.bevel).constant

    def shear_2(self, poisson: float) -> float:
        """10 (1 + nu) / (12 + 11 nu), Cowper 1966."""
        return 10 * (1 + poisson) / (12 + 11 * poisson)

    def shear_3(self, poisson: float) -> float:
        """10 (1 + nu) / (12 + 11 nu), Cowper 1966."""
        return self.shear_2(poisson)

    def boundary(self) -> Boundary:
        """See Section.boundary."""
        return _boundary(self.height, self.depth, self.bevel, self.area, self.inertia_2, self.inertia_3)

    def label(self) -> str:
        """Return e.g. "0.019 x 0.025 in (0.4826 x 0.6350 mm)", with the bevel if there is one."""
        bevel = f", bevel {self.bevel:.4f} mm" if self.bevel else ""
        return sizes_label(self.height, self.depth) + bevel


def _inertia(width: float, size: float, bevel: float) -> float:
    """Return the second moment about the axis along `width` of width x size with rounded corners."""
    area = _CORNER * bevel**2
    # about the square's own corner: integral of y^2 over the unit square less that over the quarter circle
    about_corner = (1 / 3 - (math.pi / 4 - 2 / 3 + math.pi / 16)) * bevel**4
    shift = _CORNER_CENTROID * bevel
    own = about_corner - area * shift**2
    return width * size**3 / 12 - 4 * (own + area * (size / 2 - shift) ** 2)


@lru_cache(maxsize=256)
def _boundary(
    height: float, depth: float, bevel: float, area: float, inertia_2: float, inertia_3: float
) -> Boundary:
    """Sample the outline of a rounded rectangle and its unit shear stresses."""
    x2, x3, t2, t3 = _outline(height, depth, bevel)
    if bevel > 0.0:
        constant = saint_venant.rounded(height, depth, bevel).constant
        g2, g3 = saint_venant.rounded_gradient(height, depth, bevel, x2, x3)
    else:
        constant = saint_venant.rectangle_constant(height, depth)
        g2, g3 = saint_venant.rectangle_gradient(height, depth, x2, x3)
    return Boundary(
        x2,
        x3,
        (g3 * t2 - g2 * t3) / constant,
        _along(_transverse(x2, height, depth, bevel) / inertia_3, t2),
        _along(_transverse(x3, depth, height, bevel) / inertia_2, t3),
    )


def _outline(height: float, depth: float, bevel: float) -> tuple[Array, Array, Array, Array]:
    """Return x2, x3 and the unit tangent t2, t3 of outline points, counter-clockwise."""
    c2, c3 = depth / 2 - bevel, height / 2 - bevel
    up = np.linspace(0.0, 1.0, _SIDE)
    angle = np.linspace(0.0, np.pi / 2, _ARC)
    flat2, flat3 = np.full(_SIDE, depth / 2), np.full(_SIDE, height / 2)
    x2 = np.concatenate([flat2, c2 + bevel * np.cos(angle), c2 * (1 - up)])
    x3 = np.concatenate([c3 * up, c3 + bevel * np.sin(angle), flat3])
    t2 = np.concatenate([np.zeros(_SIDE), -np.sin(angle), -np.ones(_SIDE)])
    t3 = np.concatenate([np.ones(_SIDE), np.cos(angle), np.zeros(_SIDE)])
    back = slice(None, None, -1)  # mirror images run the other way round
    quarter = [
        (x2, x3, t2, t3),
        (-x2[back], x3[back], t2[back], -t3[back]),
        (-x2, -x3, -t2, -t3),
        (x2[back], -x3[back], -t2[back], t3[back]),
    ]
    a, b, c, d = (np.concatenate(part) for part in zip(*quarter, strict=True))
    return a, b, c, d


def _transverse(x: Array, width: float, size: float, bevel: float) -> Array:
    """Return Q / t (p,), mm^2, of the cut at distance x from the centre, along the direction of `size`."""
    centre = size / 2 - bevel
    v = np.clip(np.abs(x) - centre, 0.0, bevel)
    root = np.sqrt(np.maximum(bevel**2 - v**2, 0.0))
    ratio = v / bevel if bevel > 0 else np.ones_like(v)
    segment = 0.5 * (bevel**2 * np.arccos(np.clip(ratio, -1.0, 1.0)) - v * root)
    inner = width - 2 * bevel
    first = inner * ((size / 2) ** 2 - (centre + v) ** 2) / 2 + 2 / 3 * root**3 + 2 * centre * segment
    first += width * np.maximum(centre**2 - x**2, 0.0) / 2
    across = inner + 2 * root
    out: Array = np.divide(first, across, out=np.zeros_like(first), where=across > 1e-9 * width)
    return out


def _along(stress: Array, tangent: Array) -> Array:
    """Return the stress along the outline whose component in the direction of the force is `stress`.

    Where the outline turns across the force, the stress itself vanishes.
    """
    out: Array = np.divide(stress, tangent, out=np.zeros_like(stress), where=np.abs(tangent) > 1e-6)
    return out
