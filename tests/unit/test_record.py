"""result.json and the CSV files: complete, plain, and nothing half-written."""

from __future__ import annotations

import csv
import json
import os
import re
from pathlib import Path

import numpy as np
import pytest
from solved import document, held, small

from biomech.errors import FileError, InputError
from biomech.scenario import Scenario
from biomech.studies import expectations, lookup, record, solve, write
from biomech.studies.layout import schema
from biomech.studies.record import fingerprint, plain_values

UNITS = ("_degC", "_N", "_gf", "_mm", "_N_mm", "_deg", "_kPa", "_MPa")
PURE = {
    "version", "newton_steps", "negative_pivots", "apex_to_crown", "peak_over_limit", "share_past_limit",
    "peak_near_tooth", "tooth", "partner", "teeth", "poisson", "transition_strain",
    "martensite_share", "set_strain", "opened_strain", "largest_strain", "fracture_strain", "largest_near_tooth",
    "share_changed", "force_left",
    "residual_relative", "tolerance_relative", "displacement_relative", "force_relative", "moment_relative",
}  # fmt: skip


def numbers(data, path=()):
    if isinstance(data, dict):
        for key, value in data.items():
            yield from numbers(value, (*path, key))
    elif isinstance(data, list):
        for value in data:
            yield from numbers(value, path)
    elif isinstance(data, (int, float)) and not isinstance(data, bool):
        yield path


@pytest.mark.parametrize("solution", [small, held])
def test_is_plain_json(solution):
    data = record(solution())
    assert json.loads(json.dumps(data, allow_nan=False)) == data


@pytest.mark.parametrize("solution", [small, held])
def test_every_number_has_its_unit_in_a_key(solution):
    data = {k: v for k, v in record(solution()).items() if k not in ("scenario", "expectations")}
    found = list(numbers(data))
    assert len(found) > 100
    for path in found:
        assert path[-1] in PURE or any(key.endswith(UNITS) for key in path), path


def mismatches(data, schema, at=""):
    """Yield where data depart from the few words of JSON Schema that the schema of results uses."""
    if "anyOf" in schema:
        if all(list(mismatches(data, one)) for one in schema["anyOf"]):
            yield f"{at}: fits none"
        return
    if "const" in schema and data != schema["const"]:
        yield f"{at}: {data!r}"
    kinds = {"object": dict, "array": list, "string": str, "integer": int, "number": (int, float), "null": type(None)}
    kinds["boolean"] = bool
    names = schema.get("type", [])
    names = [names] if isinstance(names, str) else names
    if names and not any(isinstance(data, kinds[n]) and isinstance(data, bool) == (n == "boolean") for n in names):
        yield f"{at}: {data!r} is no {names}"
    if isinstance(data, list):
        for i, item in enumerate(data):
            yield from mismatches(item, schema.get("items", {}), f"{at}[{i}]")
    if isinstance(data, dict):
        yield from (f"{at}: {key} is missing" for key in schema.get("required", []) if key not in data)
        named, patterns = schema.get("properties", {}), schema.get("patternProperties", {})
        for key, value in data.items():
            rule = named.get(key, next((s for p, s in patterns.items() if re.match(p, key)), None))
            rule = schema.get("additionalProperties", {}) if rule is None else rule
            if rule is False:
                yield f"{at}: {key} is unknown"
            else:
                yield from mismatches(value, rule, f"{at}.{key}")


@pytest.mark.parametrize("solution", [small, held])
def test_keeps_to_its_schema(solution):
    data = record(solution())
    assert list(mismatches(data, schema())) == []
    for spoil in (
        lambda d: d.pop("caution"),
        lambda d: d["teeth"].update({"18": d["teeth"]["13"]}),
        lambda d: d["teeth"]["13"].update(force_lb=1.0),
        lambda d: d["balance"].update(force_N="0"),
        lambda d: d["wires"]["main"]["holds"][0].pop("size_N"),
    ):
        wrong = json.loads(json.dumps(data))
        spoil(wrong)
        assert len(list(mismatches(wrong, schema()))) == 1


def test_what_is_not_finite_becomes_none():
    given = {"a": float("nan"), 3: [np.float64("inf"), np.int64(2), np.bool_(True)], "b": (1.5, "x", None)}
    assert plain_values(given) == {"a": None, "3": [None, 2, True], "b": [1.5, "x", None]}


def test_holds_add_up_to_the_force_on_each_tooth():
    """Without applied loads, what all wires do at all holds is the force on the tooth (same axes)."""
    data = record(small())
    for name, tooth in data["teeth"].items():
        for key, value in tooth["force_N"].items():
            holds = [h for w in data["wires"].values() for h in w["holds"] if str(h["tooth"]) == name]
            assert sum(h["force_N"][key] for h in holds) == pytest.approx(value, abs=1e-9)


def test_carries_what_a_result_must():
    data = record(small())
    assert data["format"] == {"name": "biomech result", "version": 1}
    assert data["convergence"]["stable"] and data["convergence"]["residual_relative"] <= 1e-9
    assert data["balance"]["force_N"] < 1e-8 * data["balance"]["throughput_N"]
    assert data["scenario"] == small().scenario.document
    assert data["refinement"] is None
    assert "licensed" in data["caution"]
    assert all(band["source"] for band in data["bands"].values())
    assert all(wire["alloy_source"] for wire in data["wires"].values())
    assert data["ligament"][0]["teeth"] == [13, 12, 11, 21, 22, 23] and data["ligament"][0]["provenance"]
    assert set(data["versions"]) == {"biomech", "numpy", "scipy", "python"}
    ties = [hold for hold in data["wires"]["overlay"]["holds"] if hold["kind"] == "tie"]
    assert {(tie["tooth"], tie["partner"]) for tie in ties} == {(11, 21), (21, 11)}
    assert set(data["arch"]["width_change_mm"]) == {"central_incisor", "lateral_incisor", "canine"}
    assert data["arch"]["palatal_cusp_drop_mm"] is None  # no premolars, no molars


