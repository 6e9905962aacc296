"""Reports of courses open with what went wrong, and judge every tooth at its worst, in the terminal and on the card."""

from __future__ import annotations

import io
import re
import tomllib
from collections import Counter
from dataclasses import replace
from functools import cache
from html import unescape

import numpy as np
import pytest
from rich.console import Console
from solved import TEXT

from biomech.movement.limits import Flag
from biomech.outputs.limits import PRESSURE, TORQUE, applied
from biomech.report.alarms import alarms, flag_lines, limit_lines
from biomech.report.course import print_course
from biomech.report.course_comparison import passed_lines
from biomech.report.html.course import write_course_report
from biomech.report.html.course_checks import checked_course
from biomech.report.moments import judged, moments, worst_balance
from biomech.report.worst import above, wires_of, worst_of
from biomech.scenario import Scenario
from biomech.studies.course import run_course
from biomech.studies.curves import curves

BONE = """
format = 1
title = "one canine through the bone"
[arch]
jaw = "upper"
form = "straight"
teeth = [13]
[ligament]
law = "linear"
[[force]]
tooth = 13
at = "centre of resistance"
force = {buccal = "0.5 N"}
follows = "tooth"
[course]
duration = "12 months"
stop_at = ["bone"]
[course.bone]
13 = {buccal = "1 mm"}
"""
COURSE = """
[course]
law = "proportional"
duration = "8 weeks"
[[course.visit]]
after = "3 weeks"
torque.main = {22 = "30 deg buccal root"}
[[course.visit]]
after = "5 weeks"
torque.main = {22 = "30 deg lingual root"}
remove = ["overlay"]
"""


@cache
def stopped():
    return run_course(Scenario.parse(tomllib.loads(BONE)))


@cache
def visited():
    """A course in which tooth 22 is twisted far too much at one visit, which is taken back at the next."""
    return run_course(Scenario.parse(tomllib.loads(TEXT + COURSE)))


def printed(course):
    file = io.StringIO()
    print_course(course, Console(file=file, width=100, markup=False, highlight=False, emoji=False))
    return file.getvalue()


def page_of(course, folder):
    return unescape(re.sub("<[^>]+>", " ", write_course_report(course, folder / "r.html").read_text("utf-8")))


def test_a_course_that_stopped_opens_with_it(tmp_path):
    course = stopped()
    assert course.stopped is not None and "root of tooth 13" in course.stopped
    text = printed(course)
    assert text.index("STOPPED by a limit") < text.index("Start, day 0")
    assert "none" not in text[text.index("Warnings"):] and "STOPPED" in text[text.index("Warnings"):]
    page = page_of(course, tmp_path)
    aware = page[page.index("To be aware of"):page.index("The course in short")]
    assert "STOPPED by a limit, day" in aware and "through 1.00 mm of bone" in aware and "nothing to warn" not in aware
    card = page[page.index("Limits passed", page.index("Force card")):]
    assert card.index("STOPPED by a limit") < card.index("Each tooth at its worst")


def test_every_flag_is_told_with_its_first_day_and_nothing_is_lost():
    flags = [
        Flag("wire", 3.0, None, "wire 'a' is past its elastic limit (113 % of it): it would take a set"),
        Flag("wire", 9.0, None, "wire 'a' is past its elastic limit (121 % of it): it would take a set"),
        Flag("evidence", 2.0, None, "93 % of the movement is outside the evidence"),
        Flag("pressure", 5.0, 14, "mean ligament pressure 20.1 kPa at tooth 14, above 16 kPa"),
        Flag("pressure", 4.0, 16, "mean ligament pressure 42.1 kPa at tooth 16, above 16 kPa"),
        Flag("bone", 30.0, 13, "the root of tooth 13 has moved 1.79 mm to the buccal, through 1.00 mm of bone"),
    ]
    lines = list(flag_lines(flags, visited().readings))
    assert [line.split(":")[0] for line in lines] == ["day 30", "day 3", "day 4", "day 2"]
    assert lines[1].endswith("would take a set; again on day 9")
    assert lines[2].endswith("42.1 kPa at tooth 16, above 16 kPa; likewise at tooth 14 on day 5")


def test_the_worst_of_every_tooth_is_found_wherever_it_was():
    """Against a plain search over all moments shown; what was taken back at a later visit is still told."""
    course = visited()
    held = judged(course)
    days = [day for day, _ in held]
    assert days == sorted(days) and Counter([0.0, 21.0, 21.0, 35.0, 35.0, 56.0]) <= Counter(days)
    worst = worst_of(held)
    for n, tooth in worst.items():
        for band, peak in ((TORQUE, tooth.torque), (PRESSURE, tooth.pressure)):
            found = [(v, day) for day, s in held for b, v in applied(s.teeth[n]) if b is band]
            assert (peak.value, peak.day) == max(found, key=lambda pair: pair[0])
        shares = [v / b.high for _, s in held for b, v in applied(s.teeth[n]) if b.name.startswith("force")]
        assert tooth.force.share == pytest.approx(max(shares), rel=1e-12)
    twisted = worst[22]
    assert twisted.day == 21.0 or twisted.torque.day == 21.0
    assert twisted.torque.where == "above" and twisted.turned == pytest.approx(twisted.torque.value)
    end = dict((b.name, v) for b, v in applied(held[-1][1].teeth[22]))
    assert end.get(TORQUE.name, 0.0) < TORQUE.high
    assert 22 in [n for n, _ in above(worst)[TORQUE.name]]
    assert any(line.startswith("torque moment above its band") and "22 (" in line for line in alarms(course, held))


