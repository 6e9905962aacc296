"""What an earlier run of a command left in a folder: only that goes, and only when the new files are in place."""

from __future__ import annotations

import os
import struct
import zlib
from functools import partial
from pathlib import Path

import pytest
from matplotlib.figure import Figure
from solved import TEXT

from biomech.cli import main
from biomech.errors import FileError
from biomech.render._canvas import canvas, save
from biomech.studies.leftovers import BENCH, COMPARED, COURSE, SOLVED, clear_leftovers, data_of, source_of

MAIN = str(Path(__file__).parents[2] / "scenarios" / "prescription-a.toml")
ONE = str(Path(__file__).parents[2] / "scenarios" / "one-tooth-at-bracket.toml")
VARY = ["--vary", "bracket.prescription=A,C", "--out", "there"]


def sheet(path: Path, source: str) -> Path:
    figure, _ = canvas(1, "a title")
    save(figure, source, path)
    return path


def test_a_plot_names_its_source_and_carries_the_caution(tmp_path: Path) -> None:
    from PIL import Image

    path = sheet(tmp_path / "plot.png", COMPARED)
    assert source_of(path) == COMPARED
    text = Image.open(path).text
    assert text["Source"] == COMPARED and "Not a medical device" in text["Disclaimer"]


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


@pytest.mark.parametrize(
    ("data", "source"),
    [
        (b"", None), (b"Source\0biomech compare", None), (b"\x89PNG\r\n\x1a\n", None),
        (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", bytes(13)) + chunk(b"tEXt", b"Source\0biomech bend"), "biomech bend"),
        (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", bytes(13)) + chunk(b"tEXt", b"Title\0Source"), None),
        (b"\x89PNG\r\n\x1a\n" + b"\xff\xff\xff\xff" + b"tEXt", None),
    ],
)  # fmt: skip
def test_the_source_of_any_bytes(tmp_path: Path, data: bytes, source: str | None) -> None:
    (tmp_path / "x.png").write_bytes(data)
    assert source_of(tmp_path / "x.png") == source


def test_only_what_is_recognisably_the_commands_own_goes(tmp_path: Path) -> None:
    sheet(tmp_path / "movement-16.png", COMPARED)
    new = sheet(tmp_path / "movement-13.png", COMPARED)
    sheet(tmp_path / "tip-11-mine.png", COMPARED)  # renamed by somebody who wants to keep it
    sheet(tmp_path / "course.png", COURSE)
    sheet(tmp_path / "curves.png", BENCH)
    Figure().savefig(tmp_path / "forces-16.png")  # the name, but a plot of somebody else
    (tmp_path / "widths.png").mkdir()
    (tmp_path / "curves.csv").write_text("day,after_visit,teeth.16\n")  # of a course
    (tmp_path / "tip-16.png").symlink_to(new)
    before = set(os.listdir(tmp_path))
    assert clear_leftovers(tmp_path, COMPARED, [new]) == [tmp_path / "movement-16.png"]
    assert set(os.listdir(tmp_path)) == before - {"movement-16.png"}
    (tmp_path / "curves.csv").write_text("variant,day,after_visit,teeth.16\r\n")
    assert clear_leftovers(tmp_path, COMPARED, [new]) == [tmp_path / "curves.csv"]
    assert clear_leftovers(tmp_path, BENCH, []) == [tmp_path / "curves.png"]


def test_what_cannot_be_removed_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sheet(tmp_path / "widths.png", COMPARED)

    def refuses(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "unlink", refuses)
    with pytest.raises(FileError, match=r"widths\.png: is left from an earlier run and cannot be removed: Perm"):
        clear_leftovers(tmp_path, COMPARED, [])
    with pytest.raises(FileError, match="gone"):
        clear_leftovers(tmp_path / "gone", COMPARED, [])


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a current folder with what comparisons of other teeth, of courses and somebody left in "there"."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "there").mkdir()
    sheet(tmp_path / "there" / "movement-16.png", COMPARED)
    (tmp_path / "there" / "curves.csv").write_text("variant,day,after_visit,teeth.16\r\n")
    (tmp_path / "there" / "notes.txt").write_text("mine")
    return tmp_path / "there"


NUMBERS = ["caution.txt", "comparison.csv", "comparison.json", "notes.txt"]


def test_compare_leaves_nothing_of_an_earlier_comparison(here: Path) -> None:
    assert main(["compare", MAIN, *VARY, "--quiet"]) == 0
    assert sorted(os.listdir(here)) == sorted([*NUMBERS, "forces.png", "movement.png", "widths.png"])
    assert main(["compare", MAIN, *VARY, "--no-plots", "--quiet"]) == 0
    assert sorted(os.listdir(here)) == NUMBERS


def test_nothing_goes_before_the_new_files_are_there(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = sorted(os.listdir(here))

    def fails(*_: object, **__: object) -> None:
        raise FileError("there: disk full")

    monkeypatch.setattr("biomech.studies.comparison_files.write_results", fails)
    assert main(["compare", MAIN, *VARY, "--quiet"]) == 1
    assert sorted(os.listdir(here)) == before


def test_bench_without_plots_leaves_no_plot_of_other_wires(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    bend = partial(main, ["bend", "0.016 in beta-titanium", "--path", "0.4 mm", "--out", "b", "--quiet"])
    assert bend() == 0 and (tmp_path / "b" / "curves.png").exists()
    assert main(["bend", "0.018 in beta-titanium", "--path", "0.4 mm", "--out", "b", "--quiet", "--no-plots"]) == 0
    assert sorted(os.listdir("b")) == ["bend.json", "caution.txt", "curves.csv", "readings.csv"]


SOLVES = ["picture.png", "teeth.vtu", "wires.vtu"]
SOLVED_NUMBERS = ["caution.txt", "result.json", "teeth.csv", "wires.csv"]


def test_solve_without_pictures_leaves_none_of_an_earlier_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import meshio

    monkeypatch.chdir(tmp_path)
    (tmp_path / "case.toml").write_text(TEXT)
    solve = partial(main, ["solve", "case.toml", "--quiet", "--out", "there"])
    assert solve() == 0
    there = tmp_path / "there"
    assert sorted(os.listdir(there)) == sorted([*SOLVES, *SOLVED_NUMBERS])
    assert source_of(there / "picture.png") == SOLVED
    mesh = meshio.read(there / "teeth.vtu")
    mesh.point_data["mine"] = mesh.point_data["tooth"]
    mesh.write(tmp_path / "teeth.vtu")  # somebody's, with more data
    sheet(there / "section-13.png", SOLVED)
    assert main(["solve", "case.toml", "--quiet", "--out", "there", "--no-pictures"]) == 0
    assert sorted(os.listdir(there)) == SOLVED_NUMBERS
    (tmp_path / "teeth.vtu").rename(there / "teeth.vtu")
    Figure().savefig(there / "picture.png")
    assert main(["solve", "case.toml", "--quiet", "--out", "there", "--no-pictures"]) == 0
    assert sorted(os.listdir(there)) == sorted([*SOLVED_NUMBERS, "picture.png", "teeth.vtu"])


def test_wires_that_are_gone_leave_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "wires.toml").write_text(TEXT)
    assert main(["solve", "wires.toml", "--quiet", "--out", "there"]) == 0
    assert main(["solve", ONE, "--quiet", "--out", "there"]) == 0  # a tooth under a load, no wire
    assert "picture.png" in os.listdir("there") and "wires.vtu" not in os.listdir("there")


@pytest.mark.parametrize("data", [b"", b"<PointData>", b'<VTKFile><PointData><DataArray Name="tooth"></PointData>'])
def test_the_data_of_any_bytes(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "x.vtu").write_bytes(data)
    assert data_of(tmp_path / "x.vtu") == data_of(tmp_path / "none.vtu") == set()