def test_mesh_refinement_is_recorded_when_asked_for():
    given = {**document(), "solve": {"refinement": True}, "expect": []}
    changes = record(solve(Scenario.parse(given)))["refinement"]
    assert set(changes) == {"displacement_relative", "force_relative", "moment_relative"}
    assert all(0 < change < 0.5 for change in changes.values())


def test_fingerprint_tells_scenarios_apart():
    same, other = Scenario.parse(document()), small().scenario.changed({"wire.overlay.diameter": "0.71 mm"})
    assert fingerprint(same) == fingerprint(small().scenario) != fingerprint(other)
    assert len(fingerprint(other)) == 64


def test_lookup_reads_one_number():
    data = record(small())
    assert lookup(data, "teeth.13.force_N.buccal") == small().tooth(13)["force_N"]["buccal"]
    assert lookup(data, "arch.width_change_mm.canine.crown") == small().arch.widths[3].crown
    assert lookup(data, "wires.overlay.holds.0.size_N") == small().wires["overlay"].holds[0].size


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("teeth.13.crown_mm.bucal", "Did you mean 'buccal'?"),
        ("teeth.31.crown_mm.buccal", "known under teeth: 13, 12, 11, 21, 22, 23"),
        ("tooth.13", "Did you mean 'teeth'?"),
        ("teeth.13", "is no number but a table; go on with one of: name, "),
        ("teeth.13.movement", "is no number but '"),
        ("teeth.13.lingual_cusp_mm.buccal", "does not exist in this result"),
        ("refinement", "does not exist in this result"),
        ("convergence.stable", "is no number but True"),
        ("wires.overlay.holds.99.size_N", "there is no '99'"),
        ("wires.overlay.holds.-1.size_N", "there is no '-1'"),
        ("title.x", "title is a single value"),
        ("", "there is no ''"),
    ],
)
def test_lookup_says_what_is_wrong(path, text):
    with pytest.raises(InputError) as error:
        lookup(record(small()), path)
    assert text in str(error.value)


def test_expectations_are_met_missed_or_unreadable():
    met, missed, misspelt = expectations(small().scenario, record(small()))
    assert met.met and met.value > 0 and met.wanted() == "at least 0"
    assert not missed.met and missed.value is not None and not missed.problem
    assert not misspelt.met and misspelt.value is None and "'buccal'" in misspelt.problem
    assert [e["met"] for e in record(small())["expectations"]] == [True, False, False]


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_files_say_what_the_record_says(tmp_path):
    paths = write(small(), tmp_path / "new" / "folder")
    assert [path.name for path in paths] == ["result.json", "teeth.csv", "wires.csv", "caution.txt"]
    assert sorted(os.listdir(tmp_path / "new" / "folder")) == ["caution.txt", "result.json", "teeth.csv", "wires.csv"]
    data = json.loads(paths[0].read_text(encoding="utf-8"))
    assert data == record(small())
    teeth = rows(paths[1])
    assert [row["tooth"] for row in teeth] == list(data["teeth"])
    for row in teeth:
        for column in ("force_N.buccal", "turn_deg.torque", "apex_to_crown", "ligament_pressure_kPa.mean"):
            assert float(row[column]) == lookup(data, f"teeth.{row['tooth']}.{column}")
    wires = rows(paths[2])
    assert len(wires) == sum(len(wire["holds"]) for wire in data["wires"].values())
    assert {row["wire"] for row in wires} == {"main", "overlay"}
    assert float(wires[0]["peak_stress_MPa"]) == data["wires"]["main"]["peak_stress_MPa"]


def test_a_rigid_tooth_leaves_cells_empty(tmp_path):
    (row, *_) = rows(write(held(), tmp_path)[1])
    assert row["moment_at_resistance_N_mm"] == "" and row["movement"] == "held"


def fail(code):
    def failing(*_, **__):
        raise OSError(code, os.strerror(code))

    return failing


@pytest.mark.parametrize(
    ("owner", "name", "code", "reason"),
    [
        (os, "replace", 13, "Permission denied"),
        (Path, "write_text", 28, "No space left on device"),
        (Path, "mkdir", 30, "Read-only file system"),
    ],
)
def test_nothing_is_left_when_writing_fails(tmp_path, monkeypatch, owner, name, code, reason):
    folder = tmp_path / "a" / "b"
    with monkeypatch.context() as patch:
        patch.setattr(owner, name, fail(code))
        with pytest.raises(FileError) as error:
            write(small(), folder)
    assert str(folder) in str(error.value) and reason in str(error.value)
    assert os.listdir(tmp_path) == []


def test_old_results_survive_a_failure(tmp_path, monkeypatch):
    (tmp_path / "result.json").write_text("old")
    monkeypatch.setattr(os, "replace", fail(13))
    with pytest.raises(FileError):
        write(small(), tmp_path)
    assert os.listdir(tmp_path) == ["result.json"] and (tmp_path / "result.json").read_text() == "old"


def test_a_file_or_a_folder_in_the_way_is_named(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(FileError, match="file: is a file; name a folder"):
        write(small(), tmp_path / "file")
    (tmp_path / "teeth.csv").mkdir()
    with pytest.raises(FileError, match=r"teeth\.csv: cannot be written: is a folder"):
        write(small(), tmp_path)
    assert sorted(os.listdir(tmp_path)) == ["file", "teeth.csv"]
