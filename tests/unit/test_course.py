"""Courses: visits and what is done at them, rules, limits, going on after a stop, bad visit lists."""

from __future__ import annotations

import copy
import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from biomech.cache import hash_of_code, program
from biomech.errors import InputError
from biomech.mechanics.poses import pose_log
from biomech.movement.leg import moment_at
from biomech.movement.march import Control
from biomech.scenario import Scenario
from biomech.studies import store
from biomech.studies.actions import follow
from biomech.studies.course import Course, run_course

BASE: dict[str, Any] = {
    "format": 1,
    "title": "six teeth",
    "arch": {"jaw": "upper", "form": "beta", "width": "62 mm", "depth": "45 mm", "teeth": [13, 12, 11, 21, 22, 23]},
    "ligament": {"law": "linear"},
    "wire": {
        "main": {
            "section": "rectangular", "height": "0.019 in", "depth": "0.025 in", "alloy": "beta-titanium",
            "elements_per_span": 2, "hold": [{"teeth": "all", "by": "slot", "ligature": "steel"}],
        },
        "overlay": {
            "section": "round", "diameter": "0.8 mm", "alloy": "stainless as drawn", "out": "1.5 mm", "ends": "1 mm",
            "elements_per_span": 2, "widen": {"each_side": "1 mm"},
            "hold": [{"teeth": [13, 11, 21, 23], "by": "tie", "material": "elastomeric"}],
        },
    },
    "course": {
        "start": "2025-01-01", "duration": "10 weeks", "tolerance": 2e-3,
        "visit": [
            {"date": "2025-01-15", "reactivate": {"overlay": "0.5 mm"}, "torque": {"main": {"13": "5 deg buccal root"}}},
            {"after": "4 weeks", "remove": ["overlay"], "note": "look"},
        ],
    },
}  # fmt: skip


def scenario(**course: Any) -> Scenario:
    document = copy.deepcopy(BASE)
    document["course"].update(course)
    return Scenario.parse(document)


@pytest.fixture(scope="module")
def course() -> Course:
    return run_course(scenario())


def test_visits_in_order_with_what_was_done(course: Course) -> None:
    assert [v.day for v in course.visits] == [0.0, 14.0, 28.0]
    assert course.visits[1].date == datetime.date(2025, 1, 15)
    assert "re-activated by 0.5 mm a side (now 1.5 mm left, 1.5 mm right)" in course.visits[1].actions[0]
    assert "5 deg buccal root torque added at 13 (now 5 deg buccal root)" in course.visits[1].actions[1]
    assert course.visits[2].actions == ("wire 'overlay' taken out",) and course.visits[2].note == "look"
    assert set(course.legs[1].appliance.wires) == {"main", "overlay"} and set(course.legs[2].appliance.wires) == {"main"}


def test_times_run_and_nothing_jumps_at_a_visit(course: Course) -> None:
    times = course.times
    assert times[0] == 0.0 and times[-1] == 70.0 and (np.diff(times) >= 0).all()
    for before, after in zip(course.legs, course.legs[1:], strict=False):
        assert before.track.times[-1] == after.track.times[0]
        a, b = before.mover.sockets_of, after.mover.sockets_of
        old = a(course.solution_at(len(before.track) - 1).equilibrium.poses) if before is course.legs[0] else None
        if old is not None:
            new = b(course.solution_at(len(before.track)).equilibrium.poses)
            np.testing.assert_array_equal(old.position, new.position)


def test_a_solution_of_any_moment_is_an_equilibrium_in_balance(course: Course) -> None:
    for i in (0, 3, -1):
        solution = course.solution_at(i)
        assert solution.equilibrium.residual[0] < 1e-8
        assert solution.arch.force < 1e-7 and solution.arch.moment < 1e-5
    assert not any(r.unbalanced > 1e-7 or r.unbalanced_moment > 1e-5 for r in course.readings)
    assert course.solution_at(-1) is course.solution_at(len(course.times) - 1)


def test_readings_agree_with_the_outputs_of_a_solution(course: Course) -> None:
    i = course.index_at(20.0)
    reading, solution = course.readings[i], course.solution_at(i)
    for number in (13, 11, 22):
        row, report = reading.of(number), solution.tooth(number)
        for words, found in (("force_N", reading.force), ("moment_at_bracket_N_mm", reading.moment)):
            np.testing.assert_allclose(list(report[words].values()), found[row], atol=1e-7)  # type: ignore[union-attr]
    # movement since the start, from the same poses
    part = course.legs[0].appliance.teeth[13]
    pose = solution.equilibrium.poses.take(part.frame)
    moved = part.pose.inverse().point(pose.point(part.tooth.landmarks["edge"])[0]) - part.tooth.landmarks["edge"]
    np.testing.assert_allclose(reading.crown[reading.of(13)], [moved[0], moved[1], -moved[2]], atol=1e-9)


