"""The HTML report of a course: the slider goes from visit to visit, curves are what was read on the way."""

from __future__ import annotations

import json
import re
import tomllib
from functools import cache
from html import unescape

import numpy as np
import pytest
from solved import TEXT

from biomech.cli import main
from biomech.report.html.course import write_course_report
from biomech.scenario import Scenario
from biomech.studies.course import run_course

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


def test_command_line_runs_the_course(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "case.toml").write_text(TEXT + COURSE, encoding="utf-8")
    assert main(["report", "case.toml", "--quiet"]) == 0
    assert "visit 1, day 14, found" in (tmp_path / "out" / "case" / "report.html").read_text(encoding="utf-8")
