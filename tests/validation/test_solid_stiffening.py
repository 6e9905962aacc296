"""Solid ligaments whose law stiffens: one-dimensional states by hand, and the springs as their thin limit."""

import numpy as np
import pytest

from biomech import solid
from biomech.ligaments import make_ligament
from biomech.solid.elements import EDGES
from biomech.solid.loaded import at_motion, under_wrench
from biomech.solid.mesh import SolidMesh
from biomech.solid.support import of_mesh
from biomech.tooth import make_tooth
from biomech.tooth.roots import Paraboloid
from biomech.tooth.support import respond

ROOT = Paraboloid(3.0, 3.5, 12.0)


def pad(law, side=2.0):
    """One square element of `law` between a root face at z = 0 and a socket face at z = thickness."""
    cube = np.array([[0, 0, 0], [2, 0, 0], [2, 2, 0], [0, 2, 0], [0, 0, 2], [2, 0, 2], [2, 2, 2], [0, 2, 2]])
    nodes = np.concatenate([cube, cube[EDGES].sum(axis=1) // 2])
    points = 0.5 * nodes * [side, side, law.thickness] - [0.5 * side, 0.5 * side, 0.0]
    root, socket = (np.flatnonzero(nodes[:, 2] == z) for z in (0, 2))
    mesh = SolidMesh(points, np.arange(20)[None], np.zeros(1, int), root, socket, socket, np.zeros((2, 1), int))
    return of_mesh(mesh, law, np.ones(3))


@pytest.mark.parametrize("strain, kilopascal", [(0.02, 1.0), (0.07, 3.5), (0.15, 19.5), (-0.15, -19.5)])
def test_stretched_pad(strain, kilopascal):
    """0.05/0.20 MPa, 7 %, sideways free (nu = 0): sigma = E1 e, then E1 e12 + E2 (e - e12) (by hand)."""
    law = make_ligament("bilinear", poisson=0.0)
    found = at_motion(pad(law), np.array([0.0, 0.0, -strain * law.thickness, 0.0, 0.0, 0.0]))
    assert found.wrench == pytest.approx([0.0, 0.0, -1e-3 * kilopascal * 4.0, 0.0, 0.0, 0.0], abs=1e-12)
    assert found.layer.normal == pytest.approx(1e-3 * kilopascal)
    assert found.layer.hydrostatic == pytest.approx(1e-3 * kilopascal / 3.0)


def test_thin_limit_is_the_spring_law():
    """The same strains in ever thinner layers: their ratio to the springs, extrapolated to t = 0 (computed)."""
    ratio = []
    for thickness in (0.05, 0.025):
        law = make_ligament("bilinear", poisson=0.3, thickness=thickness)
        q = thickness * np.array([0.05, 0.15, -0.02, 0.012, -0.004, 0.02])
        found = at_motion(solid.support(ROOT, law, fineness=0.75), q)
        spring = respond(ROOT.grown(0.5 * thickness).surface(16, 48), law, q)
        ratio.append(q @ found.wrench / (q @ spring.stress))
        assert q @ found.stiffness @ q == pytest.approx(q @ spring.tangent @ q, rel=0.01)  # a jump over the root
    assert ratio[1] == pytest.approx(1.0, abs=0.006)
    assert 2.0 * ratio[1] - ratio[0] == pytest.approx(1.0, abs=2e-3)


def test_published_set_under_crown_forces():
    """Upper incisor, Papageorgiou 2017 set: crown displacement at 0.39 N within 3 % of the springs at nu 0.30."""
    tooth, law = make_tooth(11), make_ligament("bilinear")
    bracket = tooth.landmark("bracket")
    force = np.array([0.0, 0.39, 0.0])
    wrench = np.concatenate([force, np.cross(bracket, force)])
    found = under_wrench(solid.support(tooth, law, fineness=0.75), wrench)
    assert found.wrench == pytest.approx(wrench, abs=1e-8)
    spring = respond(tooth.surface, law, found.motion)
    assert found.motion @ spring.stress == pytest.approx(found.motion @ wrench, rel=0.03)


def test_tangent_is_the_slope_and_motion_inverts_wrench():
    support = solid.support(ROOT, make_ligament("bilinear", poisson=0.45), fineness=0.5)
    loaded = under_wrench(support, np.array([0.2, 0.5, -0.3, 2.0, -1.0, 0.5]))
    back = at_motion(support, loaded.motion)
    assert back.wrench == pytest.approx(loaded.wrench, abs=1e-8)
    step = 1e-7 * np.array([1.0, -2.0, 0.5, 0.2, 0.1, -0.3])
    ahead, behind = (at_motion(support, loaded.motion + sign * step).wrench for sign in (1, -1))
    assert 0.5 * (ahead - behind) == pytest.approx(loaded.stiffness @ step, rel=1e-4, abs=1e-12)


def test_equal_moduli_are_linear():
    law = make_ligament("bilinear", young=0.1, second_young=0.1, poisson=0.49)
    support = solid.support(ROOT, law, fineness=0.5)
    q = np.array([0.05, 0.02, -0.01, 0.002, 0.003, -0.01])
    found = at_motion(support, q)
    assert found.wrench == pytest.approx(support.stiffness @ q, rel=1e-9)
    assert found.layer.hydrostatic == pytest.approx(solid.stresses(support, q).hydrostatic, rel=1e-9, abs=1e-12)
