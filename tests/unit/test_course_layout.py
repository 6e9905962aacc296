"""Films of courses: words of one size that can be read, beside the pictures and not on them; what was done, in short."""

from __future__ import annotations

import os
import tomllib
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from solved import TEXT

from biomech.cli import animate as command
from biomech.cli import main
from biomech.render import _crew, probe
from biomech.render._course_data import Note, _done, course_data
from biomech.render._course_film import course_film, course_frames
from biomech.render._course_layout import layout_of, names_of, said_at, sayings
from biomech.render._sheet import Sheet
from biomech.render.probe import drawing
from biomech.scenario import Scenario
from biomech.studies.course import run_course

COURSE = """
[course]
law = "proportional"
duration = "6 weeks"
"""
ALONE = """
format = 1
title = "One canine"
[arch]
jaw = "upper"
form = "straight"
teeth = [13]
[[force]]
tooth = 13
at = "bracket"
force = { buccal = "0.5 N" }
"""
RULE = (
    "rule: crown leads root at 16 by 1.36 mm, 26 by 1.36 mm (more than 0.75 mm): wire 'main': 6 deg buccal root torque "
    "added at 16, 26 (now 6 deg buccal root); wire 'overlay' eased by 0.5 mm a side (now 2.5 mm left, 2.5 mm right)"
)
SIZE = (800, 600)


@cache
def data(text):
    return course_data(run_course(Scenario.parse(tomllib.loads(text + COURSE))))


@pytest.fixture
def able():
    if not drawing().works:
        pytest.skip(drawing().reason)


def test_what_a_rule_did_is_said_once_and_short():
    assert _done((), ("rule: crown leads root at 16 by 1.00 mm (more than 0.5 mm): wire 'main' is out",), "") == (
        "by rule: crown leads root at 16 by 1.00 mm (more than 0.5 mm): wire 'main' is out"
    )
    said = _done(("wire 'overlay' re-activated by 1 mm a side (now 3 mm left, 3 mm right)",), (RULE,), "")
    assert said == (
        "wire 'overlay' re-activated by 1 mm a side; by rule: wire 'main': 6 deg buccal root torque added at 16, 26; "
        "wire 'overlay' eased by 0.5 mm a side"
    )


def test_words_have_one_size_and_the_pictures_what_room_they_leave():
    short = data(TEXT)
    long = replace(short, title="A title of many words " * 4, visits=(Note(0, 0.0, ""), Note(1, 9.0, "done " * 30)))
    sheet = Sheet(SIZE)
    alone, beside = layout_of(sheet, [short], (13, 23)), layout_of(sheet, [short, long, short], (13, 23))
    assert beside.arch > alone.arch and beside.pair == alone.pair
    for layout, datas in ((alone, [short]), (beside, [short, long, short])):
        room = sheet.width / len(datas) - 24.0
        for words, (lines, size), bold in (
            ([d.title for d in datas], layout.titles, True), ([s for d in datas for s in sayings(d)], layout.said, False),
        ):  # fmt: skip
            assert size >= 10.0
            assert all(sheet.lines_of(one, room, size, bold=bold) <= lines for one in words)
        assert layout.value >= 10.0 and layout.name >= 10.5
    assert names_of((13, 23), brief=False)[0] == "Width 13\u201323, cusp tips"
    assert names_of((13,), brief=True) == ["Tip 13"]


@pytest.mark.parametrize(("pair", "points"), [((16, 26), "buccal cusps"), ((43, 33), "cusp tips"), ((11, 21), "edges")])
def test_a_width_says_which_points_it_is_between(pair, points):
    """In words that fit beside the value, with three courses side by side too."""
    for count in (1, 2, 3):
        name = names_of(pair, brief=count == 3)[0]
        assert name.endswith(f", {points}")
        sheet = Sheet(SIZE)
        layout = layout_of(sheet, [data(TEXT)] * count, pair)
        assert layout.name >= 10.0 and layout.value >= 10.0
        assert sheet.measure(name, layout.name) < layout.names < 0.6 * (sheet.width / count - 24.0)


def test_what_is_said_on_a_day():
    one = replace(data(TEXT), stopped="bone", visits=(Note(0, 0.0, ""), Note(1, 9.0, "")))
    assert said_at(one, 1.0).startswith("Start") and said_at(one, 9.0).startswith("Visit 1 of 1, day 9: looked at")
    assert said_at(one, one.end) == "Stopped: bone"
    assert {said_at(one, day) for day in (0.0, 9.0, one.end)} == set(sayings(one))


