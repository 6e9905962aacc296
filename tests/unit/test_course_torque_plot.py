"""Courses against the torque by which they differ: the values of the tables, nothing that they leave out, all in sight."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from courses import compared
from test_course_sentences import moved

from biomech.render.course_comparison_plots import plot_course_comparison
from biomech.render.course_torque_plot import torque_plot
from biomech.studies.compare_courses import CourseComparison
from biomech.studies.leftovers import COMPARED, clear_leftovers
from biomech.studies.variants import Variant

KEY = "wire.main.torque.13"
DEGREES = ("18 deg buccal root", "0 deg", "9 deg buccal root")
"""Not in order: lines must still go from left to right."""


def torqued(*ends: tuple[float, float, float], keys: tuple[str, ...] = (KEY,), values: tuple[str, ...] = DEGREES) -> CourseComparison:
    """Return courses that end with crown (mm), apex (mm) and tip (deg) of `ends`."""
    courses = tuple(moved(c, *end) for c, end in zip(compared().courses, ends, strict=True))
    variants = tuple(Variant(v, compared().variants[0].scenario, v) for v in values)
    return dataclasses.replace(compared(), courses=courses, variants=variants, keys=keys, teeth=(13,))


def lines(found: CourseComparison, panel: int) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    figure = torque_plot(found, 13)
    assert figure is not None
    names = [t.get_text() for t in figure.legends[0].get_texts()]
    drawn = {str(line.get_label()): line for line in figure.axes[panel].lines}
    return {name: (np.asarray(drawn[name].get_xdata()), np.asarray(drawn[name].get_ydata())) for name in names}


def test_values_are_those_of_the_tables_in_order_of_the_torque() -> None:
    found = torqued((1.0, 1.1, -0.5), (2.0, 0.4, 4.0), (1.5, 0.9, 1.0))
    for panel, key in enumerate(("apex_to_crown", "tip_deg_per_mm")):
        x, y = lines(found, panel)["end, 42 days"]
        values = found.final(f"teeth.13.{key}").values
        np.testing.assert_allclose(x, [0.0, 9.0, 18.0])
        np.testing.assert_allclose(y, [values[1], values[2], values[0]])


def test_what_no_mark_shows_is_said_within_the_panel() -> None:
    found = torqued((0.3, 1.5, -4.0), (2.0, 0.4, 4.0), (0.01, 0.9, 1.0))
    found = dataclasses.replace(found, stops=found.stops[-1:])
    figure = torque_plot(found, 13)
    assert figure is not None
    for panel, value in zip(figure.axes, ("5.0", "-13.3"), strict=True):
        assert value in [t.get_text() for t in panel.texts]
        still = next(t for t in panel.texts if t.get_text() == "crown hardly\nmoves")
        assert still.xy[0] == 9.0 and panel.get_xlim()[0] < 0.0 and panel.get_xlim()[1] > 18.0
        assert any(t.get_text().startswith("play 7.2 deg") for t in figure.axes[0].texts)


def test_prescriptions_stand_side_by_side_by_name() -> None:
    found = torqued((1.0, 1.1, -0.5), (2.0, 0.4, 4.0), (1.5, 0.9, 1.0), keys=("bracket.prescription",), values=("A", "B", "C"))
    figure = torque_plot(found, 13)
    assert figure is not None
    assert [t.get_text() for t in figure.axes[-1].get_xticklabels()] == ["A", "B", "C"]
    assert {line.get_linestyle() for line in figure.axes[0].lines if str(line.get_label()).startswith("end")} == {"None"}


@pytest.mark.parametrize("keys", [(), ("wire.overlay.diameter",), (KEY, "wire.overlay.diameter")])
def test_only_where_torque_alone_is_varied(keys: tuple[str, ...]) -> None:
    assert torque_plot(torqued((1.0, 1.1, -0.5), (2.0, 0.4, 4.0), (1.5, 0.9, 1.0), keys=keys), 13) is None


def test_it_is_written_and_cleared_with_the_others(tmp_path: Path) -> None:
    found = torqued((1.0, 1.1, -0.5), (2.0, 0.4, 4.0), (1.5, 0.9, 1.0))
    assert "torque-13.png" in [p.name for p in plot_course_comparison(found, tmp_path)]
    assert "torque-13.png" in [p.name for p in clear_leftovers(tmp_path, COMPARED, [])]