def test_the_widened_overlay_widens_the_arch_and_its_force_decays(course: Course) -> None:
    first, last = course.legs[0].readings[0], course.legs[0].readings[-1]
    assert last.widths[3] > first.widths[3] + 0.05
    assert last.wires["overlay"].energy < first.wires["overlay"].energy
    assert course.visits[1].after.wires["overlay"].energy > course.visits[1].before.wires["overlay"].energy  # type: ignore[union-attr]
    # never wider than the wire was set
    assert max(r.widths[3] for r in course.readings) < first.widths[3] + 2 * 1.5


def test_mirror_symmetry_survives_a_symmetric_course() -> None:
    course = run_course(scenario(visit=[{"after": "14 days", "reactivate": {"overlay": "0.5 mm"}}], duration="4 weeks"))
    last = course.readings[-1]
    np.testing.assert_allclose(last.crown, last.crown[::-1], atol=2e-4)
    assert abs(last.midline or 0.0) < 1e-4


def ends_apart(tolerance: float) -> float:
    """How far the teeth end from where they end without the visit, mm (turns over 10 mm), of their way and 0.3 mm."""
    plain = run_course(scenario(visit=[], duration="4 weeks", tolerance=tolerance))
    cut = run_course(scenario(visit=[{"after": "11 days"}], duration="4 weeks", tolerance=tolerance))
    mover = plain.legs[0].mover
    a, b = (mover.sockets_of(c.solution_at(-1).equilibrium.poses) for c in (plain, cut))
    apart = np.abs(pose_log(a.inverse() @ b) * np.array([1.0, 1.0, 1.0, 10.0, 10.0, 10.0])).max()
    return float(apart / (plain.legs[0].track.gone + Control.floor))


def test_a_visit_without_action_changes_nothing_but_the_step() -> None:
    # what is left is the error of steps that end elsewhere: of the size of the tolerance, and going to zero with it;
    # between the last two a contact opens within a step, at 4e-5
    coarse, fine, finest = (ends_apart(tolerance) for tolerance in (1e-3, 1e-4, 1e-6))
    assert coarse < 1e-3 and fine < 1.5e-4 and fine < coarse and finest < 0.3 * fine


def test_a_visit_without_action_hands_on_the_moment_bit_for_bit(tmp_path: Path) -> None:
    visits = [{"after": "11 days"}, {"after": "20 days", "reactivate": {"overlay": "0.5 mm"}}]
    course = run_course(scenario(visit=visits, duration="4 weeks"), folder=tmp_path)
    again = run_course(scenario(visit=visits, duration="4 weeks"), folder=tmp_path)
    assert course.legs[0].mover is course.legs[1].mover and all(one.resumed for one in again.legs)
    for run in (course, again):
        one, two = run.legs[0], run.legs[1]
        before = moment_at(one.mover, one.track, len(one.track) - 1)
        after = moment_at(two.mover, two.track, 0)
        np.testing.assert_array_equal(before.poses.position, after.poses.position)
        np.testing.assert_array_equal(before.poses.rotation, after.poses.rotation)
        for a, b in zip(before.evaluation.responses, after.evaluation.responses, strict=True):
            np.testing.assert_array_equal(a.stress, b.stress)
        assert before.ahead > 0.0 and before.lasted > 0.0 and before.gone > 0.0
    for one, two in zip(course.legs, again.legs, strict=True):
        for name in ("times", "rotation", "position", "rate", "lasted", "ahead", "gone"):
            np.testing.assert_array_equal(getattr(one.track, name), getattr(two.track, name))
        for a, b in zip(one.track.memory, two.track.memory, strict=True):
            np.testing.assert_array_equal(np.asarray(a, dtype=float), np.asarray(b, dtype=float))
    # the step that the visit cut short is not what the next one begins with
    steps = np.diff(course.legs[1].track.times)
    assert steps[0] > 0.3 * np.diff(course.legs[0].track.times).max()
    assert course.legs[2].track.gone > course.legs[1].track.gone > course.legs[0].track.gone


