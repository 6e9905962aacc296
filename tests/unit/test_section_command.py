"""Sections of teeth: drawn as far as the numbers say, to scales that are shared; the command that draws them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from solved import TEXT, held, small

from biomech.cli import main
from biomech.errors import InputError
from biomech.mechanics.poses import pose_exp
from biomech.render import tooth_section
from biomech.render._scales import (
    LEAST_MOVE,
    Scales,
    arc_angles,
    axis_ends,
    in_plane,
    moment_at,
    quarter_turn,
    round_amount,
    scales_of,
    spread,
)
from biomech.render._section_words import _title, lines_of
from biomech.render._sheet import Sheet
from biomech.render._tooth_film import loads, section_frames
from biomech.render._tooth_panel import panels_of
from biomech.render.section import section_scales
from biomech.studies.leftovers import source_of
from biomech.studies.still import HARDLY
from biomech.tooth.motion import rotation_centre

COURSE = """
[course]
law = "proportional"
duration = "6 weeks"
[[course.visit]]
after = "2 weeks"
note = "looked"
[[course.visit]]
after = "4 weeks"
remove = ["overlay"]
"""
SIZE = (800, 600)


@pytest.mark.parametrize("number", [13, 12, 11, 23])
def test_what_is_drawn_is_what_is_said(number):
    """The ends of the long axis move in the drawing by the factor times `long_axis_mm`."""
    view, said = small().teeth[number], small().tooth(number)["long_axis_mm"]
    for factor in (1.0, 10.0):
        moved = pose_exp(factor * in_plane(view.motion)).point(axis_ends(view)) - axis_ends(view)
        reach = np.linalg.norm(axis_ends(view)[:, 1:] - rotation_centre(in_plane(view.motion)), axis=1)
        bound = 0.51 * (factor * view.motion[3]) ** 2 * reach + 1e-9  # a finite turn, to second order
        assert (np.abs(moved[:, 1] - [factor * said[at] for at in ("crown", "apex")]) <= bound).all()


def test_the_film_says_what_the_record_says():
    scales = scales_of([small().teeth[11]], 50.0, None)
    panel = panels_of([small()], 11, scales, Sheet(SIZE))[0]
    lines, record = dict(panel.lines), small().tooth(11)
    assert lines["Movement"] == record["movement"]
    for name, at in (("Crown moves", "crown"), ("Apex moves", "apex")):
        size, unit, side = lines[name].split()
        value = 1e3 * record["long_axis_mm"][at]
        assert (float(size), unit, side) == (round(abs(value), 1), "\u00b5m", "buccal" if value > 0 else "lingual")
    ends = panel.moved(panel.axis, 1.0) - panel.axis
    wanted = [scales.factor * record["long_axis_mm"][at] for at in ("crown", "apex")]
    turn = scales.factor * panel.view.motion[3]
    reach = np.linalg.norm(panel.axis - panel.rotation, axis=1)
    assert (np.abs(ends[:, 0] - wanted) <= 0.51 * turn**2 * reach).all()  # a finite turn, to second order
    assert np.sign(ends[:, 0]).tolist() == np.sign(wanted).tolist()


def test_panels_share_their_scales():
    """Half the movement and force of the other is drawn half as large."""
    views = [small().teeth[n] for n in (13, 12, 11)]
    scales = scales_of(views, 50.0, None)
    alone = [scales_of([view], 50.0, None) for view in views]
    assert scales.factor == min(one.factor for one in alone) and scales.newton == min(one.newton for one in alone)
    assert scales.quarter == max(one.quarter for one in alone)
    panels = panels_of([small(), small()], 13, scales, Sheet(SIZE))
    assert panels[0].scales is panels[1].scales and panels[0].scale == panels[1].scale


def test_a_tooth_that_hardly_moves_beside_another_has_no_kind_of_movement():
    """As in comparisons; alone it is told as it is, and one that does not move at all rests."""

    def moving(share):
        teeth = {n: replace(v, motion=share * v.motion) for n, v in small().teeth.items()}
        return replace(small(), teeth=teeth, _reports={})

    def said(*solutions):
        scales = scales_of([s.teeth[13] for s in solutions], 50.0, None)
        return [(p.lines[0][1], p.rests) for p in panels_of(solutions, 13, scales, Sheet(SIZE))]

    kind = small().tooth(13)["movement"]
    assert said(small(), moving(1e-2)) == [(kind, False), (HARDLY, True)]
    assert scales_of([moving(1e-2).teeth[13]], 50.0, None).factor == 200.0  # next to nothing does not look like much
    assert scales_of([moving(1e-2).teeth[13]], 50.0, 900.0).factor == 900.0
    assert said(moving(1e-2)) == [(kind, False)] and said(moving(1e-6)) == [("rests", True)]


def test_a_long_title_is_whole():
    for words in ("short", "a title of many words " * 20):
        title, letters = _title(words)
        assert title.replace("\n", " ") == words.strip() and len(title.splitlines()) <= 2 and letters <= 19.0


@given(st.floats(1e-3, 1e4))
def test_the_largest_arc_is_no_full_circle_and_a_small_moment_never_looks_large(largest):
    quarter = quarter_turn(largest)
    assert largest <= 3.0 * quarter * (1 + 1e-9) and quarter >= 5.0
    assert quarter == 5.0 or largest > quarter  # more than a quarter turn, unless it is small for a tooth
    scales = Scales(1.0, 1.0, quarter, 1.0)
    assert scales.sweep(-largest) == pytest.approx(-2.0 * scales.sweep(0.5 * largest))


def test_a_moment_that_is_nothing_to_a_tooth_gets_almost_no_arc():
    assert np.degrees(Scales(1.0, 1.0, quarter_turn(0.4), 1.0).sweep(0.4)) == pytest.approx(7.2)


@given(st.floats(1e-4, 1e4), st.floats(1.0, 300.0))
def test_round_amounts(per_unit, longest):
    amount = round_amount(per_unit, longest)
    assert 0.39 * longest < amount * per_unit <= longest * (1 + 1e-6)
    assert f"{amount:.6e}"[0] in "125"


@given(st.lists(st.floats(-50, 50), min_size=1, max_size=15).map(sorted), st.floats(0.1, 10))
def test_labels_are_spread_no_more_than_needed(wanted, gap):
    places = spread(wanted, gap)
    assert len(places) == len(wanted) and (np.diff(places) >= gap - 1e-9).all()
    if len(wanted) < 2 or np.diff(wanted).min() >= gap:
        assert places == pytest.approx(wanted, abs=1e-9)
    assert np.mean(places) == pytest.approx(np.mean(wanted), abs=1e-9)  # of least squares under such bounds


def test_arcs_begin_on_the_side_away_from_the_force():
    for force in (np.array([1.0, 0.2]), np.array([-2.0, 1.0])):
        for sweep in (1.0, -1.0):
            begin, end = arc_angles(force, sweep)
            assert end - begin == pytest.approx(sweep)
            middle = 0.5 * (begin + end)
            assert np.array([np.cos(middle), np.sin(middle)]) @ force < 0.0


def test_arcs_are_in_proportion_in_the_film():
    """Ink of the arc alone, by its angle; one that would be a dot is left out."""

    def inked(angle: float) -> int:
        sheet = Sheet(SIZE)
        sheet.arc_arrow(np.array((400.0, 300.0)), 100.0, (0.5, 0.5 + angle), "#c8102e", 3.0)
        return int((sheet.frame() < 200).any(axis=-1).sum())

    assert inked(0.04) == 0 < inked(0.3)
    assert inked(3.0) - inked(2.0) == pytest.approx(300.0, rel=0.25)
    assert inked(3.0) == pytest.approx(inked(-3.0), rel=0.05)


def test_the_moment_turns_the_way_it_is_said():
    """A positive moment, from buccal towards up, is drawn anticlockwise: its head is where that leads."""
    scales = Scales(1.0, 0.0, 10.0, 1.0)
    panel = panels_of([small()], 11, scales, Sheet(SIZE))[0]
    assert abs(panel.moment) > 1.0
    sheet = Sheet(SIZE)
    loads(sheet, panel, 1.0)
    rows, columns = np.nonzero((sheet.frame() < 200).any(axis=-1))
    foot = panel.at(panel.moved(panel.view.bracket[1:], 1.0))
    begin, end = arc_angles(panel.view.wrench[1:3], scales.sweep(panel.moment))
    assert np.sign(end - begin) == np.sign(panel.moment)
    found = np.array([columns.mean(), rows.mean()]) - foot
    assert found @ [np.cos(0.5 * (begin + end)), -np.sin(0.5 * (begin + end))] > 0.0


def test_words_of_a_section_are_those_of_the_record():
    record = small().tooth(11)
    said = dict(lines_of(record))
    assert said["Kind of movement"] == record["movement"]
    crown = record["long_axis_mm"]["crown"]
    assert said["Crown, on the long axis"].startswith(f"{abs(1e3 * crown):.1f} \u00b5m")
    assert said["Moment at the bracket"].startswith(f"{abs(record['moment_at_bracket_N_mm']['torque']):.1f} N\u00b7mm")
    still = dict(lines_of(record, rests=True))
    assert still["Kind of movement"] == "rests" and still["Centre of rotation"] == "none"
    none = dict(lines_of(held().tooth(11), rests=True))
    assert none["Kind of movement"] == "held" and none["Crown, on the long axis"] == "held rigidly"


def test_force_system_moved_to_the_resistance_is_equivalent():
    view = small().teeth[11]
    scales = section_scales([(small(), 11)])
    about = [moment_at(view), moment_at(view, view.centre.point)]
    lever = (view.centre.point - view.bracket)[1:]
    force = view.wrench[1:3]
    assert about[1] == pytest.approx(about[0] - (lever[0] * force[1] - lever[1] * force[0]))
    assert scales.quarter == quarter_turn(max(map(abs, about)))


def test_sections_to_shared_scales(tmp_path):
    scales = section_scales([(small(), 13), (small(), 11)])
    path = tooth_section(small(), 11, tmp_path / "a.png", scales=scales, source="biomech solve")
    assert source_of(path) == "biomech solve"
    with pytest.raises(InputError, match="magnify"):
        tooth_section(small(), 11, tmp_path / "a.png", scales=scales, magnify=3.0)
    with pytest.raises(InputError, match="17"):
        section_scales([(small(), 17)])


def test_a_film_of_held_teeth(tmp_path):
    shots = list(section_frames([held()], 11, 4, SIZE, None))
    assert len(shots) == 4 and scales_of([held().teeth[11]], 50.0, None).factor == 1.0 and LEAST_MOVE < 1e-4


@pytest.fixture
def files(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name, text in (("moment", TEXT), ("short", TEXT + COURSE)):
        (tmp_path / f"{name}.toml").write_text(text)
    return tmp_path


def test_the_command_draws_sections(files, capsys):
    assert main(["solve", "moment.toml", "--section", "11", "--section", "13"]) == 0
    assert "section-11.png, section-13.png" in capsys.readouterr().out
    drawn = files / "out" / "moment"
    (drawn / "section-12.png").write_bytes((drawn / "section-11.png").read_bytes())
    with Image.open(drawn / "section-13.png") as somebodys:
        somebodys.save(drawn / "section-21.png")  # without the mark of the command
    assert main(["solve", "moment.toml", "--section", "11", "--quiet"]) == 0
    assert sorted(p.name for p in drawn.glob("section*")) == ["section-11.png", "section-21.png"]


def test_the_command_draws_sections_of_a_course(files, capsys):
    assert main(["course", "short.toml", "--section", "13"]) == 0
    assert "section-13-day-0.png, section-13-day-28.png, section-13-day-42.png" in capsys.readouterr().out
    assert main(["course", "short.toml", "--section", "11", "--quiet"]) == 0
    assert sorted(p.name for p in (files / "out" / "short").glob("section*")) == [
        "section-11-day-0.png", "section-11-day-28.png", "section-11-day-42.png",
    ]  # fmt: skip


@pytest.mark.parametrize("command", ["solve", "course"])
@pytest.mark.parametrize(("words", "said"), [
    (["--section", "16"], "--section 16: not in the arch of short.toml; present: 13, 12"),
    (["--section", "x"], '--section "x"'),
    (["--section", "11", "--no-pictures"], "--no-pictures"),
])  # fmt: skip
def test_the_command_refuses_sections(files, capsys, command, words, said):
    assert main([command, "short.toml", *words]) == 2
    assert said in capsys.readouterr().err
    assert not (files / "out").exists()
