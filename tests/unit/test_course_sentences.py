"""What differs between courses in words, on made-up readings: signs, ways, kinds, lengths, limits, rules."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from courses import compared

from biomech.movement.limits import Flag
from biomech.report.course_comparison import cells, limit_lines
from biomech.studies.compare_courses import CourseComparison
from biomech.studies.course_prescriptions import VISIBLE, WHY, Pair, prescription_sentences
from biomech.studies.course_sentences import band_of, course_sentences, kind
from biomech.studies.curves import Curves
from biomech.studies.prescriptions import FINDING
from biomech.studies.rows import Row
from biomech.studies.variants import Variant, key_words


def moved(course: Curves, crown: float, apex: float, tip: float = 0.0) -> Curves:
    """Return a course whose last reading has other buccal movements (mm) and tip (deg) of all teeth."""
    last = course.legs[-1][-1]
    way = np.array([0.0, 1.0, 0.0])
    new = dataclasses.replace(
        last, crown=np.ones_like(last.crown) * crown * way, apex=np.ones_like(last.apex) * apex * way,
        turn=np.ones_like(last.turn) * -tip * np.array([1.0, 0.0, 0.0]),
    )  # fmt: skip
    return dataclasses.replace(course, legs=(*course.legs[:-1], (*course.legs[-1][:-1], new)))


def pair(*courses: Curves, keys: tuple[str, ...] = ("wire.main.torque.13",)) -> CourseComparison:
    labels = ("0 deg", "9 deg buccal root", "18 deg buccal root")
    variants = [Variant(label, compared().variants[0].scenario, label) for label in labels[: len(courses)]]
    return dataclasses.replace(compared(), variants=tuple(variants), courses=courses, keys=keys, teeth=(13,))


def test_crown_and_root_against_the_reference() -> None:
    course = compared().courses[0]
    found = course_sentences(pair(moved(course, 2.72, 0.31, 6.1), moved(course, 2.31, 2.2, 0.3)))
    assert found[0] == (
        "After 42 days with 9 deg buccal root, the crowns of 13 and 23 stand 0.41 mm less far out than with torque 0 deg "
        "(2.31 mm buccally, against 2.72), the roots at the apices 1.89 mm farther out (2.20 mm buccally, against 0.31): "
        "the root goes along; in the reference the root lags."
    )
    assert found[1] == (
        "The crowns of 13 and 23 tip 0.3 deg buccally (0.1 deg/mm of crown), against 6.1 deg buccally (2.2 deg/mm of "
        "crown) in the reference."
    )
    assert found[2].startswith("Buccal force (N) and torque moment (N.mm) left on 13 then: ")


def test_ways_are_said_where_they_differ() -> None:
    course = compared().courses[0]
    found = course_sentences(pair(moved(course, -0.5, 0.2), moved(course, 0.4, 0.2, -1.0)))
    assert "stand 0.90 mm farther out" in found[0] and "(0.40 mm buccally, against 0.50 lingually)" in found[0]
    assert "no farther out (0.20 mm buccally, against 0.20)" in found[0]
    assert "tip 1.0 deg lingually" in found[1] and "against 0 deg" in found[1]


def test_the_largest_force_is_told_with_tooth_and_day_though_the_ends_are_alike() -> None:
    course = compared().courses[0]
    first = course.legs[0][0]
    force = np.zeros_like(first.force)
    force[first.of(12)] = [-3.0, 0.0, 4.0]
    pulled = dataclasses.replace(course, legs=((dataclasses.replace(first, force=force), *course.legs[0][1:]), *course.legs[1:]))
    found = course_sentences(pair(course, pulled))
    assert found[0].startswith("The courses do the same")
    assert found[1].startswith("The largest force on a tooth (N, its size): ")
    assert found[1].endswith(", 5.00 at 12 on day 0 (9 deg buccal root).")


def test_courses_that_do_the_same() -> None:
    course = compared().courses[0]
    assert course_sentences(pair(course, course))[0].startswith("The courses do the same: after 42 days no crown")
    three = course_sentences(pair(moved(course, 1.0, 1.0), moved(course, 1.0, 1.0), moved(course, 2.0, 1.0)))
    assert three[0] == "After 42 days with 9 deg buccal root, teeth 13 and 23 stand as with torque 0 deg."


@pytest.mark.parametrize(
    ("crown", "apex", "words"),
    [(2.0, 0.1, "the apex rests"), (2.0, -1.0, "the apex goes the other way"), (2.0, 1.0, "the root lags"),
     (2.0, 2.0, "the root goes along"), (2.0, 3.0, "the root leads"), (0.1, 3.0, "the root moves alone"),
     (-2.0, -1.0, "the root lags"), (0.01, -0.02, "the tooth hardly moves")],
)  # fmt: skip
def test_kinds(crown: float, apex: float, words: str) -> None:
    assert kind(crown, apex) == words


def test_stopped_shorter_and_ruled_courses_are_said() -> None:
    a = compared().courses[0]
    acted = dataclasses.replace(a.visits[1], rules=("rule: …: wire 'overlay' eased by 1 mm a side",), flags=(Flag("bone", 20.0, 13, "out"), Flag("wire", 21.0, None, "set")))
    b = dataclasses.replace(a, legs=a.legs[:2], visits=(a.visits[0], acted), stopped="day 28: out")
    found = course_sentences(pair(a, b))
    assert found[0] == "The course of 9 deg buccal root was stopped by a limit: day 28: out."
    assert found[1] == (
        "The courses differ in length: 42 days (0 deg), 28 days (9 deg buccal root); what follows compares them after 28 days."
    )
    idle = dataclasses.replace(a.visits[2], rules=("rule: …: wire 'overlay' is out: nothing to take back",))
    c = moved(dataclasses.replace(a, visits=(a.visits[0], acted, idle)), 1.0, 1.0)
    text = course_sentences(pair(a, c))
    assert "Rules acted with torque 0 deg never; with 9 deg buccal root at visit 1." in text
    assert any(line.startswith("Limits passed: ") and "with 9 deg buccal root bone, " in line for line in text)


def test_limits_of_a_tooth_are_told_once() -> None:
    a = compared().courses[0]
    flags = tuple(Flag("bone", float(day), tooth, f"{tooth} out") for day, tooth in ((1, 13), (2, 12), (9, 13), (20, 13)))
    visits = (dataclasses.replace(a.visits[0], flags=flags), *(dataclasses.replace(v, flags=()) for v in a.visits[1:]))
    assert list(limit_lines(dataclasses.replace(a, visits=visits))) == [
        "limit passed on day 1: 13 out (again after 2 later visits)", "limit passed on day 2: 12 out",
    ]  # fmt: skip


def prescribed(*tips: float) -> list[str]:
    """Return what is said of courses A, B and C that tip all teeth (deg)."""
    course = compared().courses[0]
    found = pair(*(moved(course, 1.0, 0.0, tip) for tip in tips), keys=("bracket.prescription",))
    variants = tuple(Variant(name, compared().variants[0].scenario, name) for name in "ABC"[: len(tips)])
    return list(prescription_sentences(dataclasses.replace(found, variants=variants)))


def test_every_pair_of_prescriptions_is_told() -> None:
    text = prescribed(1.0, 4.0, 9.5)
    assert text[0] == "Torque of the slots at 12, deg: +3 (A), +8 (B), +10 (C)."
    assert text[1] == (
        "After 42 days the inclinations of the incisors differ at most, deg: 3.0 between A and B (at 12, slots 5), 8.5 "
        "between A and C (at 12, slots 7), 5.5 between B and C (at 12, slots 2)."
    )


def test_a_run_that_parts_b_from_c_disagrees_with_patients() -> None:
    text = prescribed(1.0, 4.0, 4.0 + VISIBLE + 0.1)
    assert FINDING in text[-2] and text[-2].startswith("Plausibility, not validation")
    assert text[-1].startswith("This run disagrees with patients: B and C end 3.7 deg apart") and WHY in text[-1]


def test_a_run_that_does_not_part_them_is_no_validation() -> None:
    text = prescribed(1.0, 4.0, 4.0 + VISIBLE - 0.1)
    assert FINDING in text[-2]
    assert text[-1].startswith("This run does not contradict it: B and C end 3.5 deg apart")
    assert not any("patients" in s for s in prescribed(1.0, 4.0))  # A and B: nothing was published of them


def test_play_is_told_as_it_was_left() -> None:
    kept = next(s for s in prescribed(0.0, 2.0, 4.0) if s.startswith("A wire at rest"))
    assert "play still keeps, deg: 3.0 of 5 between A and B, 3.0 of 7 between A and C, 0.0 of 2 between B and C." in kept
    level = next(s for s in prescribed(0.0, 5.0, 10.0) if s.startswith("A wire at rest"))
    assert "Nothing of that is left" in level and "ligatures" in level


def test_the_tilt_of_the_whole_arch_is_taken_off() -> None:
    one = Pair("B", "C", 11, teeth=6.5, slots=5.0, tilt=1.5)
    assert one.share == pytest.approx(1.0)
    assert Pair("B", "C", 11, teeth=6.5, slots=5.0, tilt=None).share == pytest.approx(1.3)
    assert Pair("B", "C", 11, teeth=6.5, slots=0.0, tilt=None).share is None


def test_bands() -> None:
    pace, tip = band_of("arch.width_mm_per_month.first_molar"), band_of("teeth.46.buccal_tip_deg")
    assert pace is not None and (pace.low, pace.high, pace.unit) == (0.5, 1.1, "mm/month") and "abstract" in pace.source
    assert tip is not None and (tip.low, tip.high) == (1.0, 3.0)
    assert band_of("teeth.13.buccal_tip_deg") is None


def test_cells_of_a_table() -> None:
    def row(unit: str, *values: Any) -> Row:
        return Row("", "", "", unit, values)

    assert cells(row("mm", 2.0, 1.5, None), [0, 1, 2], 2) == ["2.00", "1.50", "-0.50 (-25 %)", "-", "-"]
    assert cells(row("mm", -2.0, -1.5), [0, 1], 2) == ["-2.00", "-1.50", "+0.50"]  # no percent of what is negative
    assert cells(row("", 0.5, 1.0), [0, 1], 2) == ["0.50", "1.00", "+0.50"]
    assert cells(row("mm", 0.01, 1.0), [0, 1], 2) == ["0.01", "1.00", "+0.99"]
    assert cells(row("mm", 1.0, 1.001), [0, 1], 2) == ["1.00", "1.00", "0.00"]


def test_keys_of_a_course_in_words() -> None:
    assert key_words(["course.most"])[-1] == "largest speed"
    assert key_words(["course.rule[1].most"])[-1] == "largest torque of the rule"
    assert key_words(["course.visit[2].reactivate.overlay"])[-1] == "re-activation of overlay"
    assert key_words(["course.visit[2].torque.main.16"])[-1] == "main"
