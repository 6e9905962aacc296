"""`biomech compare` with courses: what it prints, writes and draws, in words a clinician reads; mistakes in one line."""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from courses import KEY, TEXT, VALUES, compared, folder

from biomech.cli import main
from biomech.report.words import WIDTHS

VARY = f"{KEY}={','.join(VALUES)}"


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the case, in which all its courses have been run before."""
    compared()
    monkeypatch.chdir(tmp_path)
    shutil.copy(folder() / "case.toml", tmp_path)
    shutil.copytree(folder() / "legs", tmp_path / "out" / "compare-case" / "legs")
    return tmp_path


def test_tables_sentences_and_files(here: Path, capsys: Any) -> None:
    assert main(["compare", "case.toml", "--vary", VARY, "--jobs", "1", "--teeth", "13,11", "--at", "start, visits,end"]) == 0
    text = capsys.readouterr().out
    assert "Comparison of 3 courses; reference: 0 mm" in text
    assert re.search(r"After 42 days with re-activation of overlay 1 mm, the crowns? of 13", text)
    for title in ("Start: tooth 13", "Visit 1 as found, 14 days: tooth 11", "End, 42 days: widths gained, arch, wires"):
        assert title in text
    assert " ".join(text.split()).count(WIDTHS) == 4  # once below the widths of each time
    assert "visit 1, day 14: wire 'overlay' re-activated by 0.5 mm a side (now 1.5 mm left, 1.5 mm right)" in text
    assert "3 of 3 stretches from an earlier run" in re.sub(r"\s+", " ", text) and "Not a medical device" in text
    assert not re.search(r"[{}]|None|nan", text)
    assert max(len(line) for line in text.splitlines() if not line.startswith("Written to")) <= 100
    out = here / "out" / "compare-case"
    plots = [f"{kind}-{n}.png" for kind in ("forces", "movement", "tip") for n in (11, 13)]
    assert sorted(os.listdir(out)) == sorted(["caution.txt", "comparison.csv", "comparison.json", "curves.csv", "legs", "widths.png", *plots])


def test_json_and_csv_agree_with_the_curves(here: Path, capsys: Any) -> None:
    assert main(["compare", "case.toml", "--vary", VARY, "--jobs", "1", "--no-plots", "--quiet"]) == 0
    assert capsys.readouterr().out == ""
    out = here / "out" / "compare-case"
    data = json.loads((out / "comparison.json").read_text())
    assert data["format"]["name"] == "biomech comparison of courses" and data["varied"] == [KEY]
    assert [v["label"] for v in data["variants"]] == VALUES and data["variants"][0]["visits"][2]["note"] == "overlay done"
    assert [(t["name"], t["days"]) for t in data["times"]] == [("middle", [21.0] * 3), ("end", [42.0] * 3)]
    by = {row["output"]: row for row in data["times"][1]["rows"]}
    force = by["teeth.13.force_N.buccal"]
    assert force["unit"] == "N" and force["values"] == [float(c.readings[-1].force[0, 1]) for c in compared().courses]
    assert force["differences"] == [v - force["values"][0] for v in force["values"][1:]]
    lines = list(csv.DictReader((out / "comparison.csv").open(newline="")))
    line = next(x for x in lines if x["time"] == "end" and x["output"] == "teeth.13.force_N.buccal")
    assert float(line["1 mm"]) == force["values"][2] and float(line["1 mm less 0 mm"]) == force["differences"][1]
    curves = list(csv.DictReader((out / "curves.csv").open(newline="")))
    last = [x for x in curves if x["variant"] == "0.5 mm"][-1]
    assert float(last["day"]) == 42.0 and float(last["teeth.13.force_N.buccal"]) == force["values"][1]
    assert len(curves) == sum(len(c.times) for c in compared().courses)


def test_files_are_the_same_however_many_jobs(here: Path, capsys: Any) -> None:
    command = ["compare", "case.toml", "--vary", f"{KEY}={','.join(VALUES[:2])}", "--no-plots", "--quiet", "--jobs"]
    texts = []
    for jobs in ("1", "2"):
        assert main([*command, jobs]) == 0
        texts.append([(here / "out/compare-case" / name).read_bytes() for name in ("comparison.json", "comparison.csv", "curves.csv")])
    assert texts[0] == texts[1]


def test_several_files_and_the_first_moment(here: Path, capsys: Any) -> None:
    (here / "other.toml").write_text(TEXT.replace('overlay = "0.5 mm"', 'overlay = "1 mm"'), encoding="utf-8")
    assert main(["compare", "case.toml", "other.toml", "--jobs", "1", "--no-plots"]) == 0
    text = capsys.readouterr().out
    assert "reference: case" in text and "in other" in text
    (here / "still.toml").write_text(TEXT.partition("[course]")[0], encoding="utf-8")
    assert main(["compare", "case.toml", "still.toml", "--no-plots"]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1 and "case with [course], still without" in error and "--first-moment" in error
    assert main(["compare", "case.toml", "still.toml", "--no-plots", "--first-moment"]) == 0
    assert "The variants do the same" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["case.toml"], "name at least two scenario files"),
        (["case.toml", "case.toml"], "two scenarios are called"),
        (["case.toml", "--vary", "course.visit[3].after=1 week,2 weeks"], "course.visit[3].after: there is no [3]; there are 2"),
        (["case.toml", "--vary", "course.visit.after=1 week,2 weeks"], "say which one, [1] to [2]"),
        (["case.toml", "--vary", "course.most=1 mm/month,1 mm"], '"1 mm"'),
        (["case.toml", "--vary", VARY, "--teeth", "16"], "tooth 16 is not in all scenarios"),
        (["case.toml", "--vary", VARY, "--at", "visit 7", "--jobs", "1"], '"visit 7": no course gets there; visits: 2'),
        (["case.toml", "--vary", VARY, "--at", "visit 0", "--jobs", "1"], '"visit 0": no course gets there; visits: 2'),
        (["case.toml", "--vary", VARY, "--at", "end, 7 weeks"], '"7 weeks": no course gets there; visits: 2, last day: 42'),
        (["case.toml", "--vary", VARY, "--at", "later", "--jobs", "1"], '"later" is no time of a course'),
        (["case.toml", "--vary", VARY, "--first-moment", "--jobs", "2"], "--jobs is for courses"),
    ],
)  # fmt: skip
def test_mistakes(here: Path, capsys: Any, arguments: list[str], message: str) -> None:
    assert main(["compare", *arguments, "--quiet"]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err.startswith("biomech: ") and len(err.strip().splitlines()) == 1
    assert message in err


@pytest.mark.parametrize(("at", "says"), [("later", "is no time of a course"), ("visit 3", "no course gets there")])
def test_times_that_cannot_be_are_refused_before_the_courses_run(here: Path, capsys: Any, at: str, says: str) -> None:
    shutil.rmtree(here / "out")
    assert main(["compare", "case.toml", "--vary", VARY, "--at", at, "--quiet"]) == 2
    assert says in capsys.readouterr().err
    assert not list((here / "out").rglob("*.leg"))


def test_a_folder_that_cannot_be_written_to_is_an_error_before_the_courses_run(here: Path, capsys: Any) -> None:
    (here / "file").write_text("")
    assert main(["compare", "case.toml", "--vary", VARY, "--quiet", "--out", "file"]) == 1
    assert capsys.readouterr().err == "biomech: file: is a file; name a folder for the results\n"