def test_what_is_largest_between_visits_is_not_missed():
    """Torque at the bracket and the size of the force are read at every moment of the course; within 1 % none is larger."""
    readings, held = visited().readings, judged(visited())
    for i, n in enumerate(readings[0].teeth):
        torque = max(abs(float(r.moment[i, 0])) for r in readings)
        assert abs(worst_of(held)[n].turned) == pytest.approx(torque, rel=0.0101)
        force = max(float(np.linalg.norm(r.force[i])) for r in readings)
        assert max(float(np.linalg.norm(s.teeth[n].wrench[:3])) for _, s in held) == pytest.approx(force, rel=0.0101)


def test_wires_are_told_at_their_worst_even_when_taken_out():
    found = {w.name: w for w in wires_of(visited().readings)}
    assert list(found) == ["main", "overlay"]
    for name, wire in found.items():
        shares = [r.wires[name].utilisation for r in visited().readings if name in r.wires]
        assert wire.share == max(shares)
    assert "overlay" not in visited().readings[-1].wires


def test_limits_are_on_the_card_and_the_worst_in_the_terminal(tmp_path):
    course = visited()
    page, text = page_of(course, tmp_path), printed(course)
    card = page[page.index("Limits passed", page.index("Force card")):page.index("Not covered by evidence")]
    lines = limit_lines(course)
    assert lines and all(line in card for line in lines)
    row = next(line.split() for line in text[text.index("Each tooth at its worst"):].splitlines() if line.startswith(" 22"))
    worst = worst_of(judged(course))[22]
    assert float(row[1]) == pytest.approx(worst.force.value, abs=0.00501) and row[2] == worst.force.where


def test_a_drawing_of_one_tooth_names_both_sides_apart(tmp_path):
    page = write_course_report(stopped(), tmp_path / "r.html").read_text("utf-8")
    drawing = re.search(r'<svg viewBox="([-\d. ]+)" role="img" class="occlusal">(.*?)</svg>', page, re.DOTALL)
    places = {m[2]: float(m[1]) for m in re.finditer(r'<text x="([-\d.]+)"[^>]*class="side"[^>]*>([^<]+)<', drawing[2])}
    assert places["patient&#x27;s left"] - places["patient&#x27;s right"] > 40.0  # mm: 15 letters of 1.4 mm from each side


def test_limits_of_a_visit_are_told_once_each(tmp_path):
    page = write_course_report(visited(), tmp_path / "r.html").read_text("utf-8")
    visits = page[page.index('id="visit-list"'):]
    lists = re.findall(r"<ul>(.*?)</ul>", visits[: visits.index("</table>")], re.DOTALL)
    told = [unescape(line) for one in lists for line in re.findall(r"<li>(.*?)</li>", one)]
    for visit in visited().visits:
        assert all(line in told for line in flag_lines(visit.flags))
    assert len(visited().flags) > 3


def test_steps_are_the_moments_judged():
    found = list(moments(visited()))
    assert [m.label for m in found] == ["day 0", "visit 1, day 21, found", "visit 1, day 21, left",
                                        "visit 2, day 35, found", "visit 2, day 35, left", "day 56, end"]  # fmt: skip
    assert np.allclose([visited().times[m.i] for m in found], [m.day for m in found])


def test_the_moment_worst_in_balance_is_the_same_everywhere():
    worst = worst_balance(visited())
    text = printed(visited())
    assert f"{worst.unbalanced:.1e} N and {worst.unbalanced_moment:.1e}" in re.sub(r"\s+", " ", text)
    checks = checked_course(visited(), [visited().solution_at(0)], []).checks
    told = next(c for c in checks if c.what == "wires push and pull alike").found
    assert told.startswith(f"{worst.unbalanced:.1e} N")


def test_a_comparison_names_the_same_moment_as_the_course():
    """Even where hardly any force is passed: what is left over then is a large share of next to nothing."""
    found, worst = curves(visited()), worst_balance(visited())
    faint = replace(worst, unbalanced=0.5 * worst.unbalanced / max(worst.throughput, 1.0), throughput=1e-9)
    found = replace(found, legs=((faint, *found.legs[0]), *found.legs[1:]))
    assert faint.unbalanced > 0.0 and worst_balance(found) is not faint
    (told,) = [line for line in passed_lines(found) if line.startswith("balance, worst of ")]
    assert f": {worst.unbalanced:.1e} N of {worst.throughput:.3g} N;" in told
