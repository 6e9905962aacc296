"""Settings, failures and reports of the solver on small arches."""

from dataclasses import replace

import numpy as np
import pytest

from biomech.appliance import build
from biomech.errors import SolveError
from biomech.mechanics.equilibrium import Settings, equilibrium
from biomech.mechanics.newton import newton
from biomech.mechanics.search import search_contacts
from biomech.scenario import Scenario

ARCH = {"jaw": "lower", "form": "beta", "width": "57 mm", "depth": "41 mm", "teeth": [43, 42, 41, 31, 32, 33]}


def small(friction=None, step="0.4 mm gingival", **changes):
    slides = {"slides": "friction", "friction": friction} if friction else {"slides": "free"}
    main = {
        "section": "rectangular", "height": "0.018 in", "depth": "0.025 in", "alloy": "beta-titanium",
        "step_up": {"41": step}, "torque": {"32": "15 deg buccal root"},
        "hold": [{"teeth": "all", "by": "slot", "ligature": "steel", **slides}],
    }  # fmt: skip
    return build(Scenario.parse({"format": 1, "title": "small", "arch": ARCH, "wire": {"main": main}, **changes}))


SMALL = small()


def solve(built=SMALL, **settings):
    return equilibrium(built.network, built.start, settings=replace(Settings(), **settings))


def test_what_a_solution_reports():
    e = solve()
    assert e.converged.all()
    assert e.residual[0] <= 1e-9
    assert e.negative.tolist() == [0]
    assert not e.left.any()
    assert e.history == ()
    assert 5 < e.steps[0] < 60
    assert e.energy[0] > 0
    assert e.poses.position.shape == (1, SMALL.network.frames, 3)


def test_the_rotations_stay_rotations():
    r = solve().poses.rotation[0]
    assert np.allclose(np.einsum("nij,nik->njk", r, r), np.eye(3), atol=1e-12)


def test_a_solution_is_where_newton_stays():
    e = solve()
    run = newton(SMALL.network, e.poses, SMALL.network.start_states(), 1.0, Settings())
    assert run.ok.all()
    assert np.allclose(run.poses.position, e.poses.position, atol=1e-8)


def test_the_search_ends_with_the_contacts_of_the_solution():
    states = SMALL.network.start_states()
    poses, steps = search_contacts(SMALL.network, SMALL.start, states, 1.0, Settings())
    e = solve()
    assert 5 < steps[0] <= e.steps[0]
    for links in SMALL.network.groups:
        if links.name == "main slots":
            here, there = (links.law.walls(links.strain(p))[0] > 0 for p in (poses, e.poses))
            assert np.array_equal(here, there)
            assert here.any()
            assert not here.all()


@pytest.mark.parametrize("friction", [None, 0.2])
def test_the_way_there_is_told(friction):
    built, told = small(friction), []
    e = equilibrium(
        built.network, built.start, settings=Settings(first_increment=0.3), progress=lambda *now: told.append(now)
    )
    assert e.converged.all()
    shares = [share for what, share in told if what == "activation"]
    assert shares == sorted(shares)
    assert len(shares) >= 3
    assert all(0 <= share < 1 for share in shares)


def test_no_convergence_is_an_error_that_says_where():
    with pytest.raises(SolveError, match=r"activation reached .* relative residual .* largest at (wire|tooth)"):
        solve(max_steps=1, smallest_increment=0.2)


def test_not_a_number_is_an_error():
    start = SMALL.start.position.copy()
    start[0, 2] = np.nan
    from biomech.mechanics.poses import Pose

    with pytest.raises(SolveError):
        equilibrium(SMALL.network, Pose(SMALL.start.rotation, start), settings=Settings(smallest_increment=0.2))


def test_small_first_increments_are_for_one_at_a_time():
    from biomech.mechanics.poses import Pose

    both = Pose(np.repeat(SMALL.start.rotation, 2, axis=0), np.repeat(SMALL.start.position, 2, axis=0))
    with pytest.raises(ValueError, match="one variant"):
        equilibrium(SMALL.network, both, settings=Settings(first_increment=0.5))


def test_energy_falls_short_of_the_rigid_one():
    """Soft teeth give way: the wire stores less than between teeth held rigidly."""
    rigid = small(ligament={"law": "rigid"})
    assert solve().energy[0] < solve(rigid).energy[0]


def test_contacts_once_found_keep_their_sign():
    """Every closed wall pushes, every open one does not: no wall pulls in the final state."""
    e = solve(small(0.3))
    for i, links in enumerate(e.network.groups):
        if links.name == "main slots":
            depth, stiffness = links.law.walls(links.strain(e.poses))
            force = stiffness * np.maximum(depth, 0)
            again = links.law.combine(links.strain(e.poses), e.network.start_states()[i], force, np.zeros_like(force))
            assert np.allclose(again.stress, e.stress(i), atol=1e-9)


def test_friction_has_no_symmetric_tangent_and_newton_knows():
    built = small(0.3)
    e = solve(built)
    assert not built.network.has_potential(e.evaluation)
    assert SMALL.network.has_potential(solve().evaluation)
    assert np.abs(built.network.skew(e.evaluation, e.poses, coupled=True)).max() > 1.0