def test_no_words_stand_on_a_tooth_that_is_alone(able, monkeypatch):
    """Words over the picture of the arch would lie inside its box."""
    told, plain = [], Sheet.text

    def text(sheet, at, words, size=13.0, *args, **style):
        told.append((words, at[1]))
        plain(sheet, at, words, size, *args, **style)

    monkeypatch.setattr(Sheet, "text", text)
    frame = next(course_frames([data(ALONE)], 13, 2, SIZE, None))
    layout = layout_of(Sheet(SIZE), [data(ALONE)], (13,))
    assert any("occlusal" in words for words, _ in told)
    assert not [words for words, y in told if layout.arch < y < layout.pair - 16.0 or layout.pair < y < layout.foot - 4.0]
    assert (frame[int(layout.arch) : int(layout.pair) - 16] < 200).any()


def test_a_film_of_one_tooth_needs_no_fellow(able):
    film = course_film([data(ALONE)], None, SIZE, None)
    assert film.numbers == (13,)


@pytest.fixture
def files(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name, text in (("one", ALONE + COURSE), ("other", ALONE + COURSE)):
        (tmp_path / f"{name}.toml").write_text(text)
    return tmp_path


def test_a_graphics_library_that_cannot_be_loaded(files, monkeypatch, capsys):
    """Its reason in one line and exit status 1, before any course is run."""
    broken = files / "broken" / "vtkmodules"
    broken.mkdir(parents=True)
    (broken / "__init__.py").write_text('raise ImportError("libNone.so.1: cannot open shared object file")')
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(files / "broken"), os.environ.get("PYTHONPATH", "")]))
    probe.drawing.cache_clear()
    try:
        assert main(["animate", "one.toml", "--out", "a.gif", "--frames", "2", "--quiet"]) == 1
    finally:
        probe.drawing.cache_clear()
    out, err = capsys.readouterr()
    assert out == "" and len(err.splitlines()) == 1
    assert "ImportError: libNone.so.1: cannot open shared object file" in err and "libosmesa6" in err
    assert not (files / "out").exists() and not (files / "a.gif").exists()


def test_courses_run_in_as_many_processes_as_cores_may_be_used(files, able, monkeypatch):
    """On one core they run in this process, one after the other."""
    monkeypatch.setattr(_crew, "cores", lambda: 1)
    monkeypatch.setattr(command.multiprocessing, "get_context", lambda _: pytest.fail("a process was started"))
    asked = ["animate", "one.toml", "other.toml", "--out", "a.gif", "--frames", "2", "--size", "400x300", "--quiet"]
    assert main(asked) == 0 and (files / "a.gif").exists()


def test_cores_are_those_that_may_be_used(monkeypatch):
    if hasattr(os, "sched_getaffinity"):
        monkeypatch.setattr(os, "sched_getaffinity", lambda _: {3})
        assert _crew.cores() == 1
    monkeypatch.setattr(_crew.sys, "platform", "other")
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    assert _crew.cores() == 1


def test_visits_that_cannot_be_done_are_refused_before_any_course_is_run(files, capsys):
    (files / "bad.toml").write_text(
        TEXT + COURSE + '[[course.visit]]\nafter = "2 weeks"\nremove = ["main", "overlay"]\n'
        '[[course.visit]]\nafter = "4 weeks"\nremove = ["overlay"]\n'
    )
    assert main(["animate", "bad.toml", "--out", "a.gif", "--frames", "2"]) == 2
    assert "bad.toml" in capsys.readouterr().err and not (files / "out").exists()


def test_common_size():
    sheet = Sheet(SIZE)
    size = sheet.common_size(["a few words", "many words " * 4], 150.0, 2, 14.0)
    assert 8.0 <= size < 14.0
    assert sheet.lines_of("many words " * 4, 150.0, size) <= 2 < sheet.lines_of("many words " * 4, 150.0, size + 0.5)
    assert sheet.common_size(["unbreakable" * 9], 150.0, 2, 14.0) == 8.0
    assert np.isclose(sheet.common_size(["a"], 150.0, 1, 14.0), 14.0)
