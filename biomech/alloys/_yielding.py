"""Metals that yield: a concave stress-strain curve with kinematic hardening."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Self, final

import numpy as np

from biomech.alloys._base import Alloy, Array, Response
from biomech.errors import InputError


@final
@dataclass(frozen=True)
class Yielding(Alloy):
    """Elastic-plastic with memory: a bundle of elastic, ideally plastic strands beside an elastic one.

    `curve` lists the corners (strain, stress in MPa) of the first loading, the first on the line of `young`; beyond
    the last corner the slope is `hardening`, MPa. The strands (overlay model: Besseling 1958, J Appl Mech 25:529; from
    memory) follow that curve exactly, and unloading follows it doubled (Masing): the Bauschinger effect is full, i.e.
    hardening is kinematic; repeated equal cycles repeat themselves, without softening. Tension and compression are
    alike. Return mapping is exact: every strand just clips its stress.
    """

    curve: tuple[tuple[float, float], ...] = ()
    hardening: float = 0.0
    fracture_strain: float = math.inf

    def __post_init__(self) -> None:
        super().__post_init__()
        strain, stress = _columns(self.curve, self.name)
        slopes = [*np.diff(stress, prepend=0.0) / np.diff(strain, prepend=0.0), self.hardening]
        if abs(slopes[0] / self.young - 1) > 1e-9:
            text = f"starts with {slopes[0]:g} MPa; must start with Young's modulus, {self.young:g} MPa"
            raise InputError(f"curve of alloy '{self.name}': {text}")
        if not all(a > b for a, b in pairwise(slopes)) or self.hardening < 0:
            text = ", ".join(f"{slope:g}" for slope in slopes)
            raise InputError(f"curve of alloy '{self.name}': slopes {text} MPa must fall and not be negative")

    @property
    def memory(self) -> int:
        """The strain and one plastic strain a strand."""
        return 1 + len(self.curve)

    @property
    def strain_limit(self) -> float:
        """Strain at which the wire breaks."""
        return self.fracture_strain

    @cached_property
    def strands(self) -> tuple[Array, Array]:
        """(stiffness (n,) MPa, yield strain (n,)) of the strands that yield."""
        strain, stress = _columns(self.curve, self.name)
        slopes = np.append(np.diff(stress, prepend=0.0) / np.diff(strain, prepend=0.0), self.hardening)
        stiffness: Array = slopes[:-1] - slopes[1:]
        return stiffness, strain

    def respond(self, strain: Array, state: Array) -> Response:
        """See Alloy.respond."""
        strain = np.asarray(strain, dtype=np.float64)
        stress, tangent = self.hardening * strain, np.full(strain.shape, self.hardening)
        kept = np.empty((self.memory, *np.broadcast_shapes(strain.shape, state.shape[1:])))
        kept[0] = strain
        for i, (stiffness, limit) in enumerate(zip(*self.strands, strict=True), 1):
            trial = strain - state[i]
            elastic = np.clip(trial, -limit, limit)
            np.subtract(strain, elastic, out=kept[i, ...])
            stress = stress + stiffness * elastic
            tangent = tangent + stiffness * (elastic == trial)
        return Response(stress, tangent, kept)

    def stored(self, state: Array) -> Array:
        """Elastic energy of all strands."""
        out = 0.5 * self.hardening * state[0] ** 2
        for i, stiffness in enumerate(self.strands[0], 1):
            out = out + 0.5 * stiffness * (state[0] - state[i]) ** 2
        return np.asarray(out)

    def work(self, strain: Array, state: Array) -> Array:
        """Stored energy gained and what the strands lost by yielding."""
        new = self.respond(strain, state).state
        lost = sum(k * y * np.abs(new[i] - state[i]) for i, (k, y) in enumerate(zip(*self.strands, strict=True), 1))
        return np.asarray(self.stored(new) - self.stored(state) + lost)

    def readings(self, state: Array) -> dict[str, Array]:
        """Return the set (...): the strain at which a point let go on its own, elastically, would be free of stress."""
        return {"set": np.asarray(np.tensordot(self.strands[0], state[1:], axes=1) / self.young)}

    def with_young(self, young: float) -> Self:
        """Return this alloy with another Young's modulus, MPa; plastic strains at each stress stay."""
        return self._mapped(young, 1.0, 1.0)

    def in_shear(self) -> Self:
        """See Alloy.in_shear."""
        return self._mapped(self.young / (2 * (1 + self.poisson)), 1 / math.sqrt(3), math.sqrt(3))

    def _mapped(self, young: float, stress: float, strain: float) -> Self:
        """Return the law with another modulus, stresses and plastic strains multiplied."""
        if not (math.isfinite(young) and young > 0):
            raise InputError(f"young = {young!r} MPa of alloy '{self.name}': must be finite and positive")
        curve = tuple((s * stress / young + (e - s / self.young) * strain, s * stress) for e, s in self.curve)
        slope = self.hardening
        if slope:
            slope = 1 / (1 / young + strain / stress * (1 / slope - 1 / self.young))
        return replace(
            self, young=young, curve=curve, hardening=slope, elastic_limit=self.elastic_limit * stress,
            fracture_strain=self.fracture_strain * strain,
        )  # fmt: skip


def yielding(
    elastic: Alloy,
    exponent: float,
    *,
    reach: float = 0.02,
    hardening: float = 0.005,
    source: str,
    seen: str,
    note: str,
) -> Yielding:
    """Return an elastic alloy's metal with its yield: a rounded curve through 0.2 % of set at `elastic_limit`.

    Set = 0.002 (stress / elastic limit)^exponent (Ramberg and Osgood 1943, NACA TN 902; from memory) up to the set
    `reach`, by chords, within 2 % of the stress; beyond, the slope is `hardening` times Young's modulus. `source`
    and `seen` say where the exponent comes from, `note` is shown as a warning.
    """
    sets = np.array([1e-4, 5e-4, 2e-3, 7e-3, reach])
    stress = elastic.elastic_limit * (sets / 0.002) ** (1 / exponent)
    strain = stress / elastic.young + np.append(0.0, sets[1:])
    return Yielding(
        f"{elastic.name}, yielding", elastic.young, elastic.poisson, elastic.elastic_limit, elastic.young_range,
        elastic.elastic_limit_range, f"{elastic.source}; {source}", f"{elastic.seen}; {seen}", note,
        curve=tuple(zip(strain.tolist(), stress.tolist(), strict=True)), hardening=hardening * elastic.young,
    )  # fmt: skip


def _columns(curve: tuple[tuple[float, float], ...], name: str) -> tuple[Array, Array]:
    """Return strain and stress of a curve; InputError unless both are positive and grow."""
    table = np.asarray(curve, dtype=np.float64).reshape(-1, 2)
    steps = np.diff(table, axis=0, prepend=0.0)
    if not len(table) or not np.isfinite(table).all() or (steps[:, 0] <= 0).any() or (steps[:, 1] < 0).any():
        raise InputError(f"curve = {curve!r} of alloy '{name}': needs corners of growing strain and stress")
    return table[:, 0], table[:, 1]
