"""What the bench records: a curve of readings over deflection, there and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from biomech.bench.path import goes_back
from biomech.errors import InputError

Array = NDArray[np.float64]


def place(quantity: str, x: float, unit: str) -> str:
    """Return where on a path, in words and units for people: "twist 12.1 deg" of 0.211 rad."""
    value, shown = (float(np.degrees(x)), "deg") if unit == "rad" else (x, unit)
    return f"{quantity} {value:.3g} {shown}".rstrip()


@dataclass(frozen=True)
class Curve:
    """Readings (n,) at the values `x` (n,) of the path, in inside units (mm or rad; N or N.mm).

    `setup` and `wire` in words; `quantity`, `unit` name x and `reading_name`, `reading_unit` what is read. `leg` (n,)
    counts the stretches of the path from turn to turn: 0 while it first grows. `strain` (n,) is the largest
    fibre strain (NaN for an elastic alloy, which has no fibres), `also` (n,) further readings by name, `permanent` what
    deflection is left when the reading has come back to zero (None when it never did), `one_sided` whether wire and
    support part there. `warnings` in words. `temperature` (n,) in C. `share` (n,) is the peak stress over the elastic
    limit of an alloy taken as elastic (NaN for one with memory, whose law goes on past it).
    """

    setup: str
    wire: str
    quantity: str
    unit: str
    reading_name: str
    reading_unit: str
    one_sided: bool
    x: Array
    reading: Array
    leg: NDArray[np.int_]
    strain: Array
    also: Mapping[str, Array]
    permanent: float | None
    warnings: tuple[str, ...]
    temperature: Array
    share: Array

    def goes_back(self, leg: int) -> bool:
        """Return whether a stretch of the path leads back towards zero."""
        x, _ = self._stretch(leg)
        return goes_back(float(x[0]), float(x[-1]))

    @property
    def way_back(self) -> int | None:
        """The first stretch that leads back; None where the path only grows."""
        return next((leg for leg in map(int, np.unique(self.leg)) if self.goes_back(leg)), None)

    @property
    def changes_temperature(self) -> bool:
        """Whether the wire was warmed or cooled on its way."""
        return bool(np.ptp(self.temperature) > 0)

    @property
    def is_past(self) -> bool:
        """Whether a wire taken as elastic went past its limit."""
        return bool((self.share > 1).any())

    @property
    def past_from(self) -> float | None:
        """The value of x at which it first met its limit, between points linearly; None where it never did."""
        if not self.is_past:
            return None
        i = int(np.argmax(self.share > 1))
        return float(self.x[0] if i == 0 else self.x[i - 1] + self.part_before(i) * (self.x[i] - self.x[i - 1]))

    def part_before(self, i: int) -> float:
        """Return the part of the step to point i > 0 at which the stress meets the limit; it does so in that step."""
        before, after = self.share[i - 1], self.share[i]
        return float((1 - before) / (after - before))

    def on(self, leg: int, at: float) -> float:
        """Return the reading at deflection `at` on a stretch of the path, between its points linearly.

        Where wire and support have parted on the way back it is zero. InputError when that stretch does not exist or
        does not reach there.
        """
        x, y = self._stretch(leg)
        low, high = float(x.min()), float(x.max())
        if self.goes_back(leg) and self.one_sided and self.permanent is not None and 0 <= at < low:
            return 0.0
        if not low - 1e-12 <= at <= high + 1e-12:
            raise InputError(f"{self.quantity} {at:g}: that stretch of the path runs from {low:g} to {high:g}")
        order = np.argsort(x, kind="stable")
        return float(np.interp(at, x[order], y[order]))

    def first_at(self, reading: float) -> float | None:
        """Return the value of x at which the reading is first met while loading; None when it is not."""
        x, y = self._stretch(0)
        met = np.flatnonzero((y[1:] >= reading) & (y[:-1] < reading))
        if not len(met):
            return None
        i = int(met[0])
        return float(x[i] + (reading - y[i]) / (y[i + 1] - y[i]) * (x[i + 1] - x[i]))

    def stiffness(self) -> float:
        """Return the initial slope: reading over deflection at the first point after the start."""
        return float((self.reading[1] - self.reading[0]) / (self.x[1] - self.x[0]))

    def steepest(self) -> tuple[float, float]:
        """Return the largest slope of the loading curve, and where its line meets zero: behind a play, its size.

        The line goes through both ends of the steepest step.
        """
        x, y = self._stretch(0)
        slope = np.diff(y) / np.diff(x)
        i = int(np.argmax(slope))
        return float(slope[i]), float(x[i] - y[i] / slope[i])

    def offset_reading(self, offset: float) -> float | None:
        """Return where the loading curve meets the line of the initial slope shifted by `offset`; None if it does not.

        With 0.1 mm: the bending force of a wire without plateau in the published standard (ISO 15841:2014, excerpt
        seen in full).
        """
        x, y = self._stretch(0)
        gap = y - self.stiffness() * (x - x[0] - offset)
        below = np.flatnonzero((gap[1:] <= 0) & (gap[:-1] > 0))
        if not len(below):
            return None
        i = int(below[0])
        part = gap[i] / (gap[i] - gap[i + 1])
        return float(y[i] + part * (y[i + 1] - y[i]))

    @property
    def spent(self) -> float:
        """Work done on the wire and not given back over the whole path, N.mm (trapezoids)."""
        return float(np.trapezoid(self.reading, self.x))

    def _stretch(self, leg: int) -> tuple[Array, Array]:
        """Return x and reading of one stretch, with the point where it begins."""
        chosen = np.flatnonzero(self.leg == leg)
        if not len(chosen):
            what = "unloading" if leg == 1 else f"stretch {leg}"
            raise InputError(f"{what} was asked for but never made: the path has {int(self.leg.max()) + 1} stretch(es)")
        begin = max(0, int(chosen[0]) - 1)
        return self.x[begin : chosen[-1] + 1], self.reading[begin : chosen[-1] + 1]
