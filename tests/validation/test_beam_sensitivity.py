"""Exact derivatives of an equilibrium against central differences; a batch against one at a time."""

from dataclasses import replace

import beams
import numpy as np
import pytest
from beams import Model, batch, benchmark_a, benchmark_c

from biomech.mechanics.equilibrium import equilibrium
from biomech.mechanics.network import Network
from biomech.mechanics.poses import rotation_log

MODEL = benchmark_c(2)
FINE = benchmark_c(4)
OVERLAY = 1  # number of the group of links


def _with(model, group, stiffness_factor=1.0, rest_change=0.0):
    groups = list(model.network.groups)
    law = groups[group].law
    law = replace(law, stiffness=law.stiffness * stiffness_factor, rest=law.rest + rest_change)
    groups[group] = groups[group].with_law(law)
    return Model(Network(model.network.frames, model.network.fixed, groups, model.network.loads), model.start)


def _difference(e, make, h=1e-4):
    """Central difference of all poses about `e`, as body twists (frames, 6)."""
    plus, minus = (make(s * h).solve(tolerance=3e-11).poses for s in (1, -1))
    dx = (plus.position - minus.position)[0]
    v = np.einsum("nji,nj->ni", e.poses.rotation[0], dx)
    turn = rotation_log(np.swapaxes(minus.rotation[0], -1, -2) @ plus.rotation[0])
    return np.hstack([v, turn]) / (2 * h)


def _agree(exact, numeric, allowed=1e-6):
    for part in (slice(0, 3), slice(3, 6)):
        scale = np.abs(numeric[:, part]).max()
        assert scale > 0
        assert np.abs(exact[:, part] - numeric[:, part]).max() < allowed * scale


def test_modulus():
    e = FINE.solve(tolerance=3e-11)
    rate = e.residual_rate({OVERLAY: e.stress(OVERLAY)[0]})  # dm/d(ln E) = m
    numeric = _difference(e, lambda h: _with(FINE, OVERLAY, stiffness_factor=1 + h))
    _agree(e.sensitivity(rate[None])[0], numeric)


@pytest.mark.parametrize("component", [3, 4, 5])  # twist, bending out of the plane and in it
def test_rest_shape(component):
    e = FINE.solve(tolerance=3e-11)
    law = FINE.network.groups[OVERLAY].law
    change = np.zeros_like(law.rest)
    change[12:16, component] = 0.1
    rate = e.residual_rate({OVERLAY: -np.einsum("nij,nj->ni", law.stiffness, change)})
    numeric = _difference(e, lambda h: _with(FINE, OVERLAY, rest_change=h * change))
    _agree(e.sensitivity(rate[None])[0], numeric)


def test_with_a_dead_load_and_large_rotations():
    model = benchmark_a(4, 300)
    e = model.solve(tolerance=3e-11)
    rate = e.residual_rate({0: e.stress(0)[0]})
    numeric = _difference(e, lambda h: _with(model, 0, stiffness_factor=1 + h))
    _agree(e.sensitivity(rate[None])[0], numeric)


@pytest.mark.parametrize("load", [{"force": (0, 3.0, 1.0), "follows": True}, {"moment": (20.0, 0, 40.0)}])
def test_with_a_load_without_potential(load):
    # the tangent is then not symmetric
    section = np.array([2e3, 2e3, 2e3, 80.0, 100.0, 150.0])
    model = beams.cantilever(beams.line(10.0, 4), section, beams.load(4, **load))
    e = model.solve(tolerance=3e-11)
    rate = e.residual_rate({0: e.stress(0)[0]})
    numeric = _difference(e, lambda h: _with(model, 0, stiffness_factor=1 + h))
    _agree(e.sensitivity(rate[None])[0], numeric)


def test_several_parameters_at_once():
    e = MODEL.solve()
    rates = np.stack([e.residual_rate({g: e.stress(g)[0]}) for g in range(4)])
    together = e.sensitivity(rates)
    assert together.shape == (4, MODEL.network.frames, 6)
    assert np.allclose(together[2], e.sensitivity(rates[2])[0], atol=1e-12)
    # scaling every stiffness alike changes nothing: all derivatives with respect to ln K add up to zero
    assert np.abs(together.sum(axis=0)).max() < 1e-9 * np.abs(together).max()


def test_a_batch_equals_one_at_a_time():
    factors = np.array([0.5, 0.8, 1.0, 1.3])
    groups = list(MODEL.network.groups)
    law = groups[OVERLAY].law
    many = replace(law, stiffness=law.stiffness * factors[:, None, None, None], rest=law.rest)
    groups[OVERLAY] = groups[OVERLAY].with_law(many)
    together = equilibrium(MODEL.network.replaced(groups), batch(MODEL.start, 4))
    assert together.converged.all()
    for i, factor in enumerate(factors):
        alone = _with(MODEL, OVERLAY, stiffness_factor=factor).solve()
        assert np.allclose(together.poses.position[i], alone.poses.position[0], atol=1e-8)
        assert together.energy[i] == pytest.approx(alone.energy[0], rel=1e-9)
        assert together.steps[i] == alone.steps[0]
