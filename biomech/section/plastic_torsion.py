"""Torsion beyond the elastic range: the twist of a section as a few shear fibres.

A fibre of radius r sees the shear strain r times the twist rate and gives r times its stress to the torque, so that a
section is a distribution of area over r. In the elastic range r is the gradient of Prandtl's stress function
(`biomech.section.torsion`): its second moment is J, its largest value gives first yield. Keeping this warping in the
plastic range would carry too much torque (it is an upper bound: 4 % for a square). Hence r is replaced by
r_max (r / r_max)^m and all areas by a common factor, such that J, first yield and the fully plastic torque (Nadai's
sand heap) are all exact; for a circle nothing changes. What is approximate is the curve between first yield and full
plasticity, and all of it for a law that is not ideally plastic; `tests/validation/test_fibre_torsion.py` compares with
the elastic-plastic stress function solved numerically.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from biomech.section import torsion as saint_venant
from biomech.section.base import Array, Section
from biomech.section.fibres import half_width


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
    """Return `count` shear fibres of a section: the Gauss rule of its distribution of radii."""
    radius, area = _distribution(section)
    radius, area = _gauss(*_both_limits(section, radius, area), count)
    for array in (radius, area):
        array.setflags(write=False)
    return ShearFibres(radius, area)


def _distribution(section: Section) -> tuple[Array, Array]:
    """Return |grad phi| (p,) and areas (p,) of many points of a quarter of the section."""
    t, w = np.polynomial.legendre.leggauss(24)
    t, w = (1 + t) / 2, w / 2
    height = np.repeat(t * section.height / 2, len(t))
    width = half_width(section, height)
    x2, x3 = np.tile(t, len(t)) * width, height
    area = 2 * section.height * np.repeat(w, len(t)) * np.tile(w, len(t)) * width
    if section.bevel == 0.0:
        g2, g3 = saint_venant.rectangle_gradient(section.height, section.depth, x2, x3)
    else:
        g2, g3 = saint_venant.rounded_gradient(section.height, section.depth, section.bevel, x2, x3)
    return np.hypot(g2, g3), area


def _both_limits(section: Section, radius: Array, area: Array) -> tuple[Array, Array]:
    """Return radii and areas bent so that J, first yield and the plastic torque are those of the section."""
    largest = float(np.max(np.abs(section.boundary().torsion))) * section.torsion
    share = np.minimum(radius / largest, 1.0)
    wanted = plastic_torque(section) * largest / section.torsion

    low, high = 0.1, 3.0  # the ratio below grows with the power
    for _ in range(60):
        power = 0.5 * (low + high)
        ratio = float(area @ share**power / (area @ share ** (2 * power)))
        low, high = (power, high) if ratio < wanted else (low, power)
    radius = largest * share**power
    return radius, area * (section.torsion / float(area @ radius**2))


def _gauss(radius: Array, area: Array, count: int) -> tuple[Array, Array]:
    """Return the Gauss rule (t,), (t,) of a discrete distribution (Lanczos with full reorthogonalisation)."""
    total = float(area.sum())
    basis = [np.sqrt(area / total)]
    diagonal, beside = [], []
    for _ in range(count):
        v = radius * basis[-1]
        diagonal.append(float(v @ basis[-1]))
        for _ in range(2):
            for q in basis:
                v = v - (v @ q) * q
        beside.append(float(np.linalg.norm(v)))
        basis.append(v / beside[-1])
    values, vectors = np.linalg.eigh(np.diag(diagonal) + np.diag(beside[:-1], 1) + np.diag(beside[:-1], -1))
    return values, total * vectors[0] ** 2
