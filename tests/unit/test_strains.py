"""Strains at which a wire breaks or may break: in one equilibrium and over a course, as on the bench."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from courses import TEXT
from test_wires_with_memory import BASE, STEEL, scenario, solved

from biomech.bench.drive import UNKNOWN
from biomech.cli import main
from biomech.scenario import Scenario
from biomech.studies import Solution, solve
from biomech.studies.course import Course, run_course
from biomech.studies.course_files import course_record
from biomech.studies.curves import curves
from biomech.studies.strains import Strained, course_warnings, strain_words, strained_most
from biomech.studies.warnings import amount

HIGH = {"wire.main.alloy": STEEL, "tooth.12.slot_up": "5 mm gingival"}
DOUBT = "may kink or break"


@cache
def far() -> Solution:
    return solve(scenario().changed(HIGH))


@pytest.mark.parametrize(
    ("limit", "strain", "says"),
    [
        (math.inf, 0.9 * UNKNOWN, None),
        (math.inf, 1.1 * UNKNOWN, "wire 'main' may kink or break near tooth 12, then: a fibre is strained by 5.5 %; at which "
                                  "strain its alloy breaks is not known"),
        (0.12, 0.119, None),
        (0.12, 0.13, "wire 'main' would break near tooth 12, then: a fibre is strained by 13.0 %, beyond the 12.0 % at which"),
    ],
)  # fmt: skip
def test_words(limit, strain, says):
    text = strain_words("main", limit, Strained(strain, 12), ", then")
    assert text is None if says is None else text.startswith(says)
    if text is not None:
        assert text.endswith("Activate less at a time, or use a thinner wire")
        by_hand = strain_words("main", limit, Strained(strain, None), ", then")
        assert " in the hands: a fibre" in by_hand and by_hand.endswith("Open it less, or use a thinner wire")


def test_a_yielding_wire_bent_far_is_doubted_where_it_is_strained_most():
    found = far()
    view = found.wires["main"]
    assert view.inner.strain > UNKNOWN and math.isinf(view.inner.strain_limit)
    lines = [line for line in found.warnings if DOUBT in line]
    assert len(lines) == 1 and found.warnings[0] == lines[0]
    assert f"strained by {100 * view.inner.strain:.1f} %" in lines[0]
    strain = view.inner.inside.strain
    rows = np.unravel_index(int(np.argmax(strain)), strain.shape)
    s = view.part.s[rows[0] + rows[1]]
    nearest = min(found.appliance.teeth.values(), key=lambda part: abs(part.s - s)).number
    assert f"near tooth {nearest}: " in lines[0] and nearest in (13, 12, 11)
    assert not any(DOUBT in line for line in solved(STEEL).warnings), "strained by less, it is not doubted"


def test_a_superelastic_wire_is_held_against_the_strain_at_which_it_breaks():
    found = solve(scenario().changed({"tooth.12.slot_up": "5 mm gingival"}))
    assert UNKNOWN < found.wires["main"].inner.strain < found.wires["main"].inner.strain_limit
    assert not any("break" in line for line in found.warnings)


@pytest.mark.parametrize(("value", "text"), [(0.334, "0.33"), (1.0, "1"), (99.4, "99"), (99.6, "100"), (163.2, "163")])
def test_large_amounts_are_no_powers_of_ten(value, text):
    assert amount(value) == text


def test_what_was_strained_more_in_the_hands_is_told_so():
    part = far().wires["main"].part
    opened = SimpleNamespace(past=SimpleNamespace(strained=0.4), s=part.s)
    assert strained_most(far().appliance, opened, far().wires["main"].inner.inside.strain) == Strained(0.4, None)


@cache
def course() -> Course:
    """A superelastic wire that is strained more but known to bear it, and at the only visit a steel one in its place."""
    change = {"alloy": STEEL, "height": "0.018 in"}
    table = {"duration": "4 days", "visit": [{"after": "2 days", "wire": {"main": change}}]}
    start = {**BASE, "tooth": {"12": {"slot_up": "5 mm gingival"}}, "course": table}
    return run_course(Scenario.parse(start))


def test_a_course_says_at_which_visit():
    found = course()
    (line,) = (line for line in course_warnings(found) if DOUBT in line)
    assert "on day 2, as visit 1 leaves it: a fibre" in line and "near tooth 1" in line
    last = found.solution_at(len(found.legs[0].readings)).wires["main"].inner
    assert f"strained by {100 * last.strain:.1f} %" in line
    assert line in course_record(found)["warnings"] and line in curves(found).warnings
    assert set(found.warnings) < set(course_warnings(found))


def test_a_course_stopped_before_tells_nothing_of_it():
    first = replace(course(), legs=course().legs[:1], visits=course().visits[:1])
    assert course_warnings(first) == first.warnings


def test_command_and_report_tell_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    from biomech.report.html.course import write_course_report

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("biomech.studies.course.run_course", lambda *_, **__: course())
    Path("case.toml").write_text(TEXT, encoding="utf-8")
    assert main(["course", "case.toml", "--no-pictures"]) == 0
    assert DOUBT in capsys.readouterr().out
    assert any(DOUBT in line for line in json.loads(Path("out/case/course.json").read_text())["warnings"])
    assert DOUBT in write_course_report(course(), tmp_path / "report.html").read_text(encoding="utf-8")