def test_lag_rests_first() -> None:
    course = run_course(scenario(visit=[], duration="10 days", lag="4 days"))
    assert course.times[1] == 4.0
    np.testing.assert_array_equal(course.readings[0].crown, course.readings[1].crown)
    assert not np.array_equal(course.readings[-1].crown, course.readings[1].crown)


def test_a_rule_adds_torque_and_eases_the_overlay_and_says_so() -> None:
    rule = {"teeth": [13, 23], "lead": "0.01 mm", "wire": "main", "torque": "4 deg buccal root", "most": "6 deg",
            "ease": {"overlay": "0.3 mm"}}  # fmt: skip
    course = run_course(scenario(visit=[{"after": f"{k} days"} for k in (7, 14, 21)], duration="4 weeks", rule=[rule]))
    assert course.visits[0].rules == ()
    assert any("crown leads root at 13 by" in line and "4 deg" in line for line in course.visits[1].rules)
    assert any("eased by 0.3 mm a side (now 0.7 mm" in line for line in course.visits[1].rules)
    assert any("2 deg buccal root torque added at 13, 23 (now 6 deg" in line for line in course.visits[2].rules)
    assert course.visits[3].rules == () and course.visits[3].before.lead[0] < 0.01  # type: ignore[union-attr]
    full = follow(course.legs[2].scenario, course.scenario.course.rule, dict.fromkeys((13, 23), 1.0))  # type: ignore[union-attr]
    assert any("no more torque at 13, 23: the rule's most, 6 deg" in line for line in full.lines)


def test_limits_flag_and_stop() -> None:
    bone = {"13": {"buccal": "0.02 mm"}}
    flagged = run_course(scenario(visit=[], duration="3 weeks", bone=bone))
    assert flagged.stopped is None and flagged.times[-1] == 21.0
    assert any(f.kind == "bone" and f.tooth == 13 and "0.02 mm of bone" in f.text for f in flagged.flags)
    stopped = run_course(scenario(visit=[], duration="3 weeks", bone=bone, stop_at=["bone"]))
    assert stopped.stopped is not None and "tooth 13" in stopped.stopped and stopped.times[-1] < 21.0


