"""Ratios to the movement of a crown in a course: nowhere told where the crown has hardly gone, told the same elsewhere."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from courses import compared
from hypothesis import given
from hypothesis import strategies as st
from test_course_sentences import moved

from biomech.render.course_comparison_plots import movement_plot, tip_plot
from biomech.report.course_comparison import cells
from biomech.studies.compare_courses import MIRRORED
from biomech.studies.phrases import LEAST_CROWN, REST, crown_leads
from biomech.studies.stops import state_at

MM = st.floats(-20.0, 20.0)


@given(MM, MM)
def test_a_ratio_is_bounded_and_known_to_a_fifth(crown: float, apex: float) -> None:
    assert crown_leads(crown, apex) == crown_leads(-crown, -apex) == crown_leads(crown, -apex)
    if crown_leads(crown, apex):
        assert abs(apex / crown) < 1 / REST
        for err in (-MIRRORED, MIRRORED):
            assert abs(crown / (crown + err) - 1.0) <= 0.25 + 1e-9  # 0.01 of 0.05 less 0.01


@pytest.mark.parametrize(
    ("crown", "apex", "told"),
    [(0.017, -0.596, False), (0.049, 0.01, False), (LEAST_CROWN, 0.01, True), (0.3, -1.3, True), (0.1, 1.1, False), (0, 0, False)],
)
def test_where_it_is_told(crown: float, apex: float, told: bool) -> None:
    assert crown_leads(crown, apex) == told


def test_tables_and_plots_leave_out_the_same() -> None:
    ends = zip(compared().courses, (0.04, 0.2, -0.3), (0.02, 0.1, 4.0), strict=True)
    found = dataclasses.replace(compared(), courses=tuple(moved(c, crown, apex, 3.0) for c, crown, apex in ends))
    drawn = {n: movement_plot(found, n).axes[-1].lines for n in found.common}
    per = {n: tip_plot(found, n).axes[-1].lines for n in found.common}
    left: dict[str, set[bool]] = {label: set() for label in found.labels}
    for n in found.common:
        for label, course in zip(found.labels, found.courses, strict=True):
            for lines, key in ((drawn[n], "apex_to_crown"), (per[n], "tip_deg_per_mm")):
                line = next(one for one in lines if one.get_label() == label)
                last = state_at(course, course.end)["teeth"][str(n)][key]
                shown = float(np.asarray(line.get_ydata())[-1])
                assert np.isnan(shown) if last is None else shown == pytest.approx(last)
                left[label].add(last is None)
    assert list(left.values()) == [{True}, {False}, {True}]


def test_a_crown_that_hardly_went_shows_a_dash() -> None:
    courses = tuple(moved(c, 0.017, -0.596, 3.0) for c in compared().courses)
    found = dataclasses.replace(compared(), courses=courses)
    row = found.final("teeth.13.apex_to_crown")
    assert row.values == (None, None, None) and found.final("teeth.13.tip_deg_per_mm").values == row.values
    assert cells(row, [0, 1, 2], 2) == ["-"] * 5
