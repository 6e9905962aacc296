"""The bends a wire can carry, as plain values. Rotations are right-handed about the wire's frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from biomech.errors import InputError

Order = Literal["first", "second", "third"]
Plane = Literal["vertical", "horizontal"]

MAX_ANGLE = np.pi / 3
"""Bends beyond this angle, rad, are refused as mistakes (common practice, no source)."""
MAX_STEP = 5.0
"""Steps beyond this, mm, are refused likewise."""


@dataclass(frozen=True)
class Bend:
    """A bend at the slot whose centre is at `s` (mm).

    order "first": the wire turned by `angle` about a3 (positive: the left-hand part outward) and stepped
    outward by `step`; "second": turned by `angle` about a2 (positive: the left-hand part down) and stepped up
    by `step`; "third": twisted by `angle` about a1 (positive: the outward face turns up), without a step.
    `angle` in rad, `step` in mm. Raises InputError for an unknown order or an implausible amount.
    """

    s: float
    order: Order
    angle: float = 0.0
    step: float = 0.0

    def __post_init__(self) -> None:
        if self.order not in ("first", "second", "third"):
            raise InputError(f"bend order '{self.order}': known are 'first', 'second', 'third'")
        require("bend s", self.s, np.inf, "mm")
        require("bend angle", self.angle, MAX_ANGLE, "rad")
        require("bend step", self.step, MAX_STEP, "mm")
        if self.order == "third" and self.step != 0.0:
            raise InputError(f"bend step = {self.step!r} mm: a third-order bend is a twist and has no step")


@dataclass(frozen=True)
class VBend:
    """A kink at `s` (mm), anywhere on the wire: all of it beyond (larger s) is turned by `angle`, rad.

    plane "vertical": about a2 (positive: left-hand part down); "horizontal": about a3 (positive: outward).
    Raises InputError for an unknown plane or an implausible angle.
    """

    s: float
    angle: float
    plane: Plane = "vertical"

    def __post_init__(self) -> None:
        if self.plane not in ("vertical", "horizontal"):
            raise InputError(f"V bend plane '{self.plane}': known are 'vertical', 'horizontal'")
        require("V bend s", self.s, np.inf, "mm")
        require("V bend angle", self.angle, MAX_ANGLE, "rad")


@dataclass(frozen=True)
class ProgressiveTwist:
    """A twist about a1 growing linearly in s from `start` at the slot `s_start` to `end` at `s_end`; rad, mm.

    Raises InputError for an implausible angle or twice the same slot.
    """

    s_start: float
    s_end: float
    start: float
    end: float

    def __post_init__(self) -> None:
        for key in ("s_start", "s_end"):
            require(f"progressive twist {key}", getattr(self, key), np.inf, "mm")
        for key in ("start", "end"):
            require(f"progressive twist {key}", getattr(self, key), MAX_ANGLE, "rad")
        if self.s_start == self.s_end:
            raise InputError(f"progressive twist: both ends are at s = {self.s_end:g} mm, must be two slots")


def require(key: str, value: float, largest: float, unit: str) -> None:
    """Raise InputError unless `value` is finite and at most `largest` in magnitude."""
    if not (np.isfinite(value) and abs(value) <= largest):
        limit = "" if largest == np.inf else f", at most {largest:.4g} {unit} in magnitude"
        raise InputError(f"{key} = {value!r} {unit}: must be finite{limit}")