def test_killed_and_run_again_goes_on_from_the_last_visit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class KilledError(Exception):
        pass

    def kill(what: str, share: float) -> None:
        if share > 30 / 70:
            raise KilledError

    with pytest.raises(KilledError):
        run_course(scenario(), folder=tmp_path, progress=kill)
    files = sorted(tmp_path.iterdir())
    assert [f.name for f in files] == ["leg-000.leg", "leg-001.leg"]
    again = run_course(scenario(), folder=tmp_path)
    assert [one.resumed for one in again.legs] == [True, True, False]
    fresh = run_course(scenario())
    np.testing.assert_array_equal(again.times, fresh.times)
    for a, b in zip(again.legs, fresh.legs, strict=True):
        np.testing.assert_array_equal(a.track.position, b.track.position)
    assert [v.actions for v in again.visits] == [v.actions for v in fresh.visits]
    # a file cut short or changed is done again, and so is all that hangs on it only where it differs
    data = files[0].read_bytes()
    for damaged in (data[: len(data) // 2], data[:-3] + b"xyz"):
        files[0].write_bytes(damaged)
        assert [one.resumed for one in run_course(scenario(), folder=tmp_path).legs] == [False, True, True]
    # other code: nothing is taken over
    with monkeypatch.context() as patch:
        patch.setattr(store, "program", lambda: "other code")
        assert not any(one.resumed for one in run_course(scenario(), folder=tmp_path).legs)
    # other inputs: nothing is taken over
    other = run_course(scenario(tolerance=3e-3), folder=tmp_path)
    assert not any(one.resumed for one in other.legs)


def test_the_hash_of_the_code_knows_every_file_that_computes(tmp_path: Path) -> None:
    for name, text in (("a.py", "x = 1"), ("mechanics/b.py", "y = 1"), ("report/c.py", "z = 1"), ("cli/d.py", "")):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    first = hash_of_code(tmp_path)
    for name in ("report/c.py", "cli/d.py", "mechanics/notes.txt"):
        (tmp_path / name).write_text("other")
        assert hash_of_code(tmp_path) == first
    seen = {first}
    for name in ("a.py", "mechanics/b.py", "mechanics/new.py"):
        (tmp_path / name).write_text("y = 2")
        seen.add(hash_of_code(tmp_path))
    (tmp_path / "mechanics/new.py").rename(tmp_path / "mechanics/newer.py")
    seen.add(hash_of_code(tmp_path))
    assert len(seen) == 5 and program() == program()


@pytest.mark.parametrize(
    ("course", "text"),
    [
        ({"visit": [{"after": "4 weeks"}, {"after": "2 weeks"}]}, "course.visit[2].after"),
        ({"visit": [{"after": "4 weeks"}, {"after": "28 days"}]}, "does not come after visit 1"),
        ({"visit": [{"date": "2024-12-31"}]}, "does not come after the start"),
        ({"visit": [{"after": "10 weeks"}]}, "not before the end"),
        ({"visit": [{"after": "4 weeks", "torque": {"main": {"16": "5 deg buccal root"}}}]}, "names tooth 16"),
        ({"visit": [{"after": "4 weeks", "torque": {"main": {"18": "5 deg buccal root"}}}]}, "is no tooth number"),
        ({"visit": [{"after": "4 weeks", "remove": ["overlay"]}, {"after": "5 weeks", "remove": ["overlay"]}]},
         "takes out wire 'overlay', which is not there"),
        ({"visit": [{"after": "4 weeks", "reactivate": {"overlai": "1 mm"}}]}, "Did you mean 'overlay'?"),
        ({"visit": [{"after": "4 weeks", "release": {"overlay": [12]}}]}, "names tooth 12, which does not hold"),
        ({"visit": [{"date": "2025-01-15", "after": "2 weeks"}]}, "and not both"),
        ({"visit": [{"remove": ["overlay"]}]}, "must be given, or `date`"),
        ({"law": "power", "slope": "1 mm/month"}, "has no meaning with law"),
        ({"law": "logaritmic"}, "Did you mean 'logarithmic'?"),
        ({"rule": [{"teeth": [13], "lead": "1 mm"}]}, "give torque to add, or `ease`"),
        ({"duration": "12 mm"}, "no unit of time"),
        ({"bone": {"16": {"buccal": "1 mm"}}}, "names tooth 16"),
    ],
)  # fmt: skip
def test_a_bad_course_gives_one_clear_error(course: dict[str, Any], text: str) -> None:
    with pytest.raises(InputError) as caught:
        scenario(**course)
    lines = str(caught.value).split("\n")
    assert len(lines) == 1 and text in lines[0] and "course." in lines[0]


def test_a_visit_that_cannot_be_done_is_refused_before_anything_is_computed() -> None:
    visits = [{"after": "4 weeks", "wire": {"main": {"heigth": "0.021 in"}}}]
    with pytest.raises(InputError, match=r"course.visit\[1\].wire.main.heigth .*Did you mean 'height'"):
        run_course(scenario(visit=visits), progress=lambda *_: pytest.fail("computed"))
    document = {k: v for k, v in BASE.items() if k != "course"}
    with pytest.raises(InputError, match="no \\[course\\]"):
        run_course(Scenario.parse(document))


def test_ties_and_wires_change_at_visits() -> None:
    third = {"section": "round", "diameter": "0.5 mm", "alloy": "beta-titanium", "gingival": "2 mm",
             "hold": [{"teeth": [12, 11, 21, 22], "by": "tie"}]}  # fmt: skip
    visits = [
        {"after": "1 week", "hold": {"overlay": [{"teeth": [13, 23], "by": "tie", "material": "steel"}]}},
        {"after": "2 weeks", "release": {"overlay": [11]}},
        {"after": "3 weeks", "wire": {"main": {"height": "0.021 in"}, "third": third}},
    ]
    course = run_course(scenario(visit=visits, duration="4 weeks"))
    assert [list(one.appliance.wires) for one in course.legs] == [
        *[["main", "overlay"]] * 3, ["main", "overlay", "third"],
    ]
    assert [h.tooth for h in course.legs[2].appliance.holds if h.wire == "overlay"] == [13, 21, 23]
    assert course.visits[1].actions == ("wire 'overlay' now tied to 13, 23 (steel)",)
    assert course.visits[2].actions == ("wire 'overlay' let go at 11",)
    assert course.visits[3].actions == (
        "wire 'main': beta-titanium 0.021 x 0.025 in instead of 0.019 x 0.025 in",
        "wire 'third' put in: beta-titanium 0.5 mm round, 2 mm gingival of the bracket line, tied to 12, 11, 21, 22",
    )
    assert all(r.unbalanced < 1e-7 for r in course.readings)
    moved = [one.readings[0].crown - two.readings[-1].crown for two, one in zip(course.legs, course.legs[1:], strict=False)]
    assert max(np.abs(m).max() for m in moved) < 0.2  # teeth stay where they are, but for the elastic part
