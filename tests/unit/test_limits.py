"""Limits of a course: each kind raised by a case built for it, naming tooth and day, and only there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from biomech.mechanics.poses import Pose
from biomech.movement.limits import FASTEST, Watch, speeds_past, wires_past
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
    assert flag.tooth == 13 and flag.day == 20.0 and f"above {FASTEST:g}" in flag.text
    assert fast.stopped is not None and fast.stopped.startswith("day 20: tooth 13 moved")
    slow = pulled({13: ("buccal", "0.01 N")}, **LAW, time_constant="400 days")
    flag = next(f for f in slow.flags if f.kind == "rate")
    assert flag.tooth is None and "no tooth moved faster" in flag.text and slow.stopped is None
    # logarithmic, 1 N: within the published band
    assert "rate" not in kinds(pulled({13: ("buccal", "0.6 N")}))


def test_a_course_that_stops_for_its_rate_does_not_see_the_next_visit() -> None:
    visit = [{"after": "10 days"}, {"after": "15 days"}]
    stopped = pulled({13: ("buccal", "1 N")}, **LAW, time_constant="0.1 days", stop_at=["rate"], visit=visit)
    assert stopped.times[-1] == 10.0 and len(stopped.visits) == 1


def test_contact_names_the_neighbours_and_the_course_stops_there() -> None:
    towards = {12: ("mesial", "1 N"), 11: ("distal", "1 N")}
    course = pulled(towards, PAIR)
    flag = next(f for f in course.flags if f.kind == "contact")
    assert flag.tooth == 12 and "teeth 12 and 11" in flag.text and 0.0 < flag.day < 20.0
    stopped = pulled(towards, PAIR, stop_at=["contact"])
    assert stopped.stopped is not None and "teeth 12 and 11" in stopped.stopped
    assert stopped.times[-1] == flag.day
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
