"""No law creates energy, and its tangent and answer do not depend on how it is asked (property-based).

What a point could give back is `stored`; the first and second laws of thermodynamics ask that it grows by no more than
the work done (Clausius and Duhem). Round a closed path of a new wire the work is then never negative.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from laws import bilinear, plateau, superelastic, walk

from biomech.alloys import REGISTRY

NITI = ("nickel-titanium, superelastic", "nickel-titanium, heat-activated")
LAWS = dict(REGISTRY.items()) | {
    "superelastic set": superelastic(),
    "superelastic set, soft martensite": superelastic(martensite=25e3, asymmetry=1.3),
    "superelastic, level plateaux": superelastic(start_stress=560.0, finish_stress=560.0, back_start_stress=250.0, back_finish_stress=250.0),
    "ideal plateau": plateau(),
    "bilinear": bilinear(),
}  # fmt: skip
LAWS |= {f"{name}, {t:g} C": LAWS[name].at(t) for name in NITI for t in (0.0, 5.0, 10.0, 20.0, 60.0)}
LAWS |= {"superelastic set, soft martensite, cold": superelastic(martensite=25e3, asymmetry=1.3, temperature=1.0)}
LAWS |= {f"{name}, shear": law.in_shear() for name, law in LAWS.items()}
ANY, SEED = st.sampled_from(sorted(LAWS)), st.integers(0, 2**32 - 1)
SLACK = 1e-11


def paths(seed, steps=10, points=60):
    """Return strains (steps, points): far and near moves, returns, stays, and ways to exactly zero."""
    rng = np.random.default_rng(seed)
    out = [rng.uniform(-0.1, 0.1, points)]
    for _ in range(steps - 1):
        near = out[-1] + rng.normal(0, 0.003, points)
        choices = [rng.uniform(-0.1, 0.1, points), near, out[rng.integers(len(out))], out[-1], np.zeros(points)]
        out.append(np.choose(rng.choice(5, points, p=[0.35, 0.35, 0.15, 0.1, 0.05]), choices))
    return np.array(out)


def march(law, path):
    """Return the work (steps, points) of every step and the last state."""
    state, work = law.start(path.shape[1:]), []
    for strain in path:
        work.append(law.work(strain, state))
        state = law.respond(strain, state).state
    return np.array(work), state


@given(ANY, SEED)
@settings(max_examples=80, deadline=None)
def test_no_step_creates_energy(name, seed):
    law, path = LAWS[name], paths(seed)
    state = law.start(path.shape[1:])
    for strain in path:
        new = law.respond(strain, state).state
        lost = law.work(strain, state) - (law.stored(new) - law.stored(state))
        assert np.all(lost >= -SLACK)
        assert np.all(law.stored(new) >= 0)
        state = new


@given(ANY, SEED)
@settings(max_examples=80, deadline=None)
def test_no_closed_path_of_a_new_wire_creates_energy(name, seed):
    law, path = LAWS[name], paths(seed)
    path[-1] = 0.0
    work = march(law, path)[0].sum(axis=0)
    assert np.all(work >= -SLACK)
    if law.is_linear:
        assert np.all(work <= SLACK)


@given(ANY, SEED)
@settings(max_examples=40, deadline=None)
def test_no_cycle_of_any_wire_creates_energy_for_ever(name, seed):
    # a wire with a history may give back what it holds, but not again and again
    path = paths(seed, steps=4)
    work = march(LAWS[name], np.concatenate([path, np.tile(path[-2:], (6, 1))]))[0]
    assert np.all(work[-2:].sum(axis=0) >= -SLACK)


@given(st.sampled_from([n for n in LAWS if n.startswith(NITI) and not n.endswith("shear")]), SEED)
@settings(max_examples=40, deadline=None)
def test_a_wire_warmed_or_cooled_goes_on_without_creating_energy(name, seed):
    # a state made at one temperature, settled at another: closed paths there
    law, path = LAWS[name], paths(seed)
    _, state = march(LAWS["nickel-titanium, heat-activated"], path[:3])
    state = law.respond(path[2], state).state
    for strain in path[3:]:
        new = law.respond(strain, state).state
        assert np.all(law.work(strain, state) - (law.stored(new) - law.stored(state)) >= -SLACK)
        state = new


@given(ANY, SEED)
@settings(max_examples=80, deadline=None)
def test_tangent_lies_between_the_slopes_to_either_side(name, seed):
    law, step, path = LAWS[name], 1e-7, paths(seed)
    _, state = march(law, path[:-1])
    stress = [law.respond(path[-1] + shift, state).stress for shift in (-step, 0.0, step)]
    slopes = np.sort(np.diff(stress, axis=0) / step, axis=0)
    tangent, slack = law.respond(path[-1], state).tangent, 1e-4 * law.young
    assert np.all((slopes[0] - slack <= tangent) & (tangent <= slopes[1] + slack))
    # a tangent that is wrong by a hundredth is noticed wherever the law is smooth, and that is nearly everywhere
    wrong, smooth = tangent + 0.01 * law.young, slopes[1] - slopes[0] < slack
    assert smooth.mean() > 0.5
    assert not np.any((slopes[0] - slack <= wrong) & (wrong <= slopes[1] + slack) & smooth)


@given(ANY, SEED)
@settings(max_examples=60, deadline=None)
def test_stress_is_the_slope_of_the_work(name, seed):
    law, step, path = LAWS[name], 1e-6, paths(seed)
    _, state = march(law, path[:-1])
    slope = (law.work(path[-1] + step, state) - law.work(path[-1] - step, state)) / (2 * step)
    np.testing.assert_allclose(slope, law.respond(path[-1], state).stress, atol=1.01 * law.young * step)


@given(ANY, SEED, st.lists(st.floats(0, 1), max_size=6))
@settings(max_examples=80, deadline=None)
def test_a_straight_way_may_be_divided_at_will(name, seed, places):
    # hence no dependence on step size, nor on rate: the law knows no time
    law, path = LAWS[name], paths(seed)
    ways = path[-2] + np.sort(places)[:, None] * (path[-1] - path[-2])
    once, end = march(law, path)
    parts, same = march(law, np.concatenate([path[:-1], ways, path[-1:]]))
    np.testing.assert_allclose(parts.sum(axis=0), once.sum(axis=0), atol=SLACK)
    np.testing.assert_allclose(same, end, atol=1e-12)


@given(ANY, SEED)
@settings(max_examples=20, deadline=None)
def test_many_points_at_once_are_each_alone(name, seed):
    law, path = LAWS[name], paths(seed, points=4)
    work, state = march(law, path)
    answer = law.respond(path[-1], state)
    for row, own in enumerate(path.T):
        stress, tangent, alone, _ = walk(law, [*own, own[-1]])
        assert answer.stress[row] == pytest.approx(stress[-1], rel=1e-12, abs=1e-9)
        assert answer.tangent[row] == pytest.approx(tangent[-1], rel=1e-12)
        assert work[:, row].sum() == pytest.approx(alone[-1], abs=SLACK)
