"""`biomech compare`: what it prints and writes, and one clear line for every mistake."""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from biomech.cli import main
from biomech.studies.rows import Row

SCENARIOS = Path(__file__).parents[2] / "scenarios"
MAIN = str(SCENARIOS / "prescription-a.toml")


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_three_prescriptions_in_one_command(here, capsys):
    assert main(["compare", MAIN, "--vary", "bracket.prescription=A,B,C"]) == 0
    text = capsys.readouterr().out
    assert "Comparison of 3 scenarios; reference: A" in text
    assert "Torque moment on 11" in text
    assert "torque, + buccal root" in text
    assert "Not a medical device" in text
    folder = here / "out" / "compare-prescription-a"
    names = ["caution.txt", "comparison.csv", "comparison.json", "forces.png", "movement.png", "widths.png"]
    assert sorted(os.listdir(folder)) == names
    data = json.loads((folder / "comparison.json").read_text(encoding="utf-8"))
    assert [v["scenario"]["bracket"]["prescription"] for v in data["variants"]] == ["A", "B", "C"]
    lines = list(csv.DictReader((folder / "comparison.csv").open(newline="", encoding="utf-8")))
    torque = next(r for r in lines if r["output"] == "teeth.11.moment_at_bracket_N_mm.torque")
    assert float(torque["C"]) < -2.0


def test_files_side_by_side_without_plots(here, capsys):
    files = [str(SCENARIOS / f"{name}.toml") for name in ("upper-overlay", "upper-overlay-molar-torque-18")]
    assert main(["compare", *files, "--teeth", "16", "--no-plots", "--out", "there"]) == 0
    text = capsys.readouterr().out
    assert "In upper-overlay-molar-torque-18, tooth 16 shows controlled tipping instead of uncontrolled tipping" in " ".join(
        text.split()
    )
    assert sorted(os.listdir("there")) == ["caution.txt", "comparison.csv", "comparison.json"]


def test_quiet_and_set(here, capsys):
    options = ["--vary", "bracket.prescription=B,C", "--set", "bracket.slot_height=0.020 in", "--no-plots", "--quiet"]
    assert main(["compare", MAIN, *options, "--out", "there"]) == 0
    assert capsys.readouterr() == ("", "")
    data = json.loads(Path("there/comparison.json").read_text(encoding="utf-8"))
    assert {v["scenario"]["bracket"]["slot_height"] for v in data["variants"]} == {"0.020 in"}


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([MAIN], "name at least two scenario files"),
        ([MAIN, MAIN, "--vary", "bracket.prescription=A,B"], "--vary needs exactly one file, got 2"),
        ([MAIN, "--vary", "bracket.prescription=A,Q"], "'Q'"),
        ([MAIN, "--vary", "bracket.prescription"], "varies nothing"),
        ([MAIN, "--vary", "bracket.prescription=A,B", "--teeth", "16,99"], '--teeth "16,99": is no tooth number'),
        ([MAIN, "--vary", "bracket.prescription=A,B", "--teeth", "36"], "tooth 36 is not in all scenarios"),
        ([MAIN, MAIN], "two scenarios are called"),
    ],
)
def test_mistakes(here, capsys, arguments, message):
    assert main(["compare", *arguments, "--quiet"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("biomech: ")
    assert len(err.strip().splitlines()) == 1
    assert message in err.replace('"Q"', "'Q'")
    assert os.listdir(here) == []


def test_missing_file(here, capsys):
    assert main(["compare", "absent.toml", MAIN, "--quiet"]) == 2
    assert "absent.toml: there is no such file" in capsys.readouterr().err


def test_a_folder_that_cannot_be_written_is_told_after_the_tables(here, capsys):
    Path("taken").write_text("x")
    assert main(["compare", MAIN, "--vary", "bracket.prescription=A,C", "--out", "taken"]) == 1
    out, err = capsys.readouterr()
    assert "Torque moment on 11" in out
    assert "taken" in err


def test_numbers_survive_without_matplotlib(here):
    code = (
        "import sys; sys.modules['matplotlib'] = sys.modules['matplotlib.figure'] = None\n"
        "from biomech.cli import main\n"
        f"sys.exit(main(['compare', {MAIN!r}, '--vary', 'bracket.prescription=A,C', '--out', 'there']))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "plots left out" in done.stderr
    assert sorted(os.listdir("there")) == ["caution.txt", "comparison.csv", "comparison.json"]


def test_many_variants_are_split_into_tables(here, capsys):
    values = ",".join(f"{a} deg buccal root" for a in (1, 8, 9, 10, 11, 12, 13))
    assert main(["compare", MAIN, "--vary", f"wire.main.torque.16={values}", "--no-plots"]) == 0
    assert capsys.readouterr().out.count("Arch and wires") == 3  # two beside the reference in each


def test_cells():
    from biomech.report.comparison import cells

    assert cells(Row("", "", "", "mm", (0.0794, 0.0494, None)), [0, 1, 2]) == ["0.0794", "0.0494 (-38 %)", "-"]
    assert cells(Row("", "", "", "", ("tipping", None, "bodily")), [0, 1, 2]) == ["tipping", "-", "bodily"]
