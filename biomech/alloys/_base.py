"""The family of wire alloys: what each must say about itself, and its uniaxial law.

A law is a rule for one point of a wire: stress from strain and memory. The memory is an array (k, ...): k numbers a
point, the first always the strain of the step before. Laws are exact along a straight path from there: the answer
does not depend on how a monotonic path is divided, nor on time.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass, replace
from typing import NamedTuple, Self, final

import numpy as np
from numpy.typing import NDArray

from biomech.errors import InputError
from biomech.registry import Registry

Array = NDArray[np.float64]
Range = tuple[float, float]


COLDEST, WARMEST = 0.0, 60.0
"""Temperatures a wire may meet in a mouth, C: iced to very hot drink (common practice, no source)."""


class Response(NamedTuple):
    """Stress (...) and tangent (...) in MPa, and the state (k, ...) a converged step would keep."""

    stress: Array
    tangent: Array
    state: Array


@dataclass(frozen=True)
class Alloy(ABC):
    """A wire alloy. Moduli and stresses in MPa.

    `young` and `elastic_limit` are the values used; the ranges are what has been published. `source` says
    where they come from, `seen` how far that was read; `note` is shown to the user as a warning where a value
    or the law itself is a stand-in (empty otherwise).
    """

    name: str
    young: float
    poisson: float
    elastic_limit: float
    young_range: Range
    elastic_limit_range: Range
    source: str
    seen: str
    note: str = ""

    def __post_init__(self) -> None:
        for key in ("young", "elastic_limit"):
            value = getattr(self, key)
            if not (math.isfinite(value) and value > 0):
                raise InputError(f"{key} = {value!r} MPa of alloy '{self.name}': must be finite and positive")
        if not 0.0 <= self.poisson <= 0.5:
            raise InputError(f"poisson = {self.poisson!r} of alloy '{self.name}': must be within 0 and 0.5")

    @property
    def is_linear(self) -> bool:
        """Whether stress is proportional to strain at every strain; sections then need no fibres."""
        return False

    @property
    def memory(self) -> int:
        """How many numbers a point remembers, k >= 1."""
        return 1

    @property
    def strain_limit(self) -> float:
        """Largest |strain| at which the law is meant to hold; infinite where none is known."""
        return math.inf

    @abstractmethod
    def respond(self, strain: Array, state: Array) -> Response:
        """Return stress and tangent at uniaxial `strain` (...), coming from `state` (k, ...), and the new state."""

    @abstractmethod
    def stored(self, state: Array) -> Array:
        """Return the energy (...) a point could give back, MPa = N.mm/mm^3; zero where it was never loaded."""

    @abstractmethod
    def work(self, strain: Array, state: Array) -> Array:
        """Return the work (...) done on a point on the straight path from `state` to `strain`, MPa. Exact."""

    @abstractmethod
    def in_shear(self) -> Self:
        """Return the equivalent law for shear stress and (engineering) shear strain.

        An approximation (von Mises): tau = sigma / sqrt 3, inelastic gamma = sqrt 3 times inelastic strain, and the
        elastic part with G = E / (2 (1 + nu)). Its `young` is G.
        """

    def start(self, shape: tuple[int, ...] = ()) -> Array:
        """Return the state (k, *shape) of points that have never been loaded."""
        return np.zeros((self.memory, *shape))

    def at(self, temperature: float) -> Self:
        """Return this alloy at `temperature`, C. InputError outside the range of the law."""
        within(temperature, COLDEST, WARMEST, self.name)
        return self

    def about_temperature(self) -> str:
        """Return a sentence on what temperature does to this alloy's law."""
        return f"the law of alloy '{self.name}' does not depend on temperature ({COLDEST:g} to {WARMEST:g} C)"

    def readings(self, state: Array) -> dict[str, Array]:
        """Return what a person may want to know of points (...) beside stress and strain, by name."""
        return {}

    def with_young(self, young: float) -> Self:
        """Return this alloy with another Young's modulus, MPa; InputError unless finite and positive."""
        return replace(self, young=young)

    def warnings(self) -> list[str]:
        """Return what the user must know: values outside the published range, stand-in laws."""
        found = [f"alloy '{self.name}': {self.note}"] if self.note else []
        if not self.is_linear:
            text = "bending and torsion beyond the elastic range are taken apart, as if each were alone"
            found.append(f"alloy '{self.name}': {text}")
        for key, text in (("young", "Young's modulus"), ("elastic_limit", "elastic limit")):
            value, (low, high) = getattr(self, key), getattr(self, f"{key}_range")
            if not low <= value <= high:
                outside = f"{text} {value:g} MPa is outside the published {low:g} to {high:g} MPa"
                found.append(f"alloy '{self.name}': {outside}")
        return found


@final
@dataclass(frozen=True)
class Elastic(Alloy):
    """Linear elastic at every strain; past `elastic_limit` the stress is only nominal, and reported so."""

    @property
    def is_linear(self) -> bool:
        """Always."""
        return True

    def respond(self, strain: Array, state: Array) -> Response:
        """Return (E strain, E, state): Hooke's law; the state is only the strain."""
        strain = np.asarray(strain, dtype=np.float64)
        return Response(self.young * strain, np.full_like(strain, self.young), strain[None])

    def stored(self, state: Array) -> Array:
        """E strain^2 / 2."""
        out: Array = 0.5 * self.young * state[0] ** 2
        return out

    def work(self, strain: Array, state: Array) -> Array:
        """Difference of the stored energies."""
        return self.stored(np.asarray(strain, dtype=np.float64)[None]) - self.stored(state)

    def in_shear(self) -> Self:
        """See Alloy.in_shear; exact here."""
        return replace(self, young=self.young / (2 * (1 + self.poisson)))


def within(temperature: float, low: float, high: float, name: str) -> None:
    """Raise InputError unless the temperature, C, is finite and within the range of alloy `name`."""
    if not (math.isfinite(temperature) and low <= temperature <= high):
        allowed = f"must be within {low:.4g} and {high:.4g} C"
        raise InputError(f"temperature = {temperature:.6g} C of alloy '{name}': {allowed}")


REGISTRY: Registry[Alloy] = Registry("alloy", "biomech.alloys")
"""Every alloy by its trade name."""
