"""The bends put into a wire: what each is, as plain values.

Everything here is a function of s, the arc length along the wire's base curve from the midline (mm, s > 0 on
the patient's left). Signs: plain rotations (rad) about the wire's own axes a1 (along, from the patient's
right to the left end), a2 (outward), a3 (up); the anatomical words are translated elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, final

from biomech.errors import InputError

BEND_LENGTH = 0.5
"""Length of wire over which a V-bend is spread, mm, since plier tips are not points (common practice, no
source)."""
MIN_GAP = 0.05
"""Least wire between neighbouring slots, mm."""
_MAX_ANGLE, _MAX_TWIST, _MAX_STEP = math.radians(60.0), math.radians(180.0), 20.0


@final
@dataclass(frozen=True)
class SlotBends:
    """The wire where it passes one slot: |position - s| <= half_width, mm.

    out, up: first- and second-order steps, mm, along a2 and a3. rotation: first-order angle about a3; tip:
    second-order angle about a2; twist: third-order angle about a1, rad, applied in this order. Over the slot
    the wire has these values; between slots it goes over from one to the next, the offsets in a smooth curve
    (cubic, tangent to the wire in both slots), the twist evenly. A slot without bends returns the wire to its
    base curve; beyond the outermost slot it goes on as it leaves it. Raises InputError for values not finite
    or too large.
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
class ProgressiveTwist:
    """A twist growing evenly in s from `start` (rad about a1) at `first` to `end` at `last` (mm).

    To the far edge of a slot at `first` or `last` it stays as it is, then fades to zero over the span to the
    next slot; where there is none it stays. It adds to the twists of the slots.
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


def check_slots(slots: Sequence[SlotBends]) -> None:
    """Raise InputError unless the slots are in order and apart."""
    for a, b in pairwise(slots):
        gap = (b.s - b.half_width) - (a.s + a.half_width)
        if gap < MIN_GAP:
            raise InputError(
                f"slots at s = {a.s:.4g} and {b.s:.4g} mm leave {gap:.3g} mm of wire between them: must be "
                f"in order from the patient's right to the left and at least {MIN_GAP:g} mm apart"
            )


def _within(key: str, value: float, size: float, low: float | None = None) -> None:
    """Raise InputError unless `value` is finite and within -size (or `low`) and size."""
    floor = -size if low is None else low
    if not (math.isfinite(value) and floor <= value <= size):
        raise InputError(f"{key} = {value!r}: must be finite and within {floor:.4g} and {size:.4g}")
