"""The bends put into a wire: what each is, and the offset and twist they add along the wire.

Everything here is a function of s, the arc length along the wire's base curve from the midline (mm, s > 0 on
the patient's left). Signs: plain rotations (rad) about the wire's own axes a1 (along, from the patient's
right to the left end), a2 (outward), a3 (up); the anatomical words are translated elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, NamedTuple, final

import numpy as np
from numpy.typing import NDArray

from biomech.errors import InputError

Array = NDArray[np.float64]

BEND_LENGTH = 0.5
"""Length of wire over which a sharp bend is spread, mm, since plier tips are not points (common practice, no
source)."""
_MAX_ANGLE, _MAX_TWIST, _MAX_STEP = math.radians(60.0), math.radians(180.0), 20.0


@final
@dataclass(frozen=True)
class SlotBends:
    """The wire where it passes one slot: |position - s| <= half_width, mm.

    out, up: first- and second-order steps, mm, along a2 and a3. rotation: first-order angle about a3; tip:
    second-order angle about a2; twist: third-order angle about a1, rad. Over the slot the wire has these
    values, between slots it goes over from one to the next: straight for offsets, evenly for the twist. A
    slot without bends returns the wire to its base curve. Raises InputError for values not finite or too
    large.
    """

    s: float
    half_width: float
    out: float = 0.0
    up: float = 0.0
    rotation: float = 0.0
    tip: float = 0.0
    twist: float = 0.0

    def __post_init__(self) -> None:
        _within("slot s", self.s, math.inf)
        _within("slot half_width", self.half_width, _MAX_STEP, 0.0)
        for key in ("out", "up"):
            _within(f"slot {key}", getattr(self, key), _MAX_STEP)
        for key in ("rotation", "tip"):
            _within(f"slot {key}", getattr(self, key), _MAX_ANGLE)
        _within("slot twist", self.twist, _MAX_TWIST)


@final
@dataclass(frozen=True)
class VBend:
    """A bend at s: the wire at greater s is turned by `angle` (rad) against the wire at smaller s.

    plane "vertical": about a2 (a positive angle sends the further part down); "horizontal": about a3 (a
    positive angle sends it outward). Spread over BEND_LENGTH as an arc that touches both straight legs.
    """

    s: float
    angle: float
    plane: Literal["vertical", "horizontal"] = "vertical"

    def __post_init__(self) -> None:
        _within("V-bend s", self.s, math.inf)
        _within("V-bend angle", self.angle, _MAX_ANGLE)
        if self.plane not in ("vertical", "horizontal"):
            raise InputError(f"V-bend plane = '{self.plane}': must be 'vertical' or 'horizontal'")


@final
@dataclass(frozen=True)
class StepBend:
    """A step at s: the wire at greater s lies `out` (along a2) and `up` (along a3) mm off the wire before.

    The slanting part between the two opposite bends takes `length` mm of the base curve.
    """

    s: float
    out: float = 0.0
    up: float = 0.0
    length: float = 2 * BEND_LENGTH

    def __post_init__(self) -> None:
        _within("step bend s", self.s, math.inf)
        _within("step bend out", self.out, _MAX_STEP)
        _within("step bend up", self.up, _MAX_STEP)
        _within("step bend length", self.length, _MAX_STEP, BEND_LENGTH)


@final
@dataclass(frozen=True)
class ProgressiveTwist:
    """A twist growing evenly in s from `start` (rad about a1) at `first` to `end` at `last`, in mm.

    Outside it fades to zero over the span to the next slot, or stays as it is where there is none. It adds to
    the twists of the slots.
    """

    first: float
    last: float
    start: float
    end: float

    def __post_init__(self) -> None:
        for key in ("first", "last"):
            _within(f"progressive twist {key}", getattr(self, key), math.inf)
        for key in ("start", "end"):
            _within(f"progressive twist {key}", getattr(self, key), _MAX_TWIST)
        if not self.first < self.last:
            raise InputError(
                f"progressive twist from s = {self.first:g} to {self.last:g} mm: must run from the patient's "
                "right to the left"
            )


class Course(NamedTuple):
    """A straight line with rounded corners: value = start + slope (s - origin) + sum of the corners' turns.

    `at` (c,) are the corners, mm, `turn` (c,) the changes of slope there, each spread over BEND_LENGTH.
    """

    start: float
    slope: float
    origin: float
    at: Array
    turn: Array

    def value(self, s: Array) -> Array:
        """Return the value (...), mm, at s (...)."""
        x = s[..., None] - self.at
        half = BEND_LENGTH / 2
        corner = np.where(np.abs(x) < half, (x + half) ** 2 / (2 * BEND_LENGTH), np.maximum(x, 0.0))
        out: Array = self.start + self.slope * (s - self.origin) + corner @ self.turn
        return out

    def rate(self, s: Array) -> Array:
        """Return the slope (...) at s (...)."""
        part = np.clip((s[..., None] - self.at) / BEND_LENGTH + 0.5, 0.0, 1.0)
        out: Array = self.slope + part @ self.turn
        return out

    def corners(self) -> Array:
        """Return where the corners that do turn begin and end, mm."""
        at = self.at[np.abs(self.turn) > 1e-12]
        return np.concatenate([at - BEND_LENGTH / 2, at + BEND_LENGTH / 2])


def course(
    slots: Sequence[SlotBends], values: Array, slopes: Array, steps: Sequence[tuple[float, float, float]]
) -> Course:
    """Return the course through `values` (n,) mm with `slopes` (n,) at the slots, plus steps (s, length, mm).

    `slots` are in order of s. The straight piece over each slot reaches half a bend beyond it, so that the
    whole slot is free of bends. Steps at s < 0 shift the part before them, so the midline stays put.
    """
    origin = slots[0].s if slots else 0.0
    start = float(values[0]) if slots else 0.0
    slope = float(slopes[0]) if slots else 0.0
    at: list[float] = []
    turn: list[float] = []
    if slots:
        centre = np.array([slot.s for slot in slots])
        reach = np.array([slot.half_width for slot in slots]) + BEND_LENGTH / 2
        low, high = values - slopes * reach, values + slopes * reach
        gap = centre[1:] - reach[1:] - (centre[:-1] + reach[:-1])
        # slots too close for a bend have none between them (see check_slots)
        between = np.divide(low[1:] - high[:-1], gap, out=np.zeros_like(gap), where=gap > 1e-6)
        at += [*(centre[:-1] + reach[:-1]), *(centre[1:] - reach[1:])]
        turn += [*(between - slopes[:-1]), *(slopes[1:] - between)]
    for s, length, amount in steps:
        at += [s - length / 2, s + length / 2]
        turn += [amount / length, -amount / length]
        start -= amount if s < 0 else 0.0
    return Course(start, slope, origin, np.array(at), np.array(turn))


def check_slots(slots: Sequence[SlotBends]) -> None:
    """Raise InputError unless the slots are in order and leave room for the bends between them."""
    for a, b in pairwise(slots):
        gap = (b.s - b.half_width) - (a.s + a.half_width)
        straight = (a.out, a.up) == (b.out, b.up) and not any((a.rotation, a.tip, b.rotation, b.tip))
        least = 0.0 if straight else 2 * BEND_LENGTH
        if gap < max(least, 1e-3):
            why = "in order, without overlap" if straight else f"at least {least:g} mm apart for the bend"
            raise InputError(
                f"slots at s = {a.s:.4g} and {b.s:.4g} mm leave {gap:.3g} mm of wire between them: must be {why}"
            )


class TwistCourse(NamedTuple):
    """Piecewise linear twist (rad): each row of nodes (mm) and values is interpolated, and the rows added."""

    nodes: tuple[Array, ...]
    values: tuple[Array, ...]

    def value(self, s: Array) -> Array:
        """Return the twist (...), rad, at s (...)."""
        total = np.zeros_like(s)
        for nodes, values in zip(self.nodes, self.values, strict=True):
            total = total + np.interp(s, nodes, values)
        return total

    def corners(self) -> Array:
        """Return where the rate of twist changes, mm."""
        found = []
        for nodes, values in zip(self.nodes, self.values, strict=True):
            rate = np.concatenate([[0.0], np.diff(values) / np.diff(nodes), [0.0]])
            found.append(nodes[np.abs(np.diff(rate)) > 1e-12])
        return np.concatenate(found) if found else np.zeros(0)


def twist_course(slots: Sequence[SlotBends], progressive: Sequence[ProgressiveTwist]) -> TwistCourse:
    """Return the twist along the wire: constant over each slot, even between slots, plus the progressive."""
    nodes, values = [], []
    if slots:
        nodes.append(np.array([e for t in slots for e in (t.s - t.half_width, t.s + t.half_width)]))
        values.append(np.array([t.twist for t in slots for _ in (0, 1)]))
    for twist in progressive:
        before = [t.s + t.half_width for t in slots if t.s + t.half_width < twist.first][-1:]
        after = [t.s - t.half_width for t in slots if t.s - t.half_width > twist.last][:1]
        nodes.append(np.array([*before, twist.first, twist.last, *after]))
        values.append(np.array([*(0.0 for _ in before), twist.start, twist.end, *(0.0 for _ in after)]))
    return TwistCourse(tuple(nodes), tuple(values))


def _within(key: str, value: float, size: float, low: float | None = None) -> None:
    """Raise InputError unless `value` is finite and within -size (or `low`) and size."""
    floor = -size if low is None else low
    if not (math.isfinite(value) and floor <= value <= size):
        raise InputError(f"{key} = {value!r}: must be finite and within {floor:.4g} and {size:.4g}")
