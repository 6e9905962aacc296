"""Closed-form stability: the sign of the tangent's pivots changes at the known load."""

import beams
import numpy as np
import pytest
from beams import Model, batch, cantilever, line, load

from biomech.attachments.tie import Tie
from biomech.mechanics.banded import negative_pivots
from biomech.mechanics.links import Linear, Links
from biomech.mechanics.network import Network
from biomech.mechanics.newton import Settings, newton

L = 10.0
COLUMN = np.array([1e6, 1e6, 1e6, 100.0, 20.0, 60.0])  # bends first about the outward axis
STRIP = np.array([1e6, 1e6, 1e6, 3.0, 2.0, 4000.0])  # high and narrow


def _negative_pivots(model):
    """Negative pivots of the exact tangent on the path followed from zero load, before any snap."""
    network = model.network
    run = newton(network, batch(model.start), network.start_states(), 1.0, Settings(tolerance=1e-8))
    assert run.ok[0]
    stresses = [r.stress for r in run.evaluation.responses]
    return negative_pivots(network.tangent(run.evaluation, run.poses, stresses)[0])


def _column(force):
    return cantilever(line(L, 8), COLUMN, load(8, (-force, 0, 0)))


def test_euler_column():
    # pi^2 EI/(K L)^2, K = 2 for a clamped foot and a free head (seen in full in textbooks)
    critical = np.pi**2 * COLUMN[4] / (2 * L) ** 2
    assert _negative_pivots(_column(0.995 * critical)) == 0
    assert _negative_pivots(_column(1.005 * critical)) == 1
    assert _negative_pivots(_column(3.1 * critical)) == 2  # the other axis is three times as stiff


@pytest.mark.parametrize("degrees", [10.0, 60.0, 120.0, 145.0])  # up to 3 times Euler's load
def test_the_buckled_column_is_the_elastica(degrees):
    # post-buckling of the elastica: tip angle a gives P/Pcr = (2 K(sin a/2)/pi)^2 (Euler; textbooks)
    from scipy.special import ellipk

    a = np.deg2rad(degrees)
    ratio = (2 * ellipk(np.sin(a / 2) ** 2) / np.pi) ** 2
    section = COLUMN * [2e-3, 2e-3, 2e-3, 1, 1, 1]
    force = ratio * np.pi**2 * COLUMN[4] / (2 * L) ** 2
    model = cantilever(line(L, 8), section, load(8, (-force, 0, 0)))
    e = model.solve(tolerance=1e-8)
    assert e.left[0]
    assert e.negative[0] == 0
    assert np.linalg.norm(beams.turn(e, model, -1)) == pytest.approx(a, rel=0.01)


def test_a_column_three_times_beyond_its_load_keeps_a_stiff_wire_stiff():
    # the same elastica with hardly any stretch or shear, which a descent along the energy alone cannot follow
    from scipy.special import ellipk

    a = np.deg2rad(148.0)
    force = (2 * ellipk(np.sin(a / 2) ** 2) / np.pi) ** 2 * np.pi**2 * COLUMN[4] / (2 * L) ** 2
    model = cantilever(line(L, 16), COLUMN, load(16, (-force, 0, 0)))
    e = model.solve(tolerance=1e-8)
    assert e.left[0] and e.negative[0] == 0
    assert np.linalg.norm(beams.turn(e, model, -1)) == pytest.approx(a, rel=2e-3)


@pytest.mark.parametrize("slack", [2.0, 5.0])
def test_a_buckling_column_is_caught_by_a_slack_rope(slack):
    model = _column(3.1 * np.pi**2 * COLUMN[4] / (2 * L) ** 2)
    n = model.network.frames
    rope = Links("rope", np.array([n]), np.array([n - 1]), Tie(np.array([slack]), np.array([20.0])), "section")
    network = Network(n + 1, np.append(model.network.fixed, True), [*model.network.groups, rope], model.network.loads)
    caught = Model(network, beams.join(model.start, model.start.take(np.array([n - 1]))))
    e = caught.solve(tolerance=1e-8)
    assert e.left[0] and e.negative[0] == 0
    moved = np.linalg.norm(e.poses.position[0, n - 1] - model.start.position[n - 1])
    pull = np.linalg.norm(e.frame_forces(1)[0, 0, :3])
    assert slack < moved < slack + 0.1
    # the tie's distance is rounded by 0.01 mm and it centres with 0.05 N/mm (see the tie)
    assert pull == pytest.approx(20.0 * (moved - slack - 0.01) + 0.05 * moved, rel=0.02)
    free = model.solve(tolerance=1e-8)
    assert np.linalg.norm(free.poses.position[0, -1] - model.start.position[-1]) > slack + 1
    assert e.energy[0] > free.energy[0]


def test_a_pulled_column_is_stable():
    assert _negative_pivots(_column(-50.0)) == 0


def _strip(force):
    return cantilever(line(L, 16), STRIP, load(16, (0, force, 0)))


def test_lateral_buckling_of_a_cantilever_strip():
    # Michell and Prandtl 1899: 4.0126 sqrt(EI2 GJ)/L^2 for a load at the tip's centre (constant from memory)
    critical = 4.0126 * np.sqrt(STRIP[4] * STRIP[3]) / L**2
    assert _negative_pivots(_strip(0.99 * critical)) == 0
    assert _negative_pivots(_strip(1.01 * critical)) == 1
    assert _negative_pivots(_strip(-1.01 * critical)) == 1


@pytest.mark.parametrize("part", [1.05, 1.3, 2.0])
def test_a_strip_that_buckles_sideways_ends_stable(part):
    critical = 4.0126 * np.sqrt(STRIP[4] * STRIP[3]) / L**2
    model = _strip(part * critical)
    e = model.solve(tolerance=1e-8)
    assert e.left[0] and e.negative[0] == 0
    assert np.abs(beams.displacement(e, model, -1)[2]) > 1.0


def _simply_supported(force, n=16):
    """Ends held sideways and against twist, free to turn; load at mid-span."""
    poses = line(L, n)
    supports = beams.springs("supports", [n + 1, n + 2], [0, n], 0.0)
    k = np.array(supports.law.stiffness)
    k[:, [1, 2, 3], [1, 2, 3]] = 1e5
    k[0, 0, 0] = 1e5
    groups = [beams.wire("wire", poses, np.arange(n + 1), STRIP), supports.with_law(Linear(k))]
    network = Network(n + 3, beams.fixed(n + 3, [n + 1, n + 2]), groups, load(n // 2, (0, force, 0)))
    return Model(network, beams.join(poses, poses.take(np.array([0, n]))))


def test_lateral_buckling_of_a_simply_supported_strip():
    # 16.94 sqrt(EI2 GJ)/L^2, load at the centre of mid-span (constant from memory)
    critical = 16.94 * np.sqrt(STRIP[4] * STRIP[3]) / L**2
    assert _negative_pivots(_simply_supported(0.99 * critical)) == 0
    assert _negative_pivots(_simply_supported(1.01 * critical)) == 1
