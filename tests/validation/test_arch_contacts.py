"""Holders in whole arches: ties only pull, friction stays within its bound, held teeth stay where they are.

Coulomb's law: at most coefficient times normal force, against the motion (textbook). The rest is what the words mean.
"""

import numpy as np
import pytest
from arches import crown, crowns, scenario, solve, solved

from biomech.appliance.holds import CREEP
from biomech.attachments._parts import CENTRING
from biomech.mechanics.contact import STICK
from biomech.outputs._wires import hold_forces


def tied(slack, widen="6 mm"):
    """The overlay tied at two teeth, besides its molar tubes."""
    hold = [
        {"teeth": [13, 23], "by": "tie", "material": "steel", **({"slack": slack} if slack else {})},
        {"teeth": [16, 26], "by": "tube", "play": "0.1 mm"},
    ]
    changes = {"wire.overlay.hold": hold, "wire.overlay.widen": {"each_side": widen, "profile": "proportional"}}
    return scenario("upper-overlay").changed(changes)


def ties(appliance, e):
    return {h.tooth: h for h in hold_forces(appliance, e) if h.kind == "tie"}


def test_a_slack_tie_carries_nothing():
    appliance, e = solve(tied("5 mm"))
    tight_appliance, tight = solve(tied(None))
    for tooth, hold in ties(tight_appliance, tight).items():
        assert hold.size > 0.2
        loose = ties(appliance, e)[tooth]
        group = next(i for i, g in enumerate(appliance.network.groups) if g.name == "overlay ties")
        strain = appliance.network.groups[group].strain(e.poses)[0, :, :3]
        distance = np.linalg.norm(strain, axis=-1).max()
        assert 0.3 < distance < 5
        assert loose.size <= CENTRING * distance * (1 + 1e-9)  # only what keeps a loose wire centred
    assert np.abs(crown(appliance, e, 13)).max() < 0.5 * np.abs(crown(tight_appliance, tight, 13)).max()


def test_a_tie_with_slack_lies_between_a_tight_one_and_none():
    sizes = [ties(*solve(tied(slack)))[13].size for slack in (None, "0.5 mm", "1 mm", "5 mm")]
    assert sizes[0] > sizes[1] > sizes[2] > 2 * sizes[3]


def test_ties_pull_along_their_line_towards_the_tooth():
    appliance, e = solved("upper-overlay")
    for i, group in enumerate(appliance.network.groups):
        if group.name == "overlay ties":
            strain = group.strain(e.poses)[0, :, :3]  # from the wire's station to the tooth's point
            force = e.stress(i)[0, :, :3]  # on the holder; it draws the tooth back towards the wire
            along = np.einsum("ni,ni->n", strain, force) / np.linalg.norm(strain, axis=-1)
            assert np.all(along > 0)
            assert np.allclose(np.linalg.norm(force, axis=-1), along, rtol=1e-9)
            assert not e.stress(i)[0, :, 3:].any()


def rubbing(mu, slides="friction"):
    """A wire with steps and torque, rubbing in every slot, pushed along by a load at one end."""
    friction = {"friction": mu} if slides == "friction" else {}
    hold = [{"teeth": "all", "by": "slot", "ligature": "steel", "slides": slides, **friction}]
    changes = {
        "wire.main.hold": hold,
        "wire.main.torque": {"11": "25 deg buccal root"},
        "wire.main.step_up": {"13": "0.3 mm gingival", "24": "0.3 mm occlusal"},
        "force": [{"tooth": 17, "force": {"mesial": "2 N"}}],
    }
    return scenario("upper-main-wire").changed(changes)


def sliding(appliance, e):
    """Friction force, position along the wire and what presses, for every slot edge."""
    i = next(i for i, g in enumerate(appliance.network.groups) if g.name == "main slots")
    group = appliance.network.groups[i]
    strain = group.strain(e.poses)[0]
    depth, stiffness = group.law.walls(strain)
    normal = group.law.normal(strain, stiffness * np.maximum(depth, 0))
    return e.stress(i)[0, :, 0] - CREEP * strain[:, 0], strain[:, 0], normal


@pytest.mark.parametrize("mu", [0.05, 0.15, 0.3])
def test_friction_keeps_within_its_bound_and_opposes_the_sliding(mu):
    force, along, normal = sliding(*solve(rubbing(mu)))
    assert np.all(np.abs(force) <= mu * normal * (1 + 1e-9) + 1e-9)
    slides = np.abs(along) > 1.01 * mu * normal / STICK  # farther than sticking contact gives way
    assert slides.sum() >= 3
    assert np.allclose(np.abs(force[slides]), mu * normal[slides], rtol=1e-6)
    # stress is the dual of the holder's position on the wire: same sign = it resists
    assert np.all(force[slides] * along[slides] > 0)
    assert np.abs(force).max() > 0.02


def test_little_friction_is_nearly_none_and_much_is_nearly_a_lock():
    free = sliding(*solve(rubbing(0.0, "free")))[1]
    little, some, much = (sliding(*solve(rubbing(mu)))[1] for mu in (1e-6, 0.2, 0.9))  # 100 N press at 11
    assert np.allclose(little, free, atol=0.02 * np.abs(free).max())
    largest = [np.abs(x).max() for x in (free, some, much)]
    assert largest[0] > largest[1] > largest[2]


def test_friction_never_makes_the_wire_slide_further():
    free, rubbed = solve(rubbing(0.0, "free")), solve(rubbing(0.2))
    assert np.abs(crowns(*rubbed)).max() > 0  # and the loaded tooth moves less, since the wire takes others along
    assert abs(crown(*rubbed, 17)[1]) < abs(crown(*free, 17)[1])


def test_held_teeth_do_not_move():
    appliance, e = solve(scenario("upper-overlay-torque-30").changed({"tooth.13": {"held": True}, "tooth.26": {"held": True}}))
    for tooth in (13, 26):
        assert not crown(appliance, e, tooth).any()
        assert appliance.teeth[tooth].socket == -1
    assert np.abs(crown(appliance, e, 16)).max() > 1e-3
    assert max(h.size for h in hold_forces(appliance, e) if h.tooth == 13) > 0.05  # though the wires push them


def test_a_rigid_ligament_holds_them_all():
    appliance, e = solve(scenario("upper-overlay").changed({"ligament": {"law": "rigid"}}))
    assert not crowns(appliance, e).any()
    soft = [h.size for h in hold_forces(*solved("upper-overlay")) if h.tooth == 16]
    assert max(h.size for h in hold_forces(appliance, e) if h.tooth == 16) > max(soft)
