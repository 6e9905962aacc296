"""Variants stacked into one batch give what each gives alone."""

import numpy as np
import pytest

from biomech.appliance import build
from biomech.errors import InputError
from biomech.mechanics.batch import pick, pick_states, stack
from biomech.mechanics.equilibrium import equilibrium
from biomech.mechanics.poses import Pose
from biomech.scenario import Scenario
from biomech.studies.batch import _sharing_ligament
from biomech.studies.solve import settings_of

ARCH = {"jaw": "upper", "form": "beta", "width": "62 mm", "depth": "45 mm", "teeth": [14, 13, 12, 11, 21, 22, 23, 24]}


def arch(diameter="0.8 mm", torque="20 deg", widen="3 mm", friction=0.1, ligament="bilinear", young=None, teeth=None):
    main = {
        "section": "rectangular", "height": "0.019 in", "depth": "0.025 in", "alloy": "stainless as drawn",
        "torque": {"13": f"{torque} buccal root"}, "step_up": {"22": "0.2 mm gingival"},
        "hold": [{"teeth": "all", "by": "slot", "ligature": "steel", "slides": "friction", "friction": friction}],
    }  # fmt: skip
    overlay = {
        "section": "round", "diameter": diameter, "alloy": "stainless as drawn", "out": "1.5 mm",
        "widen": {"each_side": widen},
        "hold": [{"teeth": [12, 22], "by": "tie", "slack": "0.1 mm"}, {"teeth": [14, 24], "by": "tube", "play": "0.1 mm"}],
    }  # fmt: skip
    if young:
        main["young"] = young
    document = {"format": 1, "title": "batch", "arch": ARCH | ({"teeth": teeth} if teeth else {})}
    return Scenario.parse(document | {"ligament": {"law": ligament}, "wire": {"main": main, "overlay": overlay}})


def stacked(built):
    """One network of all; they share the ligament, which a batch keeps once."""
    return stack(_sharing_ligament(built), [b.start for b in built])


def together(*scenarios):
    built = [build(s) for s in scenarios]
    network, start = stacked(built)
    return equilibrium(network, start, settings=settings_of(scenarios[0])), built


VARIANTS = {
    "diameter": [{"diameter": d} for d in ("0.7 mm", "0.9 mm", "1.0 mm")],
    "torque": [{"torque": t} for t in ("5 deg", "15 deg", "30 deg")],
    "widening": [{"widen": w} for w in ("0 mm", "2 mm", "6 mm")],
    "friction": [{"friction": mu} for mu in (0.02, 0.2, 0.4)],
    "modulus and diameter": [{"young": y, "diameter": d} for y, d in (("70 GPa", "0.9 mm"), ("200 GPa", "0.7 mm"))],
}


@pytest.mark.parametrize("what", VARIANTS)
def test_a_batch_equals_one_at_a_time(what):
    scenarios = [arch(**changes) for changes in VARIANTS[what]]
    many, built = together(*scenarios)
    assert many.converged.all()
    assert not np.allclose(many.poses.position[0], many.poses.position[-1], atol=1e-4)
    for i, (scenario, one) in enumerate(zip(scenarios, built, strict=True)):
        alone = equilibrium(one.network, one.start, settings=settings_of(scenario))
        assert np.allclose(many.poses.position[i], alone.poses.position[0], atol=1e-6)
        assert np.allclose(many.poses.rotation[i], alone.poses.rotation[0], atol=1e-7)
        assert many.energy[i] == pytest.approx(alone.energy[0], rel=1e-6, abs=1e-9)


def test_a_large_batch_with_easy_and_hard_variants():
    scenarios = [arch(widen=f"{w:.3f} mm", torque=f"{3 * w:.3f} deg") for w in np.linspace(0, 9, 12)]
    many, built = together(*scenarios)
    assert many.converged.all()
    for i in (0, 5, 11):
        alone = equilibrium(built[i].network, built[i].start, settings=settings_of(scenarios[i]))
        assert np.allclose(many.poses.position[i], alone.poses.position[0], atol=1e-6)


def test_what_does_not_differ_is_kept_once():
    built = [build(arch(diameter=d)) for d in ("0.7 mm", "0.9 mm")]
    network, start = stacked(built)
    names = {g.name: g for g in network.groups}
    assert names["overlay"].law.stiffness.shape[0] == 2
    assert names["main"].law.stiffness.shape == {g.name: g for g in built[0].network.groups}["main"].law.stiffness.shape
    assert start.position.shape[0] == 2


def test_picking_variants_out_of_a_batch():
    scenarios = [arch(diameter=d, friction=mu) for d, mu in (("0.7 mm", 0.1), ("0.9 mm", 0.2), ("1.0 mm", 0.3))]
    built = [build(s) for s in scenarios]
    network, start = stacked(built)
    which = np.array([2, 0])
    some = pick(network, which)
    states = pick_states(network, network.start_states(), which)
    poses = Pose(start.rotation[which], start.position[which])
    both = some.residual(some.evaluate(poses, states), poses)
    for row, i in enumerate(which):
        n = built[i].network
        alone = n.residual(n.evaluate(built[i].start, n.start_states()), built[i].start)
        assert np.allclose(both[row], alone[0], atol=1e-9)


def test_other_teeth_are_refused():
    built = [build(s) for s in (arch(), arch(teeth=[14, 13, 12, 11, 21, 22, 24]))]
    with pytest.raises(InputError, match="differ in their teeth, stations or holds"):
        stack([b.network for b in built], [b.start for b in built])


def test_another_kind_of_law_is_refused():
    built = [build(arch(ligament=law)) for law in ("bilinear", "linear")]
    with pytest.raises(InputError, match="which one batch cannot hold"):
        stack([b.network for b in built], [b.start for b in built])


def test_a_hopeless_variant_does_not_spoil_the_others():
    scenarios = [arch(), arch(), arch()]
    built = [build(s) for s in scenarios]
    built[1].start.position[0, 3] = np.nan
    network, start = stacked(built)
    many = equilibrium(network, start, settings=settings_of(scenarios[0]))
    assert many.converged.tolist() == [True, False, True]
    assert np.allclose(many.poses.position[0], many.poses.position[2])
    assert np.isfinite(many.poses.position[0]).all()
