"""A comparison as JSON and CSV: complete, readable again, equal to the numbers compared."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from biomech.errors import FileError
from biomech.scenario import load
from biomech.studies.compare import compare
from biomech.studies.comparison_files import comparison_record, write_comparison
from biomech.studies.variants import vary

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@pytest.fixture(scope="module")
def found():
    key = "wire.overlay.diameter"
    return compare(vary(load(SCENARIOS / "upper-overlay.toml"), key, ["0.9 mm", "1.0 mm"]), keys=[key])


def test_both_files(found, tmp_path):
    paths = write_comparison(found, tmp_path / "new" / "folder")
    assert [p.name for p in paths] == ["comparison.json", "comparison.csv", "caution.txt"]
    data = json.loads(paths[0].read_text(encoding="utf-8"))
    assert [v["label"] for v in data["variants"]] == ["0.9 mm", "1.0 mm"]
    assert data["variants"][0]["scenario"]["wire"]["overlay"]["diameter"] == "0.9 mm"  # can be run again
    table = list(csv.DictReader(io.StringIO(paths[1].read_bytes().decode())))
    assert len(table) == len(found.rows) == len(data["rows"])
    for line, row, entry in zip(table, found.rows, data["rows"], strict=True):
        assert line["output"] == row.path == entry["output"]
        assert entry["values"] == list(row.values)
        for label, value in zip(found.labels, row.values, strict=True):
            assert line[label] == ("" if value is None else str(value))
        change = row.difference(1)
        assert line["1.0 mm less 0.9 mm"] == ("" if change is None else str(change))


def test_what_it_carries(found):
    data = comparison_record(found)
    assert data["reference"] == "0.9 mm"
    assert data["varied"] == ["wire.overlay.diameter"]
    assert "Not a medical device" in data["caution"]
    assert data["sentences"]
    assert all(v["convergence"]["stable"] for v in data["variants"])


def test_a_folder_that_is_a_file(found, tmp_path):
    (tmp_path / "taken").write_text("x")
    with pytest.raises(FileError, match="taken"):
        write_comparison(found, tmp_path / "taken")
