"""A course of one tooth under a force, without a wire: what does not exist is left out, and loads are called loads."""

from __future__ import annotations

import io
import tomllib
import warnings
from functools import cache

from rich.console import Console
from solved import TEXT

from biomech.render._course_data import course_data
from biomech.render._course_layout import said_at
from biomech.render.course_plot import course_plot
from biomech.report.course import print_course
from biomech.report.course_comparison import passed_lines
from biomech.report.html.course_checks import checked_course
from biomech.report.moments import moments
from biomech.scenario import Scenario
from biomech.studies.course import Course, run_course
from biomech.studies.curves import curves

COURSE = """
[course]
law = "proportional"
duration = "6 weeks"
"""


@cache
def alone() -> Course:
    """One canine under a force, without a wire."""
    text = (
        'format = 1\ntitle = "One canine"\n[arch]\njaw = "upper"\nform = "straight"\nteeth = [13]\n[ligament]\n'
        'law = "linear"\n[[force]]\ntooth = 13\nat = "bracket"\nforce = { buccal = "0.5 N" }\n'
    )
    return run_course(Scenario.parse(tomllib.loads(text + COURSE)))


@cache
def wired() -> Course:
    return run_course(Scenario.parse(tomllib.loads(TEXT + COURSE)))


def test_what_a_course_of_one_tooth_does_not_have_is_left_out():
    file = io.StringIO()
    print_course(alone(), Console(file=file, width=100, markup=False, highlight=False, emoji=False))
    text = file.getvalue()
    assert "the loads act; no socket has moved yet" in text and "End, day 42" in text
    for word in ("wire", "Balance", "perimeter", "width"):
        assert word not in text, word
    assert [*passed_lines(curves(alone()))][-1].startswith("run time ")
    assert next(moments(alone())).note.startswith("The loads have just begun")
    assert not any("wires push" in c.what for c in checked_course(alone(), [alone().solution_at(0)], []).checks)
    assert {said_at(course_data(alone()), 0.0), said_at(course_data(wired()), 0.0)} == {
        "Start: the loads act", "Start: the wires are laid in"
    }  # fmt: skip


def test_a_plot_of_one_tooth_has_no_empty_panel():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        panels = course_plot(alone()).axes
    assert [p.get_ylabel().split("\n")[0] for p in panels] == ["tooth 13", "force on 13"]
    assert [t.get_text() for t in panels[1].get_legend().get_texts()] == ["all loads"]
    usual = course_plot(wired()).axes
    assert len(usual) == 3 and [t.get_text() for t in usual[2].get_legend().get_texts()] == ["all wires"]
