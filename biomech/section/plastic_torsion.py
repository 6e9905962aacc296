"""Torsion beyond the elastic range: the twist of a section as a few shear fibres.

A fibre of radius r sees the shear strain r times the twist rate and gives r times its stress to the torque, so that a
section is a distribution of area over r. Any torque curve of an elastic, ideally plastic section is that of exactly one
distribution. Here its density is a quadratic in r between 0 and r_max, chosen such that four things are exact: J, first
yield (at r_max, the largest gradient of Prandtl's stress function), the fully plastic torque (Nadai's sand heap), and
how that is approached: the elastic cores along the ridges of the heap shrink with the square of the twist, which makes
the density at r = 0 the longer side less twice the corner radius (derived here). For a circle the density is 2 pi r and
all is exact. What remains approximate is the curve between first yield and full plasticity, at most 2 % low for
rectangles (`tests/validation/test_fibre_torsion.py`: elastic-plastic stress function solved numerically), and more than
that for a law far from ideally plastic, for which nothing was compared.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from biomech.section.base import Array, Section


class ShearFibres(NamedTuple):
    """Radii (t,) in mm and areas (t,) in mm^2: sum of area radius^2 is J, of area radius the plastic torque."""

    radius: Array
    area: Array


def plastic_torque(section: Section) -> float:
    """Return the fully plastic torque per unit shear yield stress, mm^3 (twice the volume of the sand heap).

    Sides a >= b and corner radius r: b^2 (3 a - b) / 6 - (8 - 2 pi) r^3 / 3; a circle is a = b = 2 r. (Nadai; from
    memory. The corners' share is derived: heaps over the parallel outlines inside.)
    """
    a, b = max(section.height, section.depth), min(section.height, section.depth)
    return b * b * (3 * a - b) / 6 - (8 - 2 * math.pi) * section.bevel**3 / 3


@lru_cache(maxsize=64)
def shear_fibres(section: Section, count: int) -> ShearFibres:
    """Return `count` >= 3 shear fibres of a section, at Gauss points between radius 0 and first yield."""
    largest = float(np.max(np.abs(section.boundary().torsion))) * section.torsion
    ridge = max(section.height, section.depth) - 2 * section.bevel
    second = section.torsion / largest**3 - ridge / 3
    first = plastic_torque(section) / largest**2 - ridge / 2
    linear, square = 48 * first - 60 * second, 80 * second - 60 * first
    t, w = np.polynomial.legendre.leggauss(count)
    t, w = (1 + t) / 2, w / 2
    area = largest * w * (ridge + linear * t + square * t * t)
    radius = largest * t
    for array in (radius, area):
        array.setflags(write=False)
    return ShearFibres(radius, area)
