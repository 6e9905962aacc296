"""Plots of the bench: what grows is solid, what comes back is dashed, quantities with their units."""

from __future__ import annotations

import math

import numpy as np
import pytest

from biomech.render.bend_plot import PAST, bend_figure
from biomech.studies.bend import Setup, bend_wires

WIRE = "0.016 in beta-titanium"


def test_stretches_that_grow_are_solid_those_back_dashed():
    setup = Setup("three-point", (0.6, 0.2, 0.8, 0.0), 0.2)
    (panel,) = bend_figure(bend_wires([WIRE], setup), setup).axes
    lines = [line for line in panel.lines if len(line.get_xdata()) > 2 and line.get_gid() != PAST]
    assert [line.get_linestyle() for line in lines] == ["-", "--", "-", "--"]
    assert [line.get_markerfacecolor() == "white" for line in lines] == [False, True, False, True]
    ends = [(float(line.get_xdata()[0]), float(line.get_xdata()[-1])) for line in lines]
    np.testing.assert_allclose(ends, [(0.0, 0.6), (0.6, 0.2), (0.2, 0.8), (0.8, 0.0)], atol=1e-9)
    assert panel.get_xlabel() == "deflection (mm); solid: growing, dashed: on the way back"


def test_a_quantity_without_unit_and_a_path_that_only_grows():
    options = {"first": math.radians(10.0), "second": math.radians(5.0)}
    setup = Setup("couples", (1.0,), 0.5, options=options)
    (panel,) = bend_figure(bend_wires([WIRE], setup), setup).axes
    assert panel.get_xlabel() == "share of the angles" and panel.get_ylabel() == "moment at the first (N.mm)"


def test_over_temperatures_every_panel_has_its_unit():
    setup = Setup("three-point", (0.4, 0.4), 0.2, temperatures=(None, 20.0))
    figure = bend_figure(bend_wires([WIRE], setup), setup)
    assert [panel.get_ylabel() for panel in figure.axes] == ["force\n(N)", "deflection\n(mm)", "temperature\n(C)"]


def test_a_band_and_the_legend_tell_where_an_elastic_wire_is_past_its_limit():
    setup = Setup("three-point", (1.0, 0.0), 0.2)
    curves = bend_wires([WIRE, f"{WIRE}, yielding"], setup)
    figure = bend_figure(curves, setup)
    (panel,) = figure.axes
    bands = [line for line in panel.lines if line.get_gid() == PAST]
    places = np.concatenate([line.get_xdata() for line in bands])
    assert places.min() == pytest.approx(curves[0].past_from, rel=1e-3) and places.max() == 1.0
    assert {line.get_color() for line in bands} == {panel.lines[0].get_color()}
    names = [text.get_text() for text in figure.legends[0].get_texts()]
    assert names[0] == f"{curves[0].wire}\npast its elastic limit from 0.57 mm on (pale): a real wire gives less"
    assert names[1] == curves[1].wire


def test_held_past_its_limit_over_temperatures_a_wire_has_a_band_in_every_panel():
    setup = Setup("three-point", (1.0, 1.0), 0.25, temperatures=(None, 20.0))
    figure = bend_figure(bend_wires([WIRE], setup), setup)
    for panel in figure.axes:
        ends = np.concatenate([line.get_xdata() for line in panel.lines if line.get_gid() == PAST])
        assert 0.5 < ends.min() < 0.6 and ends.max() == 2.0
