"""The section on trust: three meshes, swings of inputs, what is compared with what, inputs that were taken out later."""

from __future__ import annotations

import datetime
import re
import tomllib
from functools import cache
from html import unescape
from pathlib import Path

import pytest
from solved import TEXT, held, small

from biomech.cache import program
from biomech.report.html import report_text
from biomech.report.html.checks import MISSING, sides
from biomech.report.html.course import write_course_report
from biomech.report.html.mesh_study import mesh, views_on
from biomech.report.html.sensitivity import buccal, most_moved
from biomech.report.html.swings import SHARE, SIZE, band, band_words, slot_play, swings, swings_section
from biomech.report.html.validation import COMPARED, validation_table
from biomech.scenario import Scenario
from biomech.studies import solve
from biomech.studies.course import run_course
from biomech.studies.record import fingerprint
from biomech.studies.solve import compare_meshes
from biomech.studies.warnings import play_of

TESTS = Path(__file__).parents[1] / "validation"
COURSE = """
[course]
law = "proportional"
duration = "6 weeks"
[[course.visit]]
after = "2 weeks"
reactivate = { overlay = "1 mm" }
[[course.visit]]
after = "4 weeks"
remove = ["overlay"]
"""


@cache
def page():
    return report_text([("in equilibrium", small())])


def rows_of(text, caption):
    """Return the texts of the cells of the table whose caption begins so."""
    start = text.index(f"<caption>{caption}")
    body = text[start : text.index("</table>", start)]
    rows = re.findall(r"<tr>(.*?)</tr>", body, re.DOTALL)
    return [[unescape(re.sub(r"<[^>]*>", "", c)) for c in re.findall(r"<t[hd].*?</t[hd]>", row)] for row in rows]


def number_of(text):
    return float(text.replace("−", "-"))


def test_bounds_of_the_comparisons_stand_in_the_tests_that_make_them():
    for one in COMPARED:
        assert one.bound in (TESTS / one.test).read_text(encoding="utf-8"), one
    assert len({(one.what, one.what_with) for one in COMPARED}) == len(COMPARED)
    few, all_ = (validation_table(used) for used in ({"form"}, {one.part for one in COMPARED}))
    assert few.count("<tr>") == 2 and all_.count("<tr>") == 1 + len(COMPARED)


def test_three_meshes_converge_and_say_at_which_order():
    checks = list(mesh(small(), "the result"))
    assert [c.what for c in checks] == [
        "mesh: every element halved, the result", "mesh: every element halved again, the result"
    ]  # fmt: skip
    half, quarter = views_on(small(), 2), views_on(small(), 4)
    first, second = compare_meshes(small().teeth, half), compare_meshes(half, quarter)
    assert f"crowns {100 * first.displacement:.2g} %" in checks[0].found
    assert f"crowns {100 * second.displacement:.2g} %" in checks[1].found
    order = float(re.search(r"at order ([\d.]+)", checks[1].found)[1])
    assert 2.0 ** order == pytest.approx(first.displacement / second.displacement, rel=0.05)
    assert second.displacement < first.displacement < 0.02


def test_a_large_mesh_is_refined_once_unless_more_is_asked_for(monkeypatch):
    monkeypatch.setattr("biomech.report.html.mesh_study.MANY", 10)
    assert [c.verdict == MISSING for c in mesh(small(), "here")] == [False, True]
    asked = solve(small().scenario.changed({"solve.refinement": True}))
    assert [c.verdict == MISSING for c in mesh(asked, "here")] == [False, False]


def test_swings_are_those_of_whole_solutions():
    solution, tooth = small(), most_moved(small())
    found = {s.parameter: s for s in swings(solution, tooth)}
    section = solution.appliance.wires["overlay"].section.height
    thick = solve(solution.scenario.changed({"wire.overlay.diameter": f"{(1 + SIZE) * section} mm"}))
    assert found["diameter of wire 'overlay'"].more == pytest.approx(buccal(thick.teeth[tooth]), rel=1e-6, abs=1e-9)
    name, height, clearance = slot_play(solution)
    assert name == "main" and clearance == pytest.approx(height - solution.appliance.wires["main"].section.height)
    wide = solve(solution.scenario.changed({"bracket.slot_height": f"{height + SHARE * clearance} mm"}))
    (key,) = (k for k in found if k.startswith("play of wire 'main'"))
    assert found[key].more == pytest.approx(buccal(wide.teeth[tooth]), rel=1e-6, abs=1e-9)
    young = solution.appliance.wires["overlay"].alloy.young
    stiff = solve(solution.scenario.changed({"wire.overlay.young": f"{(1 + SHARE) * young:.6f} MPa"}))
    assert found["Young's modulus of wire 'overlay'"].more[0] == pytest.approx(buccal(stiff.teeth[tooth])[0], rel=0.02)
    here = buccal(solution.teeth[tooth])
    crown, _ = band(here, list(found.values()))
    assert max(abs(s.more[0] - here[0]) for s in found.values()) <= crown


