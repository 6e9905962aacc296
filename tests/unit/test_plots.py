"""Plots of a comparison: they show the numbers compared, carry units, and are 800 x 600."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest

from biomech.errors import FileError
from biomech.render import plots
from biomech.render._canvas import canvas, fit, place_variants, points, styles
from biomech.render._legend import PALETTE
from biomech.scenario import load
from biomech.studies.compare import compare
from biomech.studies.variants import Variant, vary

SCENARIOS = Path(__file__).parents[2] / "scenarios"
KEYS = ["wire.main.torque.16", "wire.main.torque.26"]


@pytest.fixture(scope="module")
def torque():
    values = ["0 deg", "18 deg buccal root", "10 deg buccal root"]
    return compare(vary(load(SCENARIOS / "upper-overlay.toml"), KEYS, values), keys=KEYS)


def test_files(torque, tmp_path):
    paths = plots.plot_comparison(torque, tmp_path / "new")
    assert [p.name for p in paths] == ["movement.png", "forces.png", "widths.png"]
    for path in paths:
        head = path.read_bytes()[:24]
        assert head[:8] == b"\x89PNG\r\n\x1a\n"
        assert struct.unpack(">II", head[16:24]) == (800, 600)
    assert not list((tmp_path / "new").glob(".*"))


def test_movement_is_drawn_in_order_of_the_varied_number(torque):
    upper, lower = plots.movement_plot(torque).axes
    line = next(at for at in upper.lines if at.get_label() == "tooth 16")
    np.testing.assert_array_equal(line.get_xdata(), [0.0, 10.0, 18.0])
    drawn = torque.row("teeth.16.apex_to_crown").values
    np.testing.assert_allclose(line.get_ydata(), [drawn[0], drawn[2], drawn[1]])
    assert lower.get_xlabel() == "torque of wire main at 16, 26 (deg buccal root)"
    assert "(deg/mm)" in lower.get_ylabel()
    assert any("play 7.2 deg" in t.get_text() for t in upper.texts)


def test_forces_and_widths_are_the_rows(torque):
    upper, lower = plots.forces_plot(torque).axes
    for panel, key in ((upper, "force_N.buccal"), (lower, "moment_at_bracket_N_mm.torque")):
        for i, label in enumerate(torque.labels):
            line = next(at for at in panel.lines if at.get_label() == label)
            np.testing.assert_allclose(
                line.get_ydata(), [torque.row(f"teeth.{n}.{key}").values[i] for n in torque.common]
            )
    assert "(N)" in upper.get_ylabel()
    assert "(N.mm)" in lower.get_ylabel()
    crowns, apices = plots.widths_plot(torque).axes
    assert crowns.get_ylim() == apices.get_ylim()
    line = next(at for at in apices.lines if at.get_label() == "0 deg")
    assert line.get_ydata()[5] == torque.row("arch.width_change_mm.first_molar.apex").values[0]


def test_nothing_is_drawn_of_a_tooth_that_hardly_moves():
    found = compare([Variant(n, load(SCENARIOS / f"{n}.toml")) for n in ("upper-main-wire", "upper-overlay")], teeth=[16])
    upper, _ = plots.movement_plot(found).axes
    line = next(at for at in upper.lines if at.get_label() == "tooth 16")
    assert np.isnan(line.get_ydata()[0])
    assert any(t.get_text() == "hardly moves" for t in upper.texts)


def test_a_crown_that_rests_while_its_root_goes_is_said():
    names = ("upper-overlay", "upper-overlay-torque-30")
    found = compare([Variant(n, load(SCENARIOS / f"{n}.toml")) for n in names], teeth=[13])
    assert found.row("teeth.13.apex_to_crown").values[1] is None
    assert found.row("teeth.13.tip_deg_per_mm").values[1] is None
    for panel in plots.movement_plot(found).axes:
        said = [t for t in panel.texts if t.get_text() in ("crown rests", "hardly moves")]
        assert [(t.get_text(), t.xy[0]) for t in said] == [("crown rests", 1.0)]


def test_no_widths_without_fellows():
    one = load(SCENARIOS / "one-tooth-at-bracket.toml")
    other = one.changed({f"tooth.{one.arch.teeth[0]}.bone_level": "4 mm"})
    found = compare([Variant("sound", one), Variant("bone lost", other)])
    assert plots.widths_plot(found) is None


def test_values_beyond_the_range_are_marked():
    figure, (panel, _) = canvas(2, "")
    points(panel, np.array([1.0, 2.0]), np.array([0.5, 9.3]), (-2.0, 3.0), styles(1)[0], "a", joined=True)
    fit(panel, [np.array([0.5, 3.0])])
    assert [t.get_text() for t in panel.texts] == ["9.3"]
    assert panel.get_ylim()[1] > 3.0
    assert len(figure.axes) == 2


def test_styles_differ_in_colour_mark_and_line():
    for key in ("color", "marker"):
        assert len({str(s[key]) for s in styles(len(PALETTE))}) == len(PALETTE)
    assert len({str(s["color"]) for s in styles(12)}) == 12


def test_palette_stays_apart_in_grey_and_for_red_green_blindness():
    # a crude check: relative luminance, and the difference left when red and green are averaged (dichromats confuse them)
    rgb = np.array([[int(c[i : i + 2], 16) for i in (1, 3, 5)] for c in PALETTE[:4]]) / 255.0
    confused = np.column_stack([rgb[:, :2].mean(axis=1), rgb[:, 2]])
    gaps = np.linalg.norm(confused[:, None] - confused[None], axis=-1)[np.triu_indices(4, 1)]
    assert gaps.min() > 0.1


def test_long_names_are_broken():
    _, panels = canvas(2, "")
    place_variants(panels, np.arange(5.0), ["a-rather-long-name-of-a-case"] * 5, "scenario", False)
    assert all("\n" in t.get_text() for t in panels[-1].get_xticklabels())


def test_folder_that_cannot_be_made(torque, tmp_path):
    (tmp_path / "taken").write_text("x")
    with pytest.raises(FileError, match="taken"):
        plots.plot_comparison(torque, tmp_path / "taken")
