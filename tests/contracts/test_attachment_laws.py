"""Every attachment law: stress is the gradient of the energy, the tangent its derivative, no energy from a loop."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.attachments._parts import Sliding
from biomech.attachments.slot import FAR, Slot
from biomech.attachments.tie import Tie
from biomech.attachments.tube import RoundTube

N = np.ones(1)
FREE = Sliding(0 * N, 0 * N)
TIED = Sliding(300 * N, 0 * N)


def slot(closed=FAR, ligature=(1.0, 100.0), sliding=FREE, bevel=0.05):
    return Slot(0.5588 * N, closed * N, 0.4826 * N, 0.635 * N, bevel * N, 5e3 * N, ligature[0] * N, ligature[1] * N, sliding)


LAWS = {
    "slot": slot(),
    "slot closed and tied back": slot(0.7112, (0, 0), TIED),
    "round wire in a slot": Slot(0.5588 * N, FAR * N, 0.4 * N, 0.4 * N, 0.2 * N, 5e3 * N, 1 * N, 4 * N, FREE),
    "tube": RoundTube(0.05 * N, 5e3 * N, TIED),
    "tight tube": RoundTube(0 * N, 5e3 * N, FREE),
    "tie": Tie(0.1 * N, 50 * N),
    "tight tie": Tie(0 * N, 50 * N),
}
strains = st.lists(st.floats(-0.4, 0.4), min_size=6, max_size=6).map(lambda v: np.array([v]) * [1, 0.5, 0.5, 1, 1, 1] + 1.237e-3)


def _gradient(f, x, eps=1e-7):
    out = []
    for i in range(6):
        d = np.zeros((1, 6))
        d[0, i] = eps
        out.append((f(x + d) - f(x - d)) / (2 * eps))
    return np.stack(out, axis=-1)


@pytest.mark.parametrize("name", LAWS)
@settings(max_examples=60, deadline=None)
@given(x=strains)
def test_stress_is_the_gradient_of_the_energy(name, x):
    law = LAWS[name]
    stress = law.respond(x, law.start()).stress
    numeric = _gradient(lambda e: law.energy(e, law.start()), x)
    assert np.allclose(stress, numeric, atol=1e-4 * max(1.0, np.abs(stress).max()))


@pytest.mark.parametrize("name", LAWS)
@settings(max_examples=60, deadline=None)
@given(x=strains)
def test_tangent_lies_between_the_one_sided_slopes(name, x):
    law = LAWS[name]
    tangent = law.respond(x, law.start()).tangent[0]
    assert np.allclose(tangent, tangent.T)
    eps = 1e-7
    for i in range(6):
        d = np.zeros((1, 6))
        d[0, i] = eps
        here = law.respond(x, law.start()).stress
        right = (law.respond(x + d, law.start()).stress - here)[0] / eps
        left = (here - law.respond(x - d, law.start()).stress)[0] / eps
        slack = 1e-3 * max(1.0, np.abs(tangent).max())
        assert np.all(tangent[:, i] >= np.minimum(left, right) - slack)
        assert np.all(tangent[:, i] <= np.maximum(left, right) + slack)


@pytest.mark.parametrize("name", LAWS)
@settings(max_examples=30, deadline=None)
@given(x=strains, rate=strains)
def test_depth_rate_is_the_derivative_of_the_depths(name, x, rate):
    law, eps = LAWS[name], 1e-6
    numeric = (law.walls(x + eps * rate)[0] - law.walls(x - eps * rate)[0]) / (2 * eps)
    assert np.allclose(law.depth_rate(x, rate), numeric, atol=1e-5)


def test_a_wrong_slope_would_be_noticed():
    law, x, d, eps = LAWS["slot"], np.array([[0, 0, 0.08, 0.05, 0, 0.0]]), np.array([[0, 0, 1.0, 0, 0, 0]]), 1e-6
    numeric = (law.respond(x + eps * d, law.start()).stress - law.respond(x - eps * d, law.start()).stress)[0] / (2 * eps)
    right = law.respond(x, law.start()).tangent[0, :, 2]
    assert np.allclose(right, numeric, rtol=1e-6, atol=1e-3)
    assert not np.allclose(1.01 * right, numeric, rtol=1e-6, atol=1e-3)


def _play(height, depth, slot_height, bevel):
    """Largest rotation without contact at the upper and lower walls, found from the law itself by bisection."""
    law = Slot(*(v * N for v in (slot_height, FAR, height, depth, bevel, 1e3, 0.0, 0.0)), FREE)
    low, high = 0.0, np.pi / 2
    for _ in range(60):
        mid = 0.5 * (low + high)
        depth, _ = law.walls(np.array([[0, 0, 0, mid, 0, 0]]))
        low, high = (mid, high) if depth[0, :8].max() < 0 else (low, mid)
    return np.degrees(low)


IN = 25.4
PLAY = [  # slot, height, depth (in), degrees at corner radius 0, 0.001, 0.002, 0.003 in; computed from
    # h cos + b sin = S; the nominal column reproduces the published table (PMC4715034 Table 6, seen in full)
    (0.018, 0.016, 0.016, 7.70, 8.91, 10.58, 13.05),
    (0.018, 0.016, 0.022, 5.40, 5.96, 6.64, 7.49),
    (0.018, 0.017, 0.025, 2.32, 2.53, 2.77, 3.06),
    (0.022, 0.016, 0.022, 17.95, 20.02, 22.62, 25.99),
    (0.022, 0.017, 0.025, 12.48, 13.64, 15.03, 16.72),
    (0.022, 0.018, 0.025, 9.82, 10.72, 11.80, 13.12),
    (0.022, 0.019, 0.025, 7.24, 7.90, 8.69, 9.65),
    (0.022, 0.019, 0.026, 6.93, 7.53, 8.25, 9.10),
    (0.022, 0.020, 0.025, 4.75, 5.17, 5.68, 6.30),
    (0.022, 0.021, 0.025, 2.33, 2.54, 2.78, 3.08),
    (0.022, 0.0215, 0.028, 1.03, 1.11, 1.20, 1.31),
    (0.022, 0.019, 0.019, 9.96, None, None, None),
    (0.022, 0.019, 0.022, 8.37, None, None, None),
]


@pytest.mark.parametrize("row", PLAY, ids=lambda r: f"{r[1]}x{r[2]} in {r[0]}")
def test_torque_play_follows_from_the_corner_geometry(row):
    slot_height, height, depth, *published = row
    for radius, degrees in zip((0, 0.001, 0.002, 0.003), published, strict=True):
        if degrees is not None:
            assert _play(height * IN, depth * IN, slot_height * IN, radius * IN) == pytest.approx(degrees, abs=0.01)


def test_friction_dissipates_and_never_creates_energy():
    sliding = Sliding(0 * N, 0.15 * N)
    path = 0.05 * np.sin(np.linspace(0, 6 * np.pi, 400))
    stuck, work, last = np.zeros(1), 0.0, 0.0
    for x in path:
        drag = sliding.respond(np.array([x]), 2 * N, stuck)
        work += float(drag.force[0]) * (x - last)
        assert abs(drag.force[0]) <= 0.3 + 1e-12
        stuck, last = drag.stuck, x
    assert work > 0.0


@pytest.mark.parametrize("name", ["slot", "tube", "tight tube"])
@settings(max_examples=60, deadline=None)
@given(x=strains)
def test_tangent_and_coupling_are_the_slope_where_the_wire_slides(name, x):
    rubbing = Sliding(0 * N, 0.2 * N)
    law = replace(LAWS[name], sliding=rubbing)
    response = law.respond(x, law.start())
    if response.coupling is None:
        return
    eps = 1e-7
    whole = (response.tangent + response.coupling)[0]
    for i in range(6):
        d = np.zeros((1, 6))
        d[0, i] = eps
        right = (law.respond(x + d, law.start()).stress - response.stress)[0] / eps
        left = (response.stress - law.respond(x - d, law.start()).stress)[0] / eps
        slack = 1e-3 * max(1.0, np.abs(whole).max())
        assert np.all(whole[:, i] >= np.minimum(left, right) - slack)
        assert np.all(whole[:, i] <= np.maximum(left, right) + slack)


def test_what_presses_is_the_sum_of_walls_and_ligature():
    law, x = LAWS["slot"], np.array([[0, -0.01, 0.1, 0, 0, 0.0]])  # holder 0.01 mm inward of the wire
    depth, stiffness = law.walls(x)
    force = np.maximum(depth, 0) * stiffness
    assert law.normal(x, force)[0] == pytest.approx(force.sum() + law.ligature_force[0] + 0.01 * law.ligature_stiffness[0])
