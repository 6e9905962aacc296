"""Movement in time against closed forms and published speeds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from biomech.appliance import Appliance, build
from biomech.mechanics.equilibrium import Settings, equilibrium
from biomech.mechanics.links import Linear, Links
from biomech.mechanics.network import Network
from biomech.mechanics.poses import Pose, pose_log
from biomech.movement.march import Control, Moment, Mover, march
from biomech.rates import RateLaw, make_rate
from biomech.scenario import Scenario

ONE = {
    "format": 1,
    "title": "one tooth",
    "arch": {"jaw": "upper", "form": "straight", "teeth": [13]},
    "ligament": {"law": "linear"},
}


def loaded(force: dict[str, str], at: str = "bracket", ligament: str = "linear") -> Appliance:
    load = {"tooth": 13, "at": at, "force": force, "follows": "tooth"}
    return build(Scenario.parse({**ONE, "force": [load], "ligament": {"law": ligament}}))


def sprung(stiffness: float, activation: float, at: np.ndarray | None = None, along: int = 1) -> Appliance:
    """One canine, and a spring from the point `at` of it (centre of resistance unless given) to the ground."""
    from biomech.tooth.resistance import centre_of_resistance
    from biomech.tooth.support import support_matrix

    bare = loaded({"buccal": "1 N"})
    part, old = bare.teeth[13], bare.network
    if at is None:
        support = support_matrix(part.tooth.surface, part.ligament)
        at = centre_of_resistance(support).planar["buccolingual"].point
    k = np.zeros((1, 6, 6))
    k[0, along, along] = stiffness
    rest = np.zeros((1, 6))
    rest[0, along] = -activation
    offset = Pose(np.eye(3)[None], at[None])
    ground = old.frames
    spring = Links("spring", np.array([part.frame]), np.array([ground]), Linear(k, rest), "section", offset, None)
    network = Network(old.frames + 1, np.append(old.fixed, True), [*old.groups, spring], None, [*old.labels, "ground"])
    stands = part.pose @ Pose(np.eye(3), at)
    start = Pose(
        np.concatenate([bare.start.rotation, stands.rotation[None, None]], axis=1),
        np.concatenate([bare.start.position, stands.position[None, None]], axis=1),
    )
    return replace(bare, network=network, start=start)


def begin(appliance: Appliance, law: RateLaw) -> tuple[Mover, Moment]:
    mover = Mover(appliance, law, Settings(tolerance=1e-12))
    solved = equilibrium(appliance.network, appliance.start, settings=mover.settings)
    return mover, mover.moment(0.0, solved.poses, solved.states)


def spring_force(mover: Mover, moment: Moment, along: int = 1) -> float:
    return float(moment.evaluation.responses[-1].stress[0, 0, along])


@pytest.mark.parametrize("law", ["proportional", "logarithmic", "power"])
@pytest.mark.parametrize("ligament", ["linear", "bilinear"])
def test_a_constant_load_moves_the_tooth_steadily_about_its_elastic_rotation_centre(law: str, ligament: str) -> None:
    # twist rate parallel to the elastic motion: the same rotation centre, for every law (derived; 1e-6)
    mover, start = begin(loaded({"buccal": "1 N", "mesial": "0.3 N"}, ligament=ligament), make_rate(law))
    elastic = start.evaluation.kinematics[mover.appliance.ligament_group].strain[0, 0]
    before, speeds = start, []
    for moment in march(mover, start, 20.0, Control()):
        twist = pose_log(mover.sockets_of(before.poses).inverse() @ mover.sockets_of(moment.poses))[0]
        speeds.append(twist / (moment.time - before.time))
        before = moment
    rate = np.array(speeds)
    assert len(rate) > 2
    assert np.abs(rate - rate[0]).max() < 1e-6 * np.abs(rate[0]).max()
    np.testing.assert_allclose(rate[0] / np.linalg.norm(rate[0]), elastic / np.linalg.norm(elastic), atol=1e-6)


@pytest.mark.parametrize(("stiffness", "activation"), [(0.5, 1.0), (20.0, 0.5), (2.0, 2.0)])
def test_a_spring_decays_exponentially_and_ends_at_its_activation(stiffness: float, activation: float) -> None:
    # F0 exp(-t / tau), tau = 1 / (C' k_ser), C' = v / F = 1 / (time constant * kp) (derived)
    appliance = sprung(stiffness, activation)
    law = make_rate("proportional", time_constant=2.0)
    mover, start = begin(appliance, law)
    f0 = spring_force(mover, start)
    q = start.evaluation.kinematics[appliance.ligament_group].strain[0, 0]
    at = appliance.network.groups[-1].offset_a.position[0]
    elastic = abs((q[:3] + np.cross(q[3:], at))[1])
    kp = f0 / elastic
    assert f0 == pytest.approx(activation * stiffness * kp / (stiffness + kp), rel=1e-3)  # springs in series
    tau = 2.0 * kp * (1 / stiffness + 1 / kp)
    moments = list(march(mover, start, 12 * tau, Control()))
    for m in moments:
        assert spring_force(mover, m) / f0 == pytest.approx(np.exp(-m.time / tau), abs=1e-4)
    tooth = appliance.teeth[13]
    before, after = (m.poses.take(tooth.frame).point(at)[0] for m in (start, moments[-1]))
    assert np.linalg.norm(after - before) + elastic == pytest.approx(activation, rel=1e-4)


@pytest.mark.parametrize(("stress", "speed"), [(4, 0.028), (13, 0.040), (26, 0.050), (52, 0.054), (78, 0.061)])
@pytest.mark.parametrize(("law", "within"), [("logarithmic", 0.002), ("power", 0.0035)])
def test_published_speeds_of_translated_canines(stress: float, speed: float, law: str, within: float) -> None:
    # Nickel and Iwasaki 2014: 82 upper canines over 84 days (abstract only); standard error 0.004 mm/day. Force =
    # stress x effective area of 44.5 mm2 (derived from their pairs of force and stress), through the centre of resistance.
    newton = stress * 1e-3 * 44.5
    for ligament in ("linear", "bilinear"):
        mover, start = begin(loaded({"distal": f"{newton} N"}, "centre of resistance", ligament), make_rate(law))
        v, w = np.split(mover.rates(start)[0], 2)
        at = mover.network.loads.point[0]
        assert np.linalg.norm(v + np.cross(w, at)) == pytest.approx(speed, abs=within)


def test_effective_area_of_the_standard_canine() -> None:
    # 18 gf at 4 kPa and 60 gf at 13 kPa are 44.1 and 45.3 mm2 (Iwasaki 2000 AJODO 117:175, abstract only)
    mover, _ = begin(loaded({"distal": "1 N"}), make_rate())
    assert 44.0 < mover.levers.area[0] < 45.3


def tipping(law: str, h: float, end: float = 8.0) -> np.ndarray:
    """Twist of a canine pulled at its bracket by a relaxing spring, in steps of `h` days."""
    appliance = sprung(2.0, 1.0, at=loaded({"buccal": "1 N"}).teeth[13].slot_in_tooth.position)
    mover, start = begin(appliance, make_rate(law))
    *_, last = march(mover, start, end, Control(largest=h, fixed=True))
    return np.asarray(pose_log(mover.sockets_of(start.poses).inverse() @ mover.sockets_of(last.poses))[0])


@pytest.mark.parametrize("law", ["proportional", "logarithmic"])
def test_a_course_refined_in_time_converges_at_its_order(law: str) -> None:
    fine = tipping(law, 1 / 32)
    errors = [np.abs(tipping(law, h) - fine).max() for h in (2.0, 1.0, 0.5)]
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert orders[-1] > 3.5, (errors, orders)  # order 4


def cut_and_whole(control: Control, at: float = 13.7, end: float = 40.0) -> float:
    """How far a canine ends from where it ends uncut, of its way (rotations over 10 mm)."""
    appliance = sprung(2.0, 1.0, at=loaded({"buccal": "1 N"}).teeth[13].slot_in_tooth.position)
    mover, start = begin(appliance, make_rate())
    *_, whole = march(mover, start, end, control)
    *_, half = march(mover, start, at, control)
    *_, again = march(mover, half, end, control)
    length = np.array([1.0, 1.0, 1.0, 10.0, 10.0, 10.0])
    ends = [mover.sockets_of(m.poses) for m in (start, whole, again)]
    apart, way = (np.abs(pose_log(x.inverse() @ y) * length).max() for x, y in ((ends[1], ends[2]), (ends[0], ends[1])))
    return float(apart / way)


def test_a_course_cut_in_two_equals_the_uncut_one() -> None:
    assert cut_and_whole(Control()) < 1e-4
    assert cut_and_whole(Control(tolerance=1e-6)) < 2e-6  # what is left is the error of the steps


def test_cutting_a_course_of_fixed_steps_errs_by_the_order_of_the_rule() -> None:
    errors = [cut_and_whole(Control(largest=h, fixed=True), 2.3, 8.0) for h in (2.0, 1.0, 0.5)]
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert orders[-1] > 3.0, (errors, orders)


def test_the_bound_and_the_slopes_of_the_speed() -> None:
    law = make_rate("logarithmic", most=0.05)
    assert law.speed(np.array([0.01]), np.array([500.0])).value[0] == 0.05
    assert law.speed(np.array([0.01]), np.array([4.0])).value[0] < 0.05
