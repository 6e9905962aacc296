"""Sections by shear fibres in torsion, against closed forms and the elastic-plastic stress function."""

from __future__ import annotations

import math

import numpy as np
import pytest
from laws import plateau

from biomech.section import Rectangular, Round, plastic_torque, shear_fibres
from biomech.wire.fibre_section import SHEAR, FibreSection

SECTIONS = [Rectangular(0.4826, 0.635), Rectangular(0.635, 0.4826), Rectangular(0.4826, 0.4826), Rectangular(0.25, 1.0), Rectangular(0.4826, 0.635, 0.1), Rectangular(0.5, 0.5, 0.25), Round(0.9)]  # fmt: skip
LABELS = [section.label() for section in SECTIONS]


def torque(section, twist):
    found = FibreSection(section, plateau())
    return found.respond(np.array([0, 0, 0, twist, 0, 0]), found.start())[0][3]


def yield_twist(section):
    """Return the twist rate of first yield: largest elastic shear stress at the limit."""
    law = plateau()
    return law.elastic_limit / math.sqrt(3) / np.max(section.boundary().torsion) / (law.young / 2.6 * section.torsion)


@pytest.mark.parametrize("section", SECTIONS, ids=LABELS)
@pytest.mark.parametrize("count", [4, SHEAR, 25])
def test_both_limits_are_exact(section, count):
    radius, area = shear_fibres(section, count)
    assert area @ radius**2 == pytest.approx(section.torsion, rel=1e-13)
    assert area @ radius == pytest.approx(plastic_torque(section), rel=1e-13)
    assert np.all(area > 0)
    assert np.max(radius) < np.max(section.boundary().torsion) * section.torsion


@pytest.mark.parametrize(("a", "b"), [(0.635, 0.4826), (0.5, 0.5), (1.0, 0.25)])
def test_sand_heap_of_a_rectangle(a, b):
    # T = tau b^2 (3 a - b) / 6 (Nadai; from memory), reached within 1 % at 10 times the twist of first yield
    limit = 600 / math.sqrt(3) * b * b * (3 * a - b) / 6
    for section in (Rectangular(a, b), Rectangular(b, a)):
        assert torque(section, 10 * yield_twist(section)) == pytest.approx(limit, rel=1e-2)
        assert torque(section, 1e3 * yield_twist(section)) == pytest.approx(limit, rel=1e-9)
        assert torque(section, 0.9 * yield_twist(section)) == pytest.approx(
            60e3 / 2.6 * section.torsion * 0.9 * yield_twist(section), rel=1e-12
        )


def test_sand_heap_of_rounded_corners():
    # twice the volume of the heap: slope 1 from the outline, summed over cells (computed)
    section = Rectangular(0.4826, 0.635, 0.1)
    n = 1500
    x = (np.arange(n) + 0.5) / n * section.depth / 2
    y = (np.arange(n) + 0.5)[:, None] / n * section.height / 2
    from_corner = np.hypot(np.maximum(x - section.depth / 2 + 0.1, 0), np.maximum(y - section.height / 2 + 0.1, 0))
    depth = np.minimum(np.minimum(section.depth / 2 - x, section.height / 2 - y), 1e9)
    corner = (x > section.depth / 2 - 0.1) & (y > section.height / 2 - 0.1)
    depth = np.where(corner, np.maximum(0.1 - from_corner, 0.0), depth)
    volume = 4 * depth.sum() * section.depth * section.height / 4 / n**2
    assert plastic_torque(section) == pytest.approx(2 * volume, rel=1e-4)


@pytest.mark.parametrize("ratio", [1.5, 2.0, 5.0])
def test_circle_between_the_limits(ratio):
    # T = 2 pi r^3 tau / 3 (1 - 1 / (4 x^3)) at x times the twist of first yield (textbook)
    section = Round(0.9)
    wanted = 2 * math.pi * 0.45**3 / 3 * 600 / math.sqrt(3) * (1 - 0.25 / ratio**3)
    assert torque(section, ratio * yield_twist(section)) == pytest.approx(wanted, rel=3e-3)


def elastic_plastic(a, b, twist, n=30):
    """Return the torque at unit shear modulus and yield stress: -laplace(phi) = 2 twist where |grad phi| < 1.

    The same as phi <= distance from the outline (elastic-plastic torsion as an obstacle problem; Duvaut and Lions,
    Inequalities in Mechanics and Physics; from memory). A quarter of a x b in cells, projected over-relaxation.
    """
    m = round(n * a / b)
    hx, hy = a / 2 / m, b / 2 / n
    x, y = (np.arange(m) + 0.5) * hx, (np.arange(n) + 0.5) * hy
    heap = np.minimum((a / 2 - x)[:, None], b / 2 - y)
    phi = np.zeros((m, n))
    weight = np.full((m, n), 2 / hx**2 + 2 / hy**2)  # less where a cell meets an axis of symmetry, more at the outline
    weight[0] -= 1 / hx**2
    weight[-1] += 1 / hx**2
    weight[:, 0] -= 1 / hy**2
    weight[:, -1] += 1 / hy**2
    red = np.add.outer(np.arange(m), np.arange(n)) % 2 == 0
    relax = 2 / (1 + math.sin(math.pi / (2.4 * n)))
    for _ in range(2000):
        before = phi
        for cells in (red, ~red):
            beside = np.zeros_like(phi)
            beside[1:] += phi[:-1] / hx**2
            beside[:-1] += phi[1:] / hx**2
            beside[:, 1:] += phi[:, :-1] / hy**2
            beside[:, :-1] += phi[:, 1:] / hy**2
            new = np.clip(phi + relax * ((beside + 2 * twist) / weight - phi), 0.0, heap)
            phi = np.where(cells, new, phi)
        if np.abs(phi - before).max() < 1e-8 * b:
            return 8 * phi.sum() * hx * hy
    raise AssertionError("no solution")


@pytest.mark.parametrize("a", [1.0, 1.3158, 2.0, 4.0])
def test_rectangle_between_the_limits(a):
    # the elastic-plastic stress function solved here on a grid (computed; its own error is 0.1 %)
    section = Rectangular(1.0, a)
    largest = np.max(section.boundary().torsion) * section.torsion
    radius, area = shear_fibres(section, SHEAR)
    errors = []
    for ratio in (0.5, 1.2, 1.5, 2.0, 3.0, 5.0):
        twist = ratio / largest
        ours = (area * radius) @ np.minimum(twist * radius, 1.0)
        errors.append(ours / elastic_plastic(a, 1.0, twist) - 1)
    assert abs(errors[0]) < 2e-3
    assert np.max(np.abs(errors)) < 0.02
