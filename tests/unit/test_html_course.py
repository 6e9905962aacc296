"""The HTML report of a course: the slider goes from visit to visit, curves are what was read on the way."""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import replace
from functools import cache
from html import escape, unescape

import numpy as np
import pytest
from solved import TEXT

from biomech.cli import main
from biomech.mechanics.links import Linear
from biomech.report.html.checks import balance, residual
from biomech.report.html.course import write_course_report
from biomech.report.html.course_checks import checked_course
from biomech.scenario import Scenario
from biomech.studies.course import run_course
from biomech.studies.course_files import measures_before

COURSE = """
[course]
law = "proportional"
start = 2025-01-13
duration = "8 weeks"
[[course.visit]]
date = 2025-01-27
[[course.visit]]
date = 2025-02-10
reactivate = { overlay = "1 mm" }
note = "seen < again"
"""


@cache
def course():
    return run_course(Scenario.parse(tomllib.loads(TEXT + COURSE)))


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    return write_course_report(course(), tmp_path_factory.mktemp("c") / "course.html").read_text(encoding="utf-8")


def steps(page):
    found = re.search(r'<script type="application/json" id="viewer-data">(.*?)</script>', page, re.DOTALL)
    return json.loads(found[1])["steps"]


def test_steps_are_the_visits(page):
    assert [s["label"] for s in steps(page)] == [
        "start", "day 0", "visit 1, day 14, found", "visit 2, day 28, found", "visit 2, day 28, left", "day 56, end"
    ]  # fmt: skip
    assert "re-activated" in steps(page)[4]["note"] and "seen < again" in steps(page)[4]["note"]


def test_numbers_of_every_step_are_what_was_read(page):
    shown = steps(page)[1:]
    lengths = np.cumsum([len(leg.track) for leg in course().legs])
    at = [0, lengths[0] - 1, lengths[1] - 1, lengths[1], lengths[2] - 1]
    for step, i in zip(shown, at, strict=True):
        reading = course().readings[i]
        for row, crown, force in zip(step["numbers"], reading.crown, reading.force, strict=True):
            assert float(row[1].replace("−", "-")) == pytest.approx(crown[1], abs=0.51e-3)
            assert float(row[3].replace("−", "-")) == pytest.approx(force[1], abs=0.51e-2)


def test_visits_curves_and_the_scenario_are_there(page):
    text = unescape(page)
    assert "2025-02-10" in text and "the rate law “proportional”" in text and "seen < again" in text
    assert "Change of width" in text and "What is left in the wires" in text
    assert "follows the rate law the scenario names" in text
    again = Scenario.parse(tomllib.loads(unescape(re.search(r'<pre class="scenario">(.*?)</pre>', page, re.DOTALL)[1])))
    assert again.document == course().scenario.document and again.course is not None


def test_widths_have_one_zero_the_arch_before_the_wires(page):
    before, last = measures_before(course()), course().readings[-1]
    shown = [s["motions"] for s in steps(page)]
    assert all(value == 0.0 for motion in shown[0] for value in motion)
    gain = last.widths[3] - before.widths[3]
    row = next(r for r in table_rows(page) if r[0] == "width between the canines")
    assert float(row[1].replace("−", "-")) == pytest.approx(gain, abs=0.51e-3)
    first, curve = course().readings[0].widths[3] - before.widths[3], curve_of(page, "Change of width")
    assert abs(first) > 1e-3  # the wires, just laid in, have moved the teeth within their ligaments
    assert curve[0] / curve[-1] == pytest.approx(first / gain, abs=0.02)


def test_force_tables_name_their_step_and_show_where_the_course_pushes(page):
    solutions = [course().solution_at(i) for i in (0, -1)]
    text = unescape(re.sub("<[^>]+>", "", page))
    assert re.search(r"Force and moment of wires and loads on each tooth [^.]*, at step “[^”]+”\.", text)
    assert "Displacement since the start (+ mesial, + buccal, + occlusal), at step “day 56, end”" in text
    largest = max(float(np.linalg.norm(r.force, axis=1).max()) for r in course().readings)
    forces = page[page.index("Force and moment of wires"):page.index("Kind of movement in")]
    rows = [[float(c.replace("−", "-")) for c in row[1:4]] for row in table_rows(forces) if len(row) == 10 and row[0] in "13 12 11 21 22 23"]
    assert max(float(np.linalg.norm(row)) for row in rows) == pytest.approx(largest, abs=2e-3)
    assert solutions[0].teeth.keys() == solutions[1].teeth.keys() and len(rows) == 6


