"""Points of a cross-section that stand for its fibres: axial strain and bending.

The points give area and both second moments exactly (to rounding), bevel included, so that the elastic section is that
of the closed forms; moments of odd order vanish by symmetry.

What matters beyond the elastic range is how finely a front of yielding or transformation, a straight line in the
section, is resolved as it moves across. A product of Gauss rules with n x n points knows only n places of a front
parallel to a side. Here every point of a quarter of a rectangle has its own distance from either axis; equal areas,
mirrored to the four quarters. The 16 points a quarter that wires use were searched for the least error of the moment
of an ideal plateau over all directions of bending and curvatures of 1.1 to 8 times first yield; finer sets, to measure
them by, are lattices. Largest error for 0.019 x 0.025 in, about the axes and about any (61 directions, 25 curvatures,
other than those of the search): 64 points, 0.7 and 1.4 % (root mean square 0.4 %); with a bevel of 0.08 mm 0.7 and
1.9 % (0.4 %); Gauss, 64 points, 2.2 and 5.4 % (0.8 %), 100 points, 1.5 and 2.6 % (0.4 %). Round wires: rings, 64
points, 0.8 and 1.3 % (0.4 %). See `benchmarks/fibres.py`.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from biomech.errors import InputError
from biomech.section.base import Array, Section

USUAL = 16
"""Fibres of a quarter that wires use."""
_UP = (
    0.076, 0.099, 0.122, 0.223, 0.294, 0.330, 0.411, 0.484, 0.522, 0.603, 0.637, 0.718, 0.802, 0.853, 0.933, 0.942,
)  # fmt: skip
_OUT = (
    0.588, 0.142, 0.950, 0.474, 0.243, 0.905, 0.716, 0.084, 0.360, 0.637, 1.000, 0.453, 0.100, 0.901, 0.288, 0.700,
)  # fmt: skip
"""Searched points of a quarter: share of the area below, share of the half width; `_exact` draws them in by 6 %."""
_STEPS = {34: 25, 55: 39, 89: 65}
"""Points of a quarter on a lattice: its step, with the least error (searched)."""


class Fibres(NamedTuple):
    """Positions x2, x3 (f,) in mm and areas (f,) in mm^2."""

    x2: Array
    x3: Array
    area: Array


@lru_cache(maxsize=64)
def fibres(section: Section, quarter: int) -> Fibres:
    """Return the fibres of a section, `quarter` in each quarter of a rectangle, about as many in a round wire.

    Raises InputError unless `quarter` is one of the sets known: 16 (what wires use), 34, 55, 89.
    """
    known = [USUAL, *_STEPS]
    if quarter not in known:
        raise InputError(f"fibres a quarter = {quarter!r}: must be one of {', '.join(map(str, known))}")
    is_round = section.bevel == section.height / 2 == section.depth / 2
    return _exact(_rings(section, quarter) if is_round else _points(section, quarter), section)


def _points(section: Section, quarter: int) -> Fibres:
    """Points of equal area, each alone in its row and column, mirrored to the four quarters."""
    up, out = np.array(_UP), np.array(_OUT)
    if quarter != USUAL:
        index = np.arange(quarter)
        up, out = (index + 0.5) / quarter, (index * _STEPS[quarter] % quarter + 0.5) / quarter
    x3 = _rows(up, section)
    x2 = out * half_width(section, x3)
    sign2, sign3 = np.array([1, -1, 1, -1]), np.array([1, 1, -1, -1])
    area = np.full(4 * quarter, section.area / (4 * quarter))
    return Fibres(np.outer(sign2, x2).ravel(), np.outer(sign3, x3).ravel(), area)


def _rows(share: Array, section: Section) -> Array:
    """Return the heights x3 >= 0 below which lie these shares of the upper half of the section."""
    half = section.height / 2
    straight = np.linspace(0.0, half - section.bevel, 2)
    corner = half - section.bevel + section.bevel * np.sin(np.linspace(0.0, np.pi / 2, 500)[1:])
    x3 = np.concatenate([straight, corner]) if section.bevel else straight
    width = half_width(section, x3)
    below = np.append(0.0, np.cumsum(np.diff(x3) * (width[1:] + width[:-1]) / 2))
    out: Array = np.interp(share * below[-1], below, x3)
    return out


def half_width(section: Section, x3: Array) -> Array:
    """Return half the width (...), mm, of a section at the heights x3 (...), mm."""
    into = np.maximum(np.abs(x3) - (section.height / 2 - section.bevel), 0.0)
    out: Array = section.depth / 2 - section.bevel + np.sqrt(np.maximum(section.bevel**2 - into**2, 0.0))
    return out


def _rings(section: Section, quarter: int) -> Fibres:
    """Gauss rings in r^2, four times as many points on each, every other ring turned by half a space."""
    rings = round((0.9 * quarter) ** 0.5)
    t, w = np.polynomial.legendre.leggauss(rings)
    radius = section.bevel * np.sqrt((1 + t) / 2)
    turn = (np.arange(4 * rings) + 0.5 * (np.arange(rings) % 2)[:, None]) * np.pi / (2 * rings)
    area = np.broadcast_to((w / 2 * section.area / (4 * rings))[:, None], turn.shape)
    return Fibres((radius[:, None] * np.cos(turn)).ravel(), (radius[:, None] * np.sin(turn)).ravel(), area.ravel())


def _exact(raw: Fibres, section: Section) -> Fibres:
    """Scale areas and distances such that A, I2 and I3 are exact."""
    area = raw.area * (section.area / raw.area.sum())
    x2 = raw.x2 * np.sqrt(section.inertia_3 / (area @ raw.x2**2))
    x3 = raw.x3 * np.sqrt(section.inertia_2 / (area @ raw.x3**2))
    for array in (x2, x3, area):
        array.setflags(write=False)
    return Fibres(x2, x3, area)
