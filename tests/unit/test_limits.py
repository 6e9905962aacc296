"""Limits of a course: each kind raised by a case built for it, naming tooth and day, and only there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from biomech.mechanics.poses import Pose
from biomech.movement.leg import WITHIN
from biomech.movement.limits import FASTEST, SET, WEEK, Watch, speeds_past, weekly_speeds, wires_past
from biomech.movement.readings import WireLeft
from biomech.scenario import Scenario
from biomech.studies.course import Course, run_course

ONE: dict[str, Any] = {
    "format": 1,
    "title": "limits",
    "arch": {"jaw": "upper", "form": "straight", "teeth": [13]},
    "ligament": {"law": "linear"},
}
PAIR: dict[str, Any] = {
    **ONE,
    "arch": {"jaw": "upper", "form": "beta", "width": "62 mm", "depth": "45 mm", "teeth": [13, 12, 11, 21, 22, 23]},
}


def pulled(teeth: dict[int, tuple[str, str]], base: dict[str, Any] = ONE, **course: Any) -> Course:
    """Return the course of teeth under forces through their centres of resistance, a few days long."""
    forces = [
        {"tooth": tooth, "at": "centre of resistance", "force": {way: force}, "follows": "tooth"}
        for tooth, (way, force) in teeth.items()
    ]
    return run_course(Scenario.parse({**base, "force": forces, "course": {"duration": "20 days", **course}}))


def wired(widen: str, **course: Any) -> Course:
    wire = {"section": "round", "diameter": "0.8 mm", "alloy": "stainless as drawn", "elements_per_span": 2,
            "widen": {"each_side": widen}, "hold": [{"teeth": "all", "by": "tie", "material": "steel"}]}  # fmt: skip
    return run_course(Scenario.parse({**PAIR, "wire": {"main": wire}, "course": {"duration": "2 days", **course}}))


def kinds(course: Course) -> set[str]:
    return {flag.kind for flag in course.flags}


LAW = {"law": "proportional"}


def test_pressure_names_the_tooth_on_the_day_it_is_loaded_and_stops_at_once() -> None:
    heavy = pulled({13: ("buccal", "8 N")}, **LAW, time_constant="400 days", duration="3 days")
    flag = next(f for f in heavy.flags if f.kind == "pressure")
    assert flag.tooth == 13 and flag.day == 0.0 and "kPa at tooth 13" in flag.text and heavy.stopped is None
    stopped = pulled({13: ("buccal", "8 N")}, **LAW, time_constant="400 days", duration="3 days", stop_at=["pressure"])
    assert stopped.times[-1] == 0.0 and stopped.stopped is not None and stopped.stopped.startswith("day 0: mean lig")
    assert "pressure" not in kinds(pulled({13: ("buccal", "0.2 N")}, **LAW, duration="3 days"))


def test_rate_too_fast_names_the_tooth_and_too_slow_the_arch() -> None:
    fast = pulled({13: ("buccal", "1 N")}, **LAW, time_constant="0.1 days", stop_at=["rate"])
    flag = next(f for f in fast.flags if f.kind == "rate")
    assert flag.tooth == 13 and flag.day == WEEK and f"above {FASTEST:g}" in flag.text
    assert fast.stopped is not None and fast.stopped.startswith("day 7: tooth 13 moved")
    assert WEEK <= fast.times[-1] <= WEEK + WITHIN
    slow = pulled({13: ("buccal", "0.01 N")}, **LAW, time_constant="400 days")
    flag = next(f for f in slow.flags if f.kind == "rate")
    assert flag.tooth is None and "no tooth moved faster" in flag.text and slow.stopped is None
    burst = pulled({13: ("buccal", "1 N")}, **LAW, time_constant="0.1 days", duration="3 days")  # less than a week
    assert any("over 3 days" in f.text for f in burst.flags)
    # logarithmic, 1 N: within the published band
    assert "rate" not in kinds(pulled({13: ("buccal", "0.6 N")}))


def test_a_course_that_stops_for_its_rate_does_not_see_the_next_visit() -> None:
    visit = [{"after": "10 days"}, {"after": "15 days"}]
    stopped = pulled({13: ("buccal", "1 N")}, **LAW, time_constant="0.1 days", stop_at=["rate"], visit=visit)
    assert WEEK <= stopped.times[-1] <= WEEK + WITHIN and len(stopped.visits) == 1


def test_contact_names_the_neighbours_and_the_course_stops_there() -> None:
    towards = {12: ("mesial", "1 N"), 11: ("distal", "1 N")}
    course = pulled(towards, PAIR)
    flag = next(f for f in course.flags if f.kind == "contact")
    assert flag.tooth == 12 and "teeth 12 and 11" in flag.text and 0.0 < flag.day < 20.0
    stopped = pulled(towards, PAIR, stop_at=["contact"])
    assert stopped.stopped is not None and "teeth 12 and 11" in stopped.stopped
    assert flag.day <= stopped.times[-1] <= flag.day + WITHIN
    apart = pulled({12: ("distal", "0.3 N"), 13: ("distal", "0.4 N")}, PAIR, duration="4 days")
    assert not any("teeth 12 and 11" in f.text for f in apart.flags)


def test_neighbours_with_space_between_them_touch_when_it_is_used_up() -> None:
    one = pulled({12: ("mesial", "0.1 N")}, PAIR, duration="1 day").legs[0]
    parts = list(one.appliance.teeth.values())
    poses, frames = one.appliance.start, [p.frame for p in parts]
    moment = one.mover.moment(0.0, poses, one.appliance.network.start_states())
    standing = Pose(poses.rotation[0, frames], poses.position[0, frames].copy())
    right = [i for i, p in enumerate(parts) if p.number in (12, 13)]
    line = standing.position[right[-1] + 1] - standing.position[right[-1]]
    standing.position[right] -= line / np.linalg.norm(line)  # a millimetre of space between 12 and 11 when it began
    assert not list(Watch(one.appliance, standing, {}).look(moment))
    closed = moment.poses.position.copy()
    closed[0, [frames[i] for i in right]] += 0.5 * line / np.linalg.norm(line)
    nearer = replace(moment, poses=Pose(moment.poses.rotation, closed))
    assert [f.tooth for f in Watch(one.appliance, standing, {}).look(nearer)] == [12]


def test_a_wire_past_its_limit_is_named_and_stops_the_course_at_once() -> None:
    course = wired("15 mm")
    flag = next(f for f in course.flags if f.kind == "wire")
    assert flag.tooth is None and flag.day == 0.0 and "wire 'main' is past its elastic limit" in flag.text
    stopped = wired("15 mm", stop_at=["wire"])
    assert stopped.times[-1] == 0.0 and stopped.stopped is not None and "wire 'main'" in stopped.stopped
    assert "wire" not in kinds(wired("0.5 mm"))


def test_a_limit_that_is_flagged_only_does_not_stop() -> None:
    course = wired("15 mm", stop_at=["bone", "contact"])
    assert course.stopped is None and course.times[-1] == 2.0 and "wire" in kinds(course)


def test_speeds_need_a_day_and_take_no_notice_of_a_bound_of_the_scenario() -> None:
    first = pulled({13: ("buccal", "0.01 N")}, **LAW, time_constant="400 days", duration="2 days").readings[0]
    early = replace(first, day=0.5, resistance=first.resistance + 1.0)
    assert not list(speeds_past([first, early]))
    later = replace(first, day=30.0)
    assert [f.tooth for f in speeds_past([first, later])] == [None]
    assert not list(speeds_past([first, later], most=0.001)) and not list(wires_past(first))
    moved = replace(first, day=30.0, resistance=first.resistance + np.array([0.0, 3.0, 0.0]))
    assert [f.tooth for f in speeds_past([first, moved])] == [13]
    with pytest.raises(IndexError):
        next(iter(speeds_past([])))


@pytest.mark.parametrize("room", ["1 mm", "1.9 mm", "3 mm"])
def test_a_root_is_stopped_where_it_leaves_the_bone_however_long_the_steps(room: str) -> None:
    limits = {"stop_at": ["bone"], "bone": {13: {"buccal": room}}, "duration": "12 months"}
    course = pulled({13: ("buccal", "0.5 N")}, law="logarithmic", **limits)
    flagged = pulled({13: ("buccal", "0.5 N")}, law="logarithmic", **{**limits, "stop_at": []})
    flag = next(f for f in flagged.flags if f.kind == "bone")
    deep = np.abs(course.readings[-1].resistance[0, 1])  # a steady load: bodily, at one speed
    assert float(room.split()[0]) <= deep + 0.05 <= float(room.split()[0]) + 0.1
    assert course.stopped is not None and f"through {float(room.split()[0]):.2f} mm of bone" in course.stopped
    assert flag.day == pytest.approx(course.times[-1], abs=WITHIN + 0.01)
    assert "mm by day 365" in flag.text


def test_weeks_begin_and_end_with_readings() -> None:
    base = pulled({13: ("buccal", "0.01 N")}, **LAW, time_constant="400 days", duration="2 days").readings[0]
    way = np.array([0.0, 1.0, 0.0])
    places = {0.0: 0.0, 0.5: 0.7, 3.0: 0.7, 20.0: 0.7, 60.0: 1.7}
    ends, speeds, span = weekly_speeds([replace(base, day=d, resistance=base.resistance * 0 + y * way) for d, y in places.items()])
    month = 30.4375
    assert speeds.max() == pytest.approx(0.7 / WEEK * month) and ends[int(speeds[:, 0].argmax())] == WEEK
    assert speeds[-1, 0] == pytest.approx(month / 40)  # even movement between readings
    assert (np.diff(ends) > 0).all() and ends[-1] == 60.0 and span == WEEK


def test_a_wire_that_has_yielded_is_flagged_by_what_it_keeps_since_it_was_laid_in() -> None:
    first = pulled({13: ("buccal", "0.01 N")}, **LAW, time_constant="400 days", duration="1 day").readings[0]

    def texts(**kept: Any) -> list[str]:
        wire = WireLeft(1.0, 0.98, True, **kept)
        return [f.text for f in wires_past(replace(first, wires={"main": wire}))]

    assert not texts(reading="set", largest=0.5 * SET)
    assert "keeps a strain of 0.19 %" in texts(reading="set", largest=1.9e-3)[0]
    assert not texts(reading="set", largest=0.014, given=0.014)  # opened by hand on purpose
    assert "0.40 % of it since it was laid in" in texts(reading="set", largest=0.018, given=0.014)[0]
    assert not texts(reading="martensite", largest=0.9)


def test_a_wire_past_its_limit_is_flagged_once_in_a_stretch() -> None:
    course = wired("15 mm")
    assert len([f for f in course.flags if f.kind == "wire"]) == 1 < len(course.readings)


def rates(course: Course) -> list[tuple[float, int | None]]:
    return [(round(f.day, 1), f.tooth) for f in course.flags if f.kind == "rate"]


@pytest.mark.parametrize("looks", [[], ["1.5 days"], ["0.8 days", "1.6 days", "2.4 days", "4 days", "6.5 days"]])
@pytest.mark.parametrize("force", ["0.02 N", "1 N"])
def test_looks_between_change_nothing_about_which_teeth_are_too_fast_or_slow(looks: list[str], force: str) -> None:
    load = {13: ("buccal", force)}
    law = {**LAW, "time_constant": "0.1 days" if force == "1 N" else "9 days", "duration": "20 days"}
    plain, looked = pulled(load, **law), pulled(load, **law, visit=[{"after": day} for day in looks])
    assert {tooth for _, tooth in rates(plain)} == {tooth for _, tooth in rates(looked)} != set()
    assert min(rates(looked)) == pytest.approx(min(rates(plain)), abs=0.3) if force == "1 N" else rates(looked)
    stopped = pulled(load, **law, visit=[{"after": day} for day in looks], stop_at=["rate"])
    if force == "1 N":
        assert WEEK <= stopped.times[-1] <= WEEK + WITHIN


def test_days_of_rest_are_not_too_slow() -> None:
    law = {"law": "logarithmic", "lag": "20 days", "duration": "40 days", "stop_at": ["rate"]}
    course = pulled({13: ("buccal", "0.6 N")}, **law, visit=[{"after": "10 days"}])
    assert course.stopped is None and rates(course) == []
