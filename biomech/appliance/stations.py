"""Where the stations of a wire lie: at its holds, at its bends, and evenly in between."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from biomech.mechanics.poses import Array

_SAME = 1e-6
_SHORTEST = 0.2
"""Length, mm, below which a piece of wire is not cut further for its own sake: it would be stiff beyond measure."""


@dataclass(frozen=True)
class Stop:
    """A place where a wire is held: s (mm) of its stations, the tooth, and its index in the list of holds."""

    at: tuple[float, ...]
    hold: int


def station_line(
    stops: list[Stop], kinks: Array, per_span: int, refine: int, spare: float, reach: tuple[float, float]
) -> Array:
    """Return station coordinates (n + 1,), rising, mm.

    Every stop and every kink between the ends is a station; each span between stops is cut into about
    `per_span * refine` elements, the wire inside a slot into `refine`. The wire runs at least over `reach` (s of its
    first and last tooth), and `spare` mm beyond.
    """
    fixed = sorted(s for stop in stops for s in stop.at)
    first, last = min(fixed[0], reach[0]) - spare, max(fixed[-1], reach[1]) + spare
    inside = [k for k in kinks if first + _SAME < k < last - _SAME]
    marks = _merge(np.array([first, *fixed, *inside, last]))
    line = [marks[:1]]
    for a, b in pairwise(marks):
        line.append(np.linspace(a, b, _pieces(a, b, stops, fixed, per_span, refine) + 1)[1:])
    return np.concatenate(line)


def _merge(marks: Array) -> Array:
    marks = np.sort(marks)
    out: Array = marks[np.concatenate([[True], np.diff(marks) > _SAME])]
    return out


def _pieces(a: float, b: float, stops: list[Stop], fixed: list[float], per_span: int, refine: int) -> int:
    """Return the number of elements between neighbouring marks."""
    middle = 0.5 * (a + b)
    if any(min(stop.at) <= middle <= max(stop.at) for stop in stops):
        return refine
    before = max((s for s in fixed if s <= middle), default=a)
    after = min((s for s in fixed if s >= middle), default=b)
    share = (b - a) / max(after - before, _SAME)
    most = refine * (b - a) / _SHORTEST
    return max(refine, round(min(per_span * refine * share, most)))


def index_of(line: Array, s: float) -> int:
    """Return the index of the station at s."""
    return int(np.argmin(np.abs(line - s)))