def test_a_section_too_large_for_its_slot_has_no_answer_and_says_so():
    full = small().scenario.changed({"wire.main.height": "0.0219 in", "wire.main.torque": {}})
    solution = solve(full)
    tooth = most_moved(solution)
    found = list(swings(solution, tooth))
    missing = [s for s in found if s.more is None]
    assert [s.parameter for s in missing] == ["height and depth of wire 'main'"]
    assert "Without an answer on one side or both: height and depth of wire 'main'" in band_words(buccal(solution.teeth[tooth]), found)


def test_left_and_right_are_held_against_each_other():
    (lopsided,) = sides(small())  # widened by 3 mm on the left, 1 mm on the right
    even = solve(small().scenario.changed({"wire.overlay.widen.left": "2 mm", "wire.overlay.widen.right": "2 mm",
                                           "wire.main.torque": {}, "wire.main.hold[2].teeth": [13, 23]}))  # fmt: skip
    (same,) = sides(even)
    apart = [float(re.search(r"up to ([\d.e+-]+) µm", c.found)[1]) for c in (lopsided, same)]
    crowns = [small().tooth(n)["crown_mm"]["buccal"] for n in (13, 23)]
    assert apart[0] >= 1e3 * abs(crowns[0] - crowns[1]) * 0.95 and apart[0] > 1.0
    assert apart[1] < 1e-3


def test_held_teeth_have_no_swings():
    assert "All teeth are held rigidly" in swings_section(held(), None)


def test_inputs_hold_slot_play_ties_and_ligatures():
    rows = {row[0]: row[1:] for row in rows_of(page(), "How the wires are held.")}
    bracket = small().scenario.bracket
    assert rows["slot"][0].startswith(f"{bracket.slot_height:.4g} x {bracket.slot_depth:.4g} mm")
    play = play_of(small().appliance, "main")
    assert rows["torque play of wire main"][0].startswith(f"{play * 57.29578:.1f} degrees each way")
    assert "steel ligature, seating 1 N, 100 N/mm" in rows["slot (main)"][0]
    assert "steel, 50 N/mm, slack 0 mm; at between 11 and 21" in rows["tie (overlay)"][0]
    wires = {row[0]: row[1:] for row in rows_of(page(), "Wires as laid in")}
    assert "torque 11: 15 deg buccal root" in wires["main"][1] and "widen left: 3 mm" in wires["overlay"][1]


def test_a_wire_taken_out_is_still_among_the_inputs(tmp_path):
    course = run_course(Scenario.parse(tomllib.loads(TEXT + COURSE)))
    text = write_course_report(course, tmp_path / "r.html").read_text(encoding="utf-8")
    spells = [(row[0], row[1]) for row in rows_of(text, "Wires as laid in")[1:]]
    assert spells == [("overlay", "0 to 14"), ("overlay", "14 to 28"), ("main", "0 to 42")]
    shapes = [row[3] for row in rows_of(text, "Wires as laid in")[1:]]
    assert "widen left: 3 mm" in shapes[0] and re.search(r"widen left: 4(\.0)? mm", shapes[1])
    assert fingerprint(course.scenario)[:16] in text


def test_it_says_when_and_with_what_it_was_made():
    rows = {row[0]: row[1] for row in rows_of(page(), "Made with.") if len(row) == 2}
    day = datetime.datetime.strptime(rows["written"], "%Y-%m-%d %H:%M UTC").replace(tzinfo=datetime.UTC)
    assert abs((datetime.datetime.now(datetime.UTC) - day).total_seconds()) < 3600
    assert rows["program's code"] == program()[:16] and rows["scenario"] == fingerprint(small().scenario)[:16]
    assert "numpy" in rows["versions"]
