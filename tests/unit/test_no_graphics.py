"""A machine without display and graphics library: every command gives everything but pictures, with the reason."""

from __future__ import annotations

import json
import os

import pytest
from solved import TEXT

from biomech.cli import main
from biomech.render import probe

COURSE = """
[course]
duration = "4 weeks"
[[course.visit]]
after = "2 weeks"
"""
REASON = "ended the process with signal 11"


@pytest.fixture
def bare(tmp_path, monkeypatch):
    """Return an empty current folder where every attempt to draw ends as it does without a library: in a crash."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "case.toml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "course.toml").write_text(TEXT + COURSE, encoding="utf-8")
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(probe, "_CHILD", "import os; os.kill(os.getpid(), 11)")
    probe.drawing.cache_clear()
    yield tmp_path
    probe.drawing.cache_clear()


def test_one_moment(bare, capsys):
    assert main(["solve", "case.toml"]) == 0
    out, err = capsys.readouterr()
    assert "Force on each tooth" in out and REASON in err and "libosmesa6" in err
    written = os.listdir("out/case")
    assert "result.json" in written and "teeth.csv" in written and "teeth.vtu" in written
    assert [name for name in written if name.endswith(".part") or name == "picture.png"] == []
    assert json.loads((bare / "out/case/result.json").read_text("utf-8"))["teeth"]


def test_a_course_and_both_reports_need_none(bare, capsys):
    assert main(["course", "course.toml"]) == 0
    assert {"course.json", "visits.csv", "curves.csv"} <= set(os.listdir("out/course"))
    for name in ("case", "course"):
        assert main(["report", f"{name}.toml"]) == 0
        assert (bare / f"out/{name}/report.html").stat().st_size > 500_000
    assert REASON not in capsys.readouterr().err  # nothing there was drawn with the library


def test_a_film_of_a_course_is_refused_with_the_reason(bare, capsys):
    assert main(["animate", "course.toml", "--out", "year.gif", "--frames", "2", "--size", "400x300", "--quiet"]) == 1
    out, err = capsys.readouterr()
    assert out == "" and REASON in err and "libosmesa6" in err and len(err.splitlines()) == 1
    assert sorted(p.name for p in bare.iterdir()) == ["case.toml", "course.toml"]  # before any course is run
