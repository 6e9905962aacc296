"""The family of wire alloys: what each must say about itself, and its uniaxial law."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass, replace
from typing import Any, NamedTuple, Self, final

import numpy as np
from numpy.typing import NDArray

from biomech.errors import InputError
from biomech.registry import Registry

Array = NDArray[np.float64]
Range = tuple[float, float]


class Response(NamedTuple):
    """Stress (...) and tangent (...) in MPa, and the state a converged step would keep."""

    stress: Array
    tangent: Array
    state: Any


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

    @abstractmethod
    def respond(self, strain: Array, state: Any) -> Response:
        """Return stress and tangent at uniaxial `strain` (...), coming from `state`, and the new state."""

    def start(self) -> Any:
        """Return the state of a wire that has never been loaded."""
        return None

    def with_young(self, young: float) -> Self:
        """Return this alloy with another Young's modulus, MPa; InputError unless finite and positive."""
        return replace(self, young=young)

    def warnings(self) -> list[str]:
        """Return what the user must know: values outside the published range, stand-in laws."""
        found = [f"alloy '{self.name}': {self.note}"] if self.note else []
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

    def respond(self, strain: Array, state: Any) -> Response:
        """Return (E strain, E, state): Hooke's law, without memory."""
        strain = np.asarray(strain, dtype=np.float64)
        return Response(self.young * strain, np.full_like(strain, self.young), state)


REGISTRY: Registry[Alloy] = Registry("alloy", "biomech.alloys")
"""Every alloy by its trade name."""
