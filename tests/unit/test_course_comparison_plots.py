"""Plots of courses side by side: size, every variant told apart, visits, units, awkward courses."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from courses import compared
from test_course_sentences import moved

from biomech.errors import FileError
from biomech.render.course_comparison_plots import (
    forces_plot,
    movement_plot,
    plot_course_comparison,
    tip_plot,
    widths_plot,
)

PLOTS = [widths_plot, lambda f: movement_plot(f, 13), lambda f: tip_plot(f, 13), lambda f: forces_plot(f, 13)]


def test_files(tmp_path: Path) -> None:
    import struct

    paths = plot_course_comparison(dataclasses.replace(compared(), teeth=(13,)), tmp_path / "new")
    assert [p.name for p in paths] == ["widths.png", "movement-13.png", "tip-13.png", "forces-13.png"]
    for path in paths:
        assert struct.unpack(">II", path.read_bytes()[16:24]) == (800, 600)
    assert not [p for p in (tmp_path / "new").iterdir() if p.suffix != ".png"]
    (tmp_path / "file").write_text("")
    with pytest.raises(FileError):
        plot_course_comparison(compared(), tmp_path / "file")


@pytest.mark.parametrize("make", PLOTS)
def test_variants_differ_in_colour_dash_and_mark_and_stand_in_the_legend(make: Any) -> None:
    figure = make(compared())
    assert [t.get_text() for t in figure.legends[0].get_texts()] == list(compared().labels)
    for panel in figure.axes:
        lines = [line for line in panel.lines if line.get_label() in compared().labels]
        assert len(lines) == 3
        for get in ("get_color", "get_linestyle", "get_marker"):
            assert len({str(getattr(line, get)()) for line in lines}) == 3
        assert panel.get_ylabel()
    assert any(unit in figure.axes[0].get_ylabel() for unit in ("mm", "deg", "N"))
    assert figure.axes[-1].get_xlabel().startswith("days since the start")


def test_visits_are_marked_on_the_curves_and_numbered() -> None:
    figure = forces_plot(compared(), 13)
    line = next(x for x in figure.axes[0].lines if x.get_label() == "1 mm")
    days = np.asarray(line.get_xdata())[line.get_markevery()]
    np.testing.assert_allclose(days, [14.0, 28.0, 42.0])
    force = compared().courses[2].visits[1].after.force[compared().courses[2].teeth.index(13), 1]
    assert np.asarray(line.get_ydata())[line.get_markevery()][0] == force
    assert [t.get_text() for t in figure.axes[0].texts] == ["1", "2"]


def test_courses_with_other_visits_share_no_numbers() -> None:
    a, b = compared().courses[:2]
    later = tuple(dataclasses.replace(v, day=v.day + 3) if v.number else v for v in b.visits)
    found = dataclasses.replace(compared(), variants=compared().variants[:2], courses=(a, dataclasses.replace(b, visits=later)))
    figure = widths_plot(found)
    assert figure is not None and not figure.axes[0].texts
    assert "marks: visits, as left, and the end" in figure.axes[-1].get_xlabel()


def test_ratios_that_run_off_are_said_and_do_not_squeeze_the_rest() -> None:
    courses = tuple(moved(c, 0.06, 3.0, 8.0) for c in compared().courses)
    for make in (movement_plot, tip_plot):
        figure = make(dataclasses.replace(compared(), courses=courses), 13)
        assert any("not shown" in t.get_text() for t in figure.axes[-1].texts)
        low, high = figure.axes[-1].get_ylim()
        assert -8 < low < 0 < high < 10


def test_without_fellows_there_are_no_widths(tmp_path: Path) -> None:
    none = [dataclasses.replace(c, before=dataclasses.replace(c.before, widths={})) for c in compared().courses]
    assert widths_plot(dataclasses.replace(compared(), courses=tuple(none))) is None
