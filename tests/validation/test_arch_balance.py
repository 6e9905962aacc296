"""Forces on whole arches add up: wires, ligaments and loads, summed here from the links, not by the solver.

Newton's third law and the equilibrium of every body (own reasoning, no source needed).
"""

import numpy as np
import pytest
from arches import global_wrenches, imbalance, load_wrenches, scenario, solve, solved

ARCHES = [
    "upper-main-wire",
    "upper-overlay",
    "upper-overlay-molar-tight",
    "upper-overlay-molar-tied",
    "upper-overlay-one-sided",
    "upper-overlay-steel-ties",
    "upper-overlay-torque-30",
    "lower-overlay",
]
WITH_LOADS = {
    "force": [
        {"tooth": 16, "at": "edge", "follows": "tooth", "force": {"buccal": "1 N", "gingival": "0.5 N"}},
        {"tooth": 11, "at": "apex", "force": {"lingual": "0.7 N"}, "moment": {"torque": "8 N.mm buccal root"}},
    ]
}


@pytest.mark.parametrize("name", ARCHES)
def test_wires_and_ligaments_balance(name):
    assert imbalance(*solved(name)) < 1e-8


def test_with_loads():
    assert imbalance(*solve(scenario("upper-overlay").changed(WITH_LOADS))) < 1e-8


def test_with_friction():
    assert imbalance(*solve(_rubbing(0.2))) < 1e-8


@pytest.mark.parametrize("name", ["upper-overlay", "upper-overlay-torque-30"])
def test_the_balance_is_no_accident(name):
    """A link's force forgotten or a wrong lever would show: leave one group out, or shift one tooth."""
    appliance, e = solved(name)
    slots = [i for i, g in enumerate(appliance.network.groups) if g.name == "overlay ties"]
    ties = global_wrenches(appliance, e, slots)
    teeth = [part.frame for part in appliance.teeth.values()]
    assert np.abs(ties[teeth, :3].sum(axis=0)).max() > 0.01  # the ties alone do not balance


def test_what_a_load_puts_on_the_teeth_comes_out_of_the_sockets():
    appliance, e = solve(scenario("upper-overlay").changed(WITH_LOADS))
    loads = load_wrenches(appliance, e).sum(axis=0)
    ligament = global_wrenches(appliance, e, [appliance.ligament_group])
    sockets = [part.socket for part in appliance.teeth.values() if part.socket >= 0]
    assert np.allclose(ligament[sockets].sum(axis=0), loads, atol=1e-6)
    assert np.linalg.norm(loads[:3]) > 0.5


def _rubbing(mu):
    main = [
        {"teeth": "all", "by": "slot", "ligature": "steel", "slides": "friction", "friction": mu},
        {"teeth": [16, 26], "by": "tube", "slides": "free"},
        {"teeth": [17, 27], "by": "tube", "slides": "tied back"},
    ]
    return scenario("upper-overlay").changed({"wire.main.hold": main})