def test_midline_perimeter_and_widths_at_every_visit(page):
    before = measures_before(course())
    found = page[page.index('id="arch-visits"'):]
    rows = table_rows(found[: found.index("</table>")])
    stops = [course().visits[1].before, course().visits[2].before, course().readings[-1]]
    for row, r in zip(rows[-3:], stops, strict=True):
        values = [float(cell.replace("−", "-")) for cell in row[1:6]]
        wanted = [r.day, r.widths[3] - before.widths[3], r.apex_widths[3] - before.apex_widths[3], r.midline,
                  r.perimeter - before.perimeter]  # fmt: skip
        assert values == pytest.approx(wanted, abs=0.51e-2)
    assert curve_of(page, "Dental midline") and curve_of(page, "Change of the arch's perimeter")


def test_every_tooth_has_its_curves(page):
    for n in course().readings[0].teeth:
        for title in (f"Movement of tooth {n}", f"Tip of tooth {n}", f"Force on tooth {n}", f"Torque on tooth {n}"):
            assert page.count(f"<title>{title}</title>") == 1


def table_rows(page):
    rows = re.findall(r"<tr>(.*?)</tr>", page, re.DOTALL)
    return [[unescape(re.sub(r"<[^>]*>", "", cell)) for cell in re.findall(r"<t[hd].*?</t[hd]>", row)] for row in rows]


def curve_of(page, title):
    """Return the heights above zero of the first curve of a chart, in its own scale."""
    chart = re.search(rf"<title>{escape(title)}</title>(.*?)</svg>", page, re.DOTALL)[1]
    zero = float(re.search(r'class="axis"[^>]* y1="([\d.]+)"', chart)[1])
    points = re.search(r'<polyline[^>]* points="([^"]+)"', chart)[1].split()
    return [zero - float(p.split(",")[1]) for p in points]


def checks_of(found):
    return {c.what: c for c in found.checks}


def test_checks_follow_from_the_course():
    solutions = [course().solution_at(0), course().solution_at(-1)]
    claim = {"met": False}
    found = checks_of(checked_course(course(), solutions, [{"met": True}, claim]))
    forces = found["forces in equilibrium"]
    assert 0.0 < float(forces.found.split()[0]) < 1e-7 and forces.verdict == "met"
    assert found["the equilibria are stable"].found == "2 of 2 moments shown"
    errors = np.concatenate([leg.track.errors for leg in course().legs])
    assert found["steps in time"].found.startswith(f"{(errors > 0).sum()} steps") and errors.max() > 0
    assert "crowns" in found["mesh: every element halved, on the first day"].found
    assert found["what the scenario expects of the course"].verdict == "NOT met"


def test_what_fails_is_said_to_fail():
    solution = course().solution_at(0)
    off = replace(solution, equilibrium=replace(solution.equilibrium, residual=np.array([3e-8])))
    assert residual([solution, off], 1e-9, "").verdict == "NOT met" and residual([solution], 1e-9, "").verdict == "met"
    assert balance(1e-4, 0.0, 2.0).verdict == "NOT met" and balance(1e-7, 0.0, 2.0).verdict == "met"
    network = solution.equilibrium.network
    groups = [g.with_law(Linear(-g.law.stiffness, g.law.rest)) if isinstance(g.law, Linear) else g for g in network.groups]
    found = replace(solution, equilibrium=replace(solution.equilibrium, network=network.replaced(groups), evaluated=None))
    assert checks_of(checked_course(course(), [solution, found], []))["the equilibria are stable"].verdict == "NOT met"


def test_what_was_not_checked_is_said(page):
    text = unescape(page)
    assert "no boundary was given for any tooth" in text and "elements were halved for the first day only" in text
    bone = {str(n): {"buccal": "2 mm"} for n in course().readings[0].teeth}
    told = replace(course(), scenario=course().scenario.changed({"course.bone": bone}))
    assert not any("no boundary" in line for line in checked_course(told, [course().solution_at(0)], []).missing)


def test_command_line_goes_on_from_what_the_course_left(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "case.toml").write_text(TEXT + COURSE, encoding="utf-8")
    assert main(["report", "case.toml"]) == 0
    report = tmp_path / "out" / "case" / "report.html"
    assert "visit 1, day 14, found" in report.read_text(encoding="utf-8") and "All computed now" in capsys.readouterr().out
    kept = {p.name: p.stat().st_mtime_ns for p in (tmp_path / "out" / "case" / "legs").iterdir()}
    assert len(kept) == 3
    assert main(["course", "case.toml", "--no-pictures"]) == 0
    assert "Resumed: 3 of 3" in capsys.readouterr().out
    assert main(["report", "case.toml", "--out", "elsewhere/r.html"]) == 0
    assert "Resumed: 3 of 3" in capsys.readouterr().out and not (tmp_path / "elsewhere" / "legs").exists()
    assert {p.name: p.stat().st_mtime_ns for p in (tmp_path / "out" / "case" / "legs").iterdir()} == kept
    assert "3 of 3 stretches between visits were not computed again" in (tmp_path / "elsewhere" / "r.html").read_text("utf-8")
