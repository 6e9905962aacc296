"""Points of a cross-section that stand for its fibres: axial strain and bending.

The points integrate area and both second moments exactly (to rounding), bevel included, so that the elastic section is
that of the closed forms; products of odd order vanish by symmetry. Beyond the elastic range the rule is Gauss's: the
error against an ideal plateau is in `benchmarks/README.md` and `tests/validation/test_fibre_bending.py`.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from biomech.section.base import Array, Section


class Fibres(NamedTuple):
    """Positions x2, x3 (f,) in mm and areas (f,) in mm^2."""

    x2: Array
    x3: Array
    area: Array


@lru_cache(maxsize=64)
def fibres(section: Section, rows: int) -> Fibres:
    """Return the fibres of a section, about `rows` across its height and as many across its depth.

    Rectangles: Gauss points over the height, and over the width at each of them. Round wires: Gauss rings, `rows` / 2
    of them, with `2 rows` points each.
    """
    raw = _rings(section, rows) if section.bevel == section.height / 2 == section.depth / 2 else raw_grid(section, rows)
    return _exact(raw, section)


def raw_grid(section: Section, rows: int) -> Fibres:
    """Return Gauss points of a rectangle whose corners may be rounded, not yet exact there.

    `rows` across the height, each as wide as the section.
    """
    t, w = np.polynomial.legendre.leggauss(rows)
    x3 = t * section.height / 2
    into = np.clip(np.abs(x3) - (section.height / 2 - section.bevel), 0.0, None)
    half = section.depth / 2 - section.bevel + np.sqrt(np.maximum(section.bevel**2 - into**2, 0.0))
    x2 = half[:, None] * t
    area = (w * section.height / 2 * half)[:, None] * w
    return Fibres(x2.ravel(), np.broadcast_to(x3[:, None], x2.shape).ravel(), area.ravel())


def _rings(section: Section, rows: int) -> Fibres:
    """Gauss rings in r^2 with equally spaced points, every other ring turned by half a space."""
    t, w = np.polynomial.legendre.leggauss(max(rows // 2, 2))
    count = 2 * rows
    radius = section.bevel * np.sqrt((1 + t) / 2)
    turn = (np.arange(count) + 0.5 * (np.arange(len(t)) % 2)[:, None]) * 2 * np.pi / count
    area = np.broadcast_to((w / 2 * np.pi * section.bevel**2 / count)[:, None], turn.shape)
    return Fibres((radius[:, None] * np.cos(turn)).ravel(), (radius[:, None] * np.sin(turn)).ravel(), area.ravel())


def _exact(raw: Fibres, section: Section) -> Fibres:
    """Scale areas and distances by what is missing (1e-3 at most, from rounded corners) for exact A, I2 and I3."""
    area = raw.area * (section.area / raw.area.sum())
    x2 = raw.x2 * np.sqrt(section.inertia_3 / (area @ raw.x2**2))
    x3 = raw.x3 * np.sqrt(section.inertia_2 / (area @ raw.x3**2))
    for array in (x2, x3, area):
        array.setflags(write=False)
    return Fibres(x2, x3, area)
