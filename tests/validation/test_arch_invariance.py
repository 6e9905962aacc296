"""What must not matter for a whole arch: side, order in the file, orientation, the path (own reasoning: symmetry)."""

import numpy as np
import pytest
from arches import crowns, moved, scenario, solve, solved

from biomech.mechanics.equilibrium import equilibrium
from biomech.mechanics.poses import rotation_exp
from biomech.scenario import Scenario
from biomech.studies.solve import settings_of

TIGHT = 1e-12
MIRROR = np.array([-1.0, 1.0, 1.0])
OTHER = {1: 2, 2: 1, 3: 4, 4: 3}


def by_tooth(appliance, e):
    return dict(zip(appliance.teeth, crowns(appliance, e), strict=True))


def other_side(number):
    return 10 * OTHER[number // 10] + number % 10


def assert_mirrored(one, other, allowed=1e-8):
    assert max(np.abs(u).max() for u in one.values()) > 1e-3
    for number, u in one.items():
        assert np.abs(other[other_side(number)] * MIRROR - u).max() < allowed, number


@pytest.mark.parametrize("name", ["upper-overlay", "upper-overlay-steel-ties", "upper-overlay-torque-30", "lower-overlay"])
def test_a_symmetric_arch_moves_symmetrically(name):
    found = by_tooth(*solve(name, tolerance=TIGHT))
    assert_mirrored(found, found)


def test_one_side_or_the_other():
    here = scenario("upper-overlay-one-sided")
    widen = here.document["wire"]["overlay"]["widen"]
    assert widen["left"] != widen["right"]
    there = here.changed({"wire.overlay.widen.left": widen["right"], "wire.overlay.widen.right": widen["left"]})
    one, other = by_tooth(*solve(here, tolerance=TIGHT)), by_tooth(*solve(there, tolerance=TIGHT))
    assert_mirrored(one, other)
    with pytest.raises(AssertionError):  # and one of them alone is not symmetric
        assert_mirrored(one, one)


def test_torque_and_friction_on_one_side_or_the_other():
    def arch(first, second):
        hold = [
            {"teeth": "all", "by": "slot", "ligature": "elastomeric", "slides": "friction", "friction": 0.2},
            {"teeth": [first], "by": "tube", "slides": "tied back"},
        ]
        changes = {"wire.main.hold": hold, "wire.main.torque": {str(second): "25 deg buccal root"}}
        changes["wire.main.step_up"] = {str(first): "0.4 mm gingival"}
        return scenario("upper-main-wire").changed(changes)

    one = by_tooth(*solve(arch(17, 24), tolerance=TIGHT))
    other = by_tooth(*solve(arch(27, 14), tolerance=TIGHT))
    assert_mirrored(one, other, 1e-7)


def test_the_order_in_the_file():
    here = scenario("upper-overlay-torque-30")
    document = here.document
    document["arch"]["teeth"] = list(np.random.default_rng(3).permutation(document["arch"]["teeth"]))
    document["arch"]["teeth"] = [int(t) for t in document["arch"]["teeth"]]
    for wire in document["wire"].values():
        for hold in wire["hold"]:
            if hold.get("teeth", "all") != "all":
                hold["teeth"] = hold["teeth"][::-1]
    document["wire"] = dict(reversed(document["wire"].items()))
    e, f = by_tooth(*solve(here)), by_tooth(*solve(Scenario.parse(document)))
    assert max(np.abs(e[t] - f[t]).max() for t in e) < 1e-8


@pytest.mark.parametrize("name", ["upper-overlay", "upper-overlay-torque-30", "upper-overlay-molar-tied"])
def test_the_load_path(name):
    at_once, slowly = (crowns(*solve(name, first_increment=f)) for f in (1.0, 0.25))
    assert np.abs(at_once - slowly).max() < 1e-7
    assert np.abs(at_once).max() > 1e-2


@pytest.mark.parametrize("w", [(0.3, -0.2, 0.9), (np.pi / 2, 0, 0), (1.0, 1.5, -2.0)])
def test_the_orientation_of_the_model(w):
    found = scenario("upper-overlay-torque-30")
    appliance, e = solved("upper-overlay-torque-30")
    start = moved(appliance.start, w, (30.0, -20.0, 55.0))
    f = equilibrium(appliance.network, start, settings=settings_of(found))
    u = e.poses.position[0] - appliance.start.position[0]
    v = f.poses.position[0] - start.position[0]
    assert np.abs(v - u @ rotation_exp(np.array(w)).T).max() < 1e-8
    assert f.energy[0] == pytest.approx(e.energy[0], rel=1e-8)
