"""Superelastic nickel-titanium: austenite turning to martensite and back under stress."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple, Self, final

import numpy as np

from biomech.alloys._base import COLDEST, WARMEST, Alloy, Array, Response, within
from biomech.errors import InputError


class Side(NamedTuple):
    """Tension or compression at one temperature; MPa, but `length`, the transformation strain.

    The austenite turns between `start` and `finish`, back between `back_start` and `back_finish`.
    """

    start: float
    finish: float
    back_start: float
    back_finish: float
    length: float

    def back_stress(self, share: Array) -> Array:
        """Return the stress (...) on the lower line at `share` (...) of martensite."""
        return self.back_finish + (self.back_start - self.back_finish) * share


@final
@dataclass(frozen=True)
class Superelastic(Alloy):
    """Stress against strain of superelastic wire: strain = stress / E(x) + length x, x the share of martensite.

    Two lines bound the states that need no transformation: `start + (finish - start) x` above and
    `back_finish + (back_start - back_finish) x` below. Between them the wire is elastic; on them x follows (linear
    kinetics, as in Auricchio and Taylor 1997, Comput Methods Appl Mech Eng 143:175; from memory). 1/E(x) goes
    linearly from 1/`young` (austenite) to 1/`martensite` (Reuss). Beyond the upper plateau the martensite is elastic.

    Sub-loops: unloading from anywhere is elastic until the lower line is met, loading again until the upper line, so a
    loop inside returns to the point it left (return-point memory) and is as high as the full loop. Measured sub-loops
    are rounder. Not described: training, R-phase, heating by fast loading, set.

    All stresses are at `reference` C and rise by `slope` (MPa/K, Clausius-Clapeyron) with `temperature`, C. Below
    `lowest`, where the wire no longer springs back without load (the Af of the law), it refuses. Compression:
    stresses times `asymmetry`, length divided by it. `young` is that of austenite; `elastic_limit` the stress above
    which a set is likely, which the law does not follow.
    """

    martensite: float = 30e3
    start_stress: float = 0.0
    finish_stress: float = 0.0
    back_start_stress: float = 0.0
    back_finish_stress: float = 0.0
    length: float = 0.05
    reference: float = 37.0
    temperature: float = 37.0
    slope: float = 6.5
    asymmetry: float = 1.0
    fracture_strain: float = 0.12

    def __post_init__(self) -> None:
        super().__post_init__()
        self._require("martensite", 0 < self.martensite <= self.young, f"above 0 and at most {self.young:g} MPa")
        self._require("length", 0 < self.length < 1, "above 0 and below 1")
        self._require("slope", 0 <= self.slope < math.inf, "at least 0 MPa/K")
        self._require("asymmetry", 1 <= self.asymmetry < 2, "at least 1 and below 2")
        self._require_order()
        self._require_temperature(self.temperature)
        reach = self.plateau_end
        if not reach < self.fracture_strain:
            text = f"must be above the end of the plateau, strain {reach:.4g} at {self.temperature:g} C"
            raise InputError(f"fracture_strain = {self.fracture_strain!r} of alloy '{self.name}': {text}")

    def _require(self, key: str, good: bool, allowed: str) -> None:
        if not good:
            raise InputError(f"{key} = {getattr(self, key)!r} of alloy '{self.name}': must be {allowed}")

    def _require_order(self) -> None:
        """Raise InputError unless both lines rise and the lower stays below the upper."""
        up = (self.start_stress, self.finish_stress)
        back = (self.back_finish_stress, self.back_start_stress)
        self._require("finish_stress", up[0] <= up[1] < math.inf, f"at least start_stress, {up[0]:g} MPa")
        self._require("back_finish_stress", 0 < back[0] <= back[1], f"above 0, at most back_start_stress, {back[1]:g}")
        self._require("back_start_stress", back[1] < up[1], f"below finish_stress, {up[1]:g} MPa (hysteresis)")
        self._require("back_finish_stress", back[0] < up[0], f"below start_stress, {up[0]:g} MPa (hysteresis)")

    @property
    def memory(self) -> int:
        """The strain and the share of martensite, negative in compression."""
        return 2

    @property
    def lowest(self) -> float:
        """Temperature, C, at which the reverse transformation ends without load (Af)."""
        if self.slope == 0:
            return -273.15
        return self.reference - self.back_finish_stress / self.slope

    @property
    def plateau_end(self) -> float:
        """Strain at which the last austenite has turned, in tension at this temperature."""
        side = self._sides[0]
        return side.finish / self.martensite + side.length

    @property
    def strain_limit(self) -> float:
        """Strain at which the wire breaks."""
        return self.fracture_strain

    def at(self, temperature: float) -> Self:
        """Return this alloy at `temperature`, C. InputError unless above `lowest` and at most the warmest drink."""
        return replace(self, temperature=temperature)

    def _require_temperature(self, temperature: float) -> None:
        if self.lowest < COLDEST:
            within(temperature, COLDEST, WARMEST, self.name)
        elif not (math.isfinite(temperature) and self.lowest < temperature <= WARMEST):
            text = (
                f"must be above {self.lowest:.4g} C and at most {WARMEST:g} C; colder, the wire does not spring back by"
                " itself, which its law does not describe"
            )
            raise InputError(f"temperature = {temperature!r} C of alloy '{self.name}': {text}")

    def about_temperature(self) -> str:
        """Return what temperature does."""
        rise = f"its stresses rise by {self.slope:g} MPa/K"
        used = f"it is used at {self.temperature:g} C and holds from {max(self.lowest, COLDEST):.3g} to {WARMEST:g} C"
        return f"alloy '{self.name}': {rise}; {used}"

    def respond(self, strain: Array, state: Array) -> Response:
        """See Alloy.respond."""
        strain = np.asarray(strain, dtype=np.float64)
        shape = np.broadcast_shapes(strain.shape, state.shape[1:])
        strain, share = np.broadcast_to(strain, shape), np.broadcast_to(state[1], shape)
        stress, tangent, kept = np.empty(shape), np.full(shape, self.young), np.zeros((2, *shape))
        np.multiply(self.young, strain, out=stress)
        kept[0] = strain
        rows = self._active(strain, share)
        if rows is not None:
            stress[rows], tangent[rows], kept[1, ...][rows] = self._transform(strain[rows], share[rows])
        return Response(stress, tangent, kept)

    def stored(self, state: Array) -> Array:
        """Elastic energy, and what the martensite gives back on the lower line."""
        size, side, share = self._facing(state[0], state[1])
        back = _turned(side.length, self._softer, side.back_finish, side.back_stress(share), share)
        return self._elastic(size, side, share) + back

    def work(self, strain: Array, state: Array) -> Array:
        """Elastic energy gained, and the work of transformation on whichever line was followed."""
        strain = np.asarray(strain, dtype=np.float64)
        shape = np.broadcast_shapes(strain.shape, state.shape[1:])
        strain = np.broadcast_to(strain, shape)
        before, share = np.broadcast_to(state[0], shape), np.broadcast_to(state[1], shape)
        out: Array = np.asarray((0.5 * self.young) * (strain * strain - before * before))
        rows = self._active(strain, share)
        if rows is not None:
            out[rows] = self._path(strain[rows], before[rows], share[rows])
        return out

    def _active(self, strain: Array, share: Array) -> Any:
        """Return which points are or may become martensite: a mask, all of them, or None."""
        first = min(side.start for side in self._sides) / self.young
        mask = (np.abs(strain) > first) | (share != 0)
        count = np.count_nonzero(mask)
        if count == 0:
            return None
        return mask if count < 0.7 * mask.size else ...

    def _transform(self, strain: Array, before: Array) -> tuple[Array, Array, Array]:
        """Return stress, tangent and signed share of martensite at `strain`, coming from the share `before`."""
        size, side, before = self._facing(strain, before)
        least = self._share(size, side.start, side.finish, side.length)
        most = self._share(size, side.back_finish, side.back_start, side.length)
        share = np.minimum(np.maximum(before, least), most)
        softness = 1 / self.young + self._softer * share
        stress = (size - side.length * share) / softness
        rise = np.where(share > before, side.finish - side.start, side.back_start - side.back_finish)
        moving = (share != before) & (share > 0) & (share < 1)
        flow = rise * softness + side.length + self._softer * stress  # of the strain, by share
        tangent = np.where(moving, rise / flow, 1 / softness)
        return np.copysign(1.0, strain) * stress, tangent, np.copysign(share, strain)

    def _path(self, strain: Array, old_strain: Array, old: Array) -> Array:
        """Return the work of points from `old_strain` with the signed share `old` of martensite to `strain`."""
        signed = self._transform(strain, old)[2]
        size, side, share = self._facing(strain, signed)
        before = np.maximum(np.copysign(1.0, strain) * old, 0.0)
        old_size, old_side, old_share = self._facing(old_strain, old)
        up = share > before
        start, end = (
            np.where(up, side.start + (side.finish - side.start) * x, side.back_stress(x)) for x in (before, share)
        )
        out = self._elastic(size, side, share) - self._elastic(old_size, old_side, old_share)
        out += _turned(side.length, self._softer, start, end, share - before)
        crossed = np.copysign(1.0, strain) * old < 0  # martensite of the other sense has all turned back
        if crossed.any():
            lost = _turned(
                old_side.length, self._softer, old_side.back_finish, old_side.back_stress(old_share), old_share
            )
            out -= np.where(crossed, lost, 0.0)
        return out

    def readings(self, state: Array) -> dict[str, Array]:
        """Return the share of martensite (...)."""
        return {"martensite": np.abs(state[1])}

    def in_shear(self) -> Self:
        """See Alloy.in_shear; tension and compression count as in a pressure-dependent limit of Drucker and Prager.

        Stresses are their harmonic mean over sqrt 3, the transformation strain sqrt 3 times their mean.
        """
        stress = 2 * self.asymmetry / (1 + self.asymmetry) / math.sqrt(3)
        strain = math.sqrt(3) * (1 + 1 / self.asymmetry) / 2
        modulus = 1 / (2 * (1 + self.poisson))
        return replace(
            self, young=self.young * modulus, martensite=self.martensite * modulus,
            elastic_limit=self.elastic_limit / math.sqrt(3), start_stress=self.start_stress * stress,
            finish_stress=self.finish_stress * stress, back_start_stress=self.back_start_stress * stress,
            back_finish_stress=self.back_finish_stress * stress, length=self.length * strain, asymmetry=1.0,
            slope=self.slope * stress, fracture_strain=self.fracture_strain * math.sqrt(3),
        )  # fmt: skip

    @cached_property
    def _softer(self) -> float:
        """How much softer martensite is than austenite, 1/MPa."""
        return 1 / self.martensite - 1 / self.young

    @cached_property
    def _sides(self) -> tuple[Side, Side]:
        """Tension and compression at the temperature."""
        rise, a = self.slope * (self.temperature - self.reference), self.asymmetry
        pulled = Side(
            self.start_stress + rise, self.finish_stress + rise, self.back_start_stress + rise,
            self.back_finish_stress + rise, self.length,
        )  # fmt: skip
        start, finish, back_start, back_finish = (stress * a for stress in pulled[:4])
        pressed = Side(start, finish, back_start, back_finish, self.length / a)
        return pulled, pressed

    def _facing(self, strain: Array, share: Array) -> tuple[Array, Side, Array]:
        """Return the size of the strain, the limits on its side, and the share of martensite of that sense."""
        pulled, pressed = self._sides
        side = pulled
        if self.asymmetry != 1.0:
            both: Any = zip(pulled, pressed, strict=True)
            pressing = strain < 0
            side = Side(*(np.where(pressing, c, t) for t, c in both))
        return np.abs(strain), side, np.maximum(np.copysign(1.0, strain) * share, 0.0)

    def _share(self, size: Array, from_stress: float, to_stress: float, length: float) -> Array:
        """Return the share of martensite (...) on a line at strain `size` (...): the root of a quadratic."""
        rise = to_stress - from_stress
        linear = rise / self.young + length + self._softer * from_stress
        beyond = size - from_stress / self.young
        root = np.sqrt(np.maximum(linear * linear + (4 * self._softer) * rise * beyond, 0.0))
        out: Array = np.minimum(np.maximum(2 * beyond / (linear + root), 0.0), 1.0)
        return out

    def _elastic(self, size: Array, side: Side, share: Array) -> Array:
        """Return the elastic energy (...), MPa."""
        return np.asarray(0.5 * (size - side.length * share) ** 2 / (1 / self.young + self._softer * share))


def _turned(length: float, softer: float, start: Array | float, end: Array, share: Array) -> Array:
    """Return the work (...), MPa, of turning `share` while the stress goes linearly from `start` to `end`.

    Without the elastic energy: the integral of length stress + softer stress^2 / 2 by share.
    """
    square = (start * start + start * end + end * end) / 3
    return np.asarray(share * (length * 0.5 * (start + end) + 0.5 * softer * square))
