"""A deformable tooth in its ligament and bone: series compliance, limits, and a beam by closed form."""

import dataclasses
from functools import lru_cache

import numpy as np
import pytest

from biomech import solid
from biomech.errors import InputError, SolveError
from biomech.ligaments import make_ligament
from biomech.solid import whole as whole_module
from biomech.solid.blocks import block, together
from biomech.solid.fronts import Fronts
from biomech.solid.kernel import assemble, elasticity, element_stiffness, strain_matrices
from biomech.solid.whole import Elastic, at_bracket, tooth_compliance, whole
from biomech.tooth import make_tooth
from biomech.tooth.roots import Paraboloid

COARSE = 0.5
TOOTH = make_tooth(21)


def rigid(law):
    return at_bracket(solid.support(TOOTH, law, fineness=COARSE).compliance, TOOTH)


@lru_cache
def deformable(law):
    return whole(TOOTH, law, fineness=COARSE)


@lru_cache
def own_compliance():
    return tooth_compliance(TOOTH, fineness=COARSE, ligament=linear(0.05, 0.30))


def linear(young, poisson):
    return make_ligament("linear", young=young, poisson=poisson)


def test_cantilever_of_two_blocks():
    """Timoshenko's beam, nu = 0: F L^3 / 3 E I + F L / (5/6 G A) (textbook, from memory)."""
    x, y, z = (np.linspace(0.0, size, 2 * n + 1) for size, n in ((5.0, 6), (1.0, 2), (1.0, 2)))
    half = np.stack(np.meshgrid(x, y, z, indexing="ij"), axis=-1)
    part, numbers = together([block(half, 0), block(half + np.array([5.0, 0.0, 0.0]), 1)])
    assert len(part.hexes) == 48 and numbers[0].max() < len(part.points) < 2 * len(half.reshape(-1, 3))
    stiffness = element_stiffness(strain_matrices(part.points, part.hexes), elasticity(2000.0, 0.0))
    fronts = Fronts(part.points, part.hexes, stiffness, np.flatnonzero(part.points[:, 0] == 0.0))
    end = np.flatnonzero(part.points[:, 0] == 10.0)
    load = np.zeros((len(part.points), 3))
    load[end, 2] = 1.0 / len(end)
    move = fronts.solve(load)[end, 2].mean()
    assert move == pytest.approx(1000.0 / (3.0 * 2000.0 / 12.0) + 10.0 / (5.0 / 6.0 * 1000.0), rel=0.003)


def test_fronts_solve_the_assembled_system():
    mesh = solid.support(Paraboloid(3.0, 3.5, 12.0), linear(0.5, 0.49), fineness=COARSE).mesh
    stiffness = element_stiffness(strain_matrices(mesh.points, mesh.hexes), elasticity(0.5, 0.49))
    load = np.random.default_rng(0).normal(size=(len(mesh.points), 3, 2))
    found = Fronts(mesh.points, mesh.hexes, stiffness, mesh.fixed).solve(load)
    assert (found[mesh.fixed] == 0.0).all()
    left = (assemble(mesh.hexes, stiffness, len(mesh.points)) @ found.reshape(-1, 2)).reshape(load.shape) - load
    left[mesh.fixed] = 0.0
    assert np.abs(left).max() < 1e-9
    with pytest.raises(SolveError, match="not held or not positive definite about"):
        Fronts(mesh.points, mesh.hexes, stiffness, mesh.fixed[:0])


def test_rigid_limit_is_the_rigid_root(monkeypatch):
    """With a tooth a thousand times stiffer the body adds nothing: the two models share ligament, root and socket."""
    hard = {body: Elastic(1e3 * m.young, m.poisson) for body, m in whole_module.HARD.items()}
    monkeypatch.setattr(whole_module, "HARD", hard)
    law = linear(0.68, 0.45)
    scale = np.sqrt(np.diag(rigid(law)))
    away = (whole(TOOTH, law, fineness=COARSE).compliance - rigid(law)) / np.outer(scale, scale)
    assert np.abs(away).max() < 2e-4


@pytest.mark.parametrize("young, poisson, bound", [(0.68, 0.45, 0.001), (0.2, 0.47, 0.001), (0.68, 0.49, 0.006)])
def test_tooth_and_ligament_add_in_series(young, poisson, bound):
    """Compliance at the bracket = rigid tooth in its ligament + the tooth itself, the latter from another ligament.

    To 0.1 % for published sets up to nu 0.47; at 0.49 the pressure moves to the apex, and the root bends a little more.
    """
    law = linear(young, poisson)
    own, full = own_compliance(), deformable(law)
    predicted = rigid(law) + own
    assert np.diag(predicted)[:3] == pytest.approx(np.diag(full.compliance)[:3], rel=bound)
    assert np.linalg.eigvalsh(own)[0] > 0.0


def test_own_compliance_of_a_stout_tooth():
    """Case P as a tooth (crest radius 3.9 mm, crown 9 mm wide): 0.21 um/N in an earlier model of ours (computed)."""
    radius = 3.9 * np.sqrt(14.5 / 13.0)
    shape = dataclasses.replace(TOOTH.anatomy, md_cervix=2 * radius, bl_cervix=2 * radius, md_crown=9.0, bl_crown=9.0)
    stout = dataclasses.replace(TOOTH, anatomy=shape, root_length=14.5, roots=(Paraboloid(radius, radius, 14.5),))
    bracket = stout.crown.facial(1.0 - stout.bracket_height / stout.crown_length) * [-1.0, 1.0, -1.0]
    stout = dataclasses.replace(stout, landmarks={"bracket": bracket})
    assert 1e3 * tooth_compliance(stout, fineness=COARSE)[1, 1] == pytest.approx(0.21, abs=0.02)


def test_bone_adds_compliance_and_the_balance_holds():
    law = linear(0.68, 0.49)
    bare, full = deformable(law), whole(TOOTH, law, bone=3.0, fineness=COARSE)
    more = full.compliance - bare.compliance
    assert np.linalg.eigvalsh(more)[0] > 0.0
    assert np.diag(more)[1] < 0.1 * np.diag(bare.compliance)[1]
    one = solid.support(TOOTH, law, fineness=COARSE)
    load = np.array([0.0, 1.0, 0.0, 0.0, 0.0, 0.0])
    lever = np.cross(TOOTH.landmark("bracket"), load[:3])
    plain = solid.stresses(one, one.motion(np.concatenate([load[:3], lever])))
    for found in (bare.stresses(load), full.stresses(load)):
        assert found.percentile(found.normal, 0.95) == pytest.approx(plain.percentile(plain.normal, 0.95), rel=0.1)


def test_wrong_input():
    with pytest.raises(InputError, match=r"tooth 21: bone = -1.0 mm.*allowed: 0 \(rigid\) to 20 mm"):
        whole(TOOTH, linear(0.1, 0.3), bone=-1.0)
    with pytest.raises(InputError, match=r"tooth 21: fineness = 9.*allowed: 0.5 to 3"):
        whole(TOOTH, linear(0.1, 0.3), fineness=9)
