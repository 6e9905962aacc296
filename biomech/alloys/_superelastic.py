"""Superelastic nickel-titanium: austenite turning to martensite and back under stress."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Self, final

import numpy as np

from biomech.alloys._base import COLDEST, WARMEST, Alloy, Array, Response, within
from biomech.alloys._transformation import Side, given_back, met, sides, turned
from biomech.errors import InputError


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

    All stresses are at `reference` C and rise by `slope` (MPa/K, Clausius-Clapeyron) with `temperature`, C; one state
    goes on in the law of another temperature (heated at one strain, the stress follows the lower line up). Below
    `springs_back` (the Af of the law) the lower line reaches below zero: martensite, wholly or in part, stays when the
    load is gone, turns back under the opposite load, and goes when the wire is warmed. **Approximations** there, from
    general knowledge of shape memory (one-dimensional models such as Brinson 1993, J Intell Mater Syst Struct 4:229;
    from memory, no measurement seen): the same slope holds for both lines; martensite of one sense never needs more
    load to turn to the other than austenite does to turn at all; moduli do not change with temperature; martensite
    without sense, which cold alone makes, and the R-phase, which many wires show between room and mouth, are left out.
    At `lowest` the austenite would turn without load: the law ends.

    Compression: stresses times `asymmetry`, length divided by it. `young` is that of austenite; `elastic_limit` the
    stress above which a set is likely, which the law does not follow.
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
    def springs_back(self) -> float:
        """Temperature, C, above which the wire is free of martensite without load (Af)."""
        return self._where_none_is_left(self.back_finish_stress)

    @property
    def lowest(self) -> float:
        """Temperature, C, at which the transformation would start without load: the law holds above."""
        return self._where_none_is_left(self.start_stress)

    def _where_none_is_left(self, stress: float) -> float:
        """Return the temperature, C, at which a stress at `reference` has fallen to zero."""
        return -273.15 if self.slope == 0 else self.reference - stress / self.slope

    @property
    def plateau_end(self) -> float:
        """Strain at which the last austenite has turned, in tension at this temperature."""
        pulled = self._sides[0]
        return (pulled.there.start + pulled.there.rise) / self.martensite + pulled.length

    @property
    def strain_limit(self) -> float:
        """Strain at which the wire breaks."""
        return self.fracture_strain

    def at(self, temperature: float) -> Self:
        """Return this alloy at `temperature`, C. InputError unless above `lowest` and within what a mouth may meet."""
        return replace(self, temperature=temperature)

    def _require_temperature(self, temperature: float) -> None:
        if self.lowest < COLDEST:
            within(temperature, COLDEST, WARMEST, self.name)
        elif not (math.isfinite(temperature) and self.lowest < temperature <= WARMEST):
            text = (
                f"must be above {self.lowest:.4g} C and at most {WARMEST:g} C; colder, the wire turns to martensite"
                " without load, which its law does not describe"
            )
            raise InputError(f"temperature = {temperature!r} C of alloy '{self.name}': {text}")

    def about_temperature(self) -> str:
        """Return what temperature does."""
        rise = f"its stresses are given at {self.reference:g} C and rise by {self.slope:g} MPa/K"
        holds = f"it holds from {max(self.lowest, COLDEST):.3g} to {WARMEST:g} C"
        return f"alloy '{self.name}': {rise}; {holds}; it springs back by itself above {self.springs_back:.3g} C (Af)"

    def warnings(self) -> list[str]:
        """See Alloy.warnings; and below Af that the wire stays bent until it is warmed."""
        found = super().warnings()
        if self.temperature <= self.springs_back:
            found.append(
                f"alloy '{self.name}': at {self.temperature:g} C the wire is below its Af ({self.springs_back:.3g} C)"
                " and does not spring back by itself at this temperature; it recovers when warmed. The law there is an"
                " approximation from memory, without R-phase"
            )
        return found

    def respond(self, strain: Array, state: Array) -> Response:
        """See Alloy.respond."""
        strain = np.asarray(strain, dtype=np.float64)
        shape = np.broadcast_shapes(strain.shape, state.shape[1:])
        share = state[1]
        if strain.shape != shape or share.shape != shape:
            strain, share = np.broadcast_to(strain, shape), np.broadcast_to(share, shape)
        kept = np.zeros((2, *shape))
        kept[0] = strain
        rows = self._active(strain, share)
        if rows is ... and shape:
            stress, tangent, kept[1] = self._transform(strain, share)
            return Response(stress, tangent, kept)
        stress, tangent = np.asarray(self.young * strain), np.full(shape, self.young)
        if rows is not None:
            stress[rows], tangent[rows], kept[1, ...][rows] = self._transform(strain[rows], share[rows])
        return Response(stress, tangent, kept)

    def stored(self, state: Array) -> Array:
        """Elastic energy, and what the martensite gives back on the lower line until the stress is gone."""
        out = self._elastic(state[0], state[1])
        for side, share in zip(self._sides, _parts(state[1]), strict=True):
            out = out + given_back(side, self._softer, share)
        return out

    def work(self, strain: Array, state: Array) -> Array:
        """Elastic energy gained, and the work of transformation on whichever line was followed, at one temperature."""
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
        first = min(side.there.first for side in self._sides)
        mask = (np.abs(strain) > first) | (share != 0)
        count = np.count_nonzero(mask)
        if count == 0:
            return None
        return mask if count < 0.7 * mask.size else ...

    def _transform(self, strain: Array, before: Array) -> tuple[Array, Array, Array]:
        """Return stress, tangent and signed share of martensite at `strain`, coming from the share `before`."""
        pulled, pressed = self._sides
        least = met(strain, pulled.there, pressed.back, pulled.there.first)
        most = met(strain, pulled.back, pressed.there, -pressed.there.first)
        signed = np.minimum(np.maximum(before, least), most)
        share = np.abs(signed)
        tangent = np.asarray(1 / (1 / self.young + self._softer * share))
        stress = (strain - self._transformed(signed, share)) * tangent
        moving = np.flatnonzero((signed != before) & (share > 0) & (share < 1))
        if len(moving):
            some = (np.ravel(values)[moving] for values in (signed, before, tangent, stress))
            tangent.reshape(-1)[moving] = self._flow(*some)
        return stress, tangent, signed

    def _flow(self, signed: Array, before: Array, stiffness: Array, stress: Array) -> Array:
        """Return the tangent (n,) of points on their way along a line, of elastic `stiffness`."""
        pulled, pressed = self._sides
        pulling, growing = signed > 0, signed > before
        rise = np.where(
            pulling,
            np.where(growing, pulled.there.rise, pulled.back.rise),
            np.where(growing, pressed.back.rise, pressed.there.rise),
        )
        length = np.where(pulling, pulled.length, pressed.length)
        strain = rise / stiffness + length + self._softer * np.where(pulling, stress, -stress)  # by share
        return np.asarray(rise / strain)

    def _path(self, strain: Array, old_strain: Array, old: Array) -> Array:
        """Return the work of points from `old_strain` with the signed share `old` of martensite to `strain`."""
        signed = self._transform(strain, old)[2]
        out = self._elastic(strain, signed) - self._elastic(old_strain, old)
        for side, before, share in zip(self._sides, _parts(old), _parts(signed), strict=True):
            up = share > before
            start, end = (np.where(up, side.there.stress(x), side.back.stress(x)) for x in (before, share))
            out += turned(side.length, self._softer, start, end, share - before)
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
        rise = self.slope * (self.temperature - self.reference)
        start, finish = self.start_stress + rise, self.finish_stress + rise
        back_start, back_finish = self.back_start_stress + rise, self.back_finish_stress + rise
        stresses = (start, finish, back_start, back_finish)
        return sides(stresses, self.length, self.asymmetry, self.young, self._softer)

    def _transformed(self, signed: Array, share: Array) -> Array:
        """Return the transformation strain (...) of a signed share, `share` being its size."""
        pulled, pressed = self._sides
        out: Array = (0.5 * (pulled.length + pressed.length)) * signed
        if pulled.length != pressed.length:
            out = out + (0.5 * (pulled.length - pressed.length)) * share
        return out

    def _elastic(self, strain: Array, signed: Array) -> Array:
        """Return the elastic energy (...), MPa."""
        share = np.abs(signed)
        bent = strain - self._transformed(signed, share)
        return np.asarray(0.5 * bent**2 / (1 / self.young + self._softer * share))


def _parts(signed: Array) -> tuple[Array, Array]:
    """Return the shares (...) of martensite of tension and of compression."""
    return np.maximum(signed, 0.0), np.maximum(-signed, 0.0)
