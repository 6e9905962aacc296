"""Sections by fibres in bending, with the number of fibres that wires use, against closed forms.

Moment of an ideal plateau at x times the curvature of first yield: rectangle 1.5 - 0.5 / x^2 (limit design, textbook);
circle by integration (computed independently): table below. A second judge is in `test_alloy_outside.py`.
"""

from __future__ import annotations

import numpy as np
import pytest
from laws import plateau, superelastic

from biomech.alloys import REGISTRY
from biomech.section import Rectangular, Round, fibres, typical_bevel
from biomech.section.bevel import AREA_LOST, BENDING_LOST
from biomech.wire.fibre_section import FibreSection

SECTIONS = [
    Rectangular(0.4826, 0.635),
    Rectangular(0.4064, 0.5588, 0.06),
    Rectangular(0.4572, 0.4572),
    Round(0.4064),
    Round(1.0),
]
LABELS = [section.label() for section in SECTIONS]
RECTANGLE = [(2, 1.3750), (3, 1.4444), (5, 1.4800)]
CIRCLE = [(1.5, 1.34709), (2, 1.49366), (3, 1.60493), (5, 1.66390)]


def bend(section, law, ratio, axis):
    """Return moment over that of first yield at `ratio` times its curvature about axis 2 or 3."""
    size, inertia = (section.height, section.inertia_2) if axis == 2 else (section.depth, section.inertia_3)
    strain = np.zeros(6)
    strain[2 + axis] = ratio * law.elastic_limit / law.young / (size / 2)
    found = FibreSection(section, law)
    forces, _, _ = found.respond(strain, found.start())
    return forces[2 + axis] / (law.elastic_limit * inertia / (size / 2))


@pytest.mark.parametrize("section", SECTIONS, ids=LABELS)
@pytest.mark.parametrize("quarter", [16, 34, 55, 89])
def test_fibres_have_the_moments_of_the_section(section, quarter):
    x2, x3, area = fibres(section, quarter)
    assert area.sum() == pytest.approx(section.area, rel=1e-14)
    assert area @ x3**2 == pytest.approx(section.inertia_2, rel=1e-13)
    assert area @ x2**2 == pytest.approx(section.inertia_3, rel=1e-13)
    for odd in (area @ x2, area @ x3, area @ (x2 * x3)):
        assert abs(odd) < 1e-15
    assert np.all(area > 0)
    assert np.max(np.abs(x2)) < section.depth / 2
    assert np.max(np.abs(x3)) < section.height / 2


@pytest.mark.parametrize(("ratio", "wanted"), RECTANGLE)
@pytest.mark.parametrize("axis", [2, 3])
def test_ideal_plateau_of_a_rectangle(ratio, wanted, axis):
    assert bend(Rectangular(0.4826, 0.635), plateau(), ratio, axis) == pytest.approx(wanted, rel=6e-3)


@pytest.mark.parametrize(("ratio", "wanted"), CIRCLE)
@pytest.mark.parametrize("axis", [2, 3])
def test_ideal_plateau_of_a_circle(ratio, wanted, axis):
    assert bend(Round(0.4064), plateau(), ratio, axis) == pytest.approx(wanted, rel=7e-3)


@pytest.mark.parametrize("section", [Rectangular(0.4826, 0.635), Rectangular(0.4826, 0.635, 0.08), Round(0.4064)])
def test_ideal_plateau_bent_any_way(section):
    # against a sum over a fine grid of cells, independent of the fibres (computed)
    from biomech.section.fibres import half_width

    law, found = plateau(), FibreSection(section, plateau())
    x3 = (np.arange(600) + 0.5) / 600 * section.height - section.height / 2
    width = half_width(section, x3)
    x2 = np.linspace(-1, 1, 1201)[1::2] * width[:, None]
    cell = np.broadcast_to((section.height / 600 * 2 * width / 600)[:, None], x2.shape)
    errors = []
    for angle in np.linspace(0, np.pi / 2, 10):
        for ratio in (1.2, 1.5, 2, 3, 5, 8):
            way = np.array([np.cos(angle) / section.height, np.sin(angle) / section.depth])
            reach = float(section.max_bending_strain(*way))
            k2, k3 = way * ratio * law.elastic_limit / law.young / reach
            stress = np.clip(law.young * (k2 * x3[:, None] - k3 * x2), -law.elastic_limit, law.elastic_limit)
            fine = np.array([np.sum(stress * x3[:, None] * cell), -np.sum(stress * x2 * cell)])
            got = found.respond(np.array([0, 0, 0, 0, k2, k3]), found.start())[0][4:]
            errors.append(np.linalg.norm(got - fine) / np.linalg.norm(fine))
    assert max(errors) < 0.02
    assert np.sqrt(np.mean(np.square(errors))) < 0.006


@pytest.mark.parametrize("ratio", [1.5, 2, 3, 5])
def test_springback_of_a_rectangle(ratio):
    # let go, a bent section keeps k - M / (E I) (textbook; unloading is elastic)
    section, law = Rectangular(0.4826, 0.635), plateau()
    found, yield_curvature = FibreSection(section, law), law.elastic_limit / law.young / (section.height / 2)
    strain = np.zeros(6)
    strain[4] = ratio * yield_curvature
    forces, _, state = found.respond(strain, found.start())
    strain[4] -= forces[4] / (law.young * section.inertia_2)
    left, _, _ = found.respond(strain, state)
    assert abs(left[4]) < 1e-9 * forces[4]
    assert strain[4] / yield_curvature == pytest.approx(ratio - 1.5 + 0.5 / ratio**2, abs=8e-3)


def test_a_superelastic_section_comes_back_and_pays_for_the_way():
    found = FibreSection(Rectangular(0.4064, 0.5588), REGISTRY.get("nickel-titanium, superelastic"))
    state, work, forces = found.start(), 0.0, []
    for curvature in (0.1, 0.3, 0.1, 0.0):
        strain = np.array([0, 0, 0, 0, curvature, 0.0])
        work += float(found.energy(strain, state))
        force, _, state = found.respond(strain, state)
        forces.append(force[4])
    assert forces[3] == pytest.approx(0.0, abs=1e-12)
    assert 0.2 * forces[0] < forces[2] < 0.8 * forces[0]
    assert work > 0


def test_asymmetry_moves_the_neutral_axis():
    # more stress in compression: bent without stretching, the section is pressed
    found = FibreSection(Rectangular(0.4064, 0.5588), superelastic(asymmetry=1.3))
    force, tangent, _ = found.respond(np.array([0, 0, 0, 0, 0.15, 0.0]), found.start())
    assert force[0] < -1.0
    assert abs(tangent[0, 4]) > 1.0
    np.testing.assert_allclose(tangent, tangent.T, atol=1e-9)


@pytest.mark.parametrize("size", [(0.4064, 0.5588), (0.4826, 0.635), (0.5461, 0.7112)])
def test_bevels_of_real_wires(size):
    # with the published loss of area the loss of bending stiffness is that published too
    # (Rucker and Kusy 2002, AJODO 122:528; abstract only)
    sharp = Rectangular(*size)
    for lost in AREA_LOST:
        real = Rectangular(*size, typical_bevel(*size, area_lost=lost))
        assert real.area / sharp.area == pytest.approx(1 - lost, rel=1e-12)
        for key in ("inertia_2", "inertia_3"):
            assert BENDING_LOST[0] < 1 - getattr(real, key) / getattr(sharp, key) < BENDING_LOST[1]
