"""`biomech course`: what it prints and writes, going on after it was killed, one clear line for every mistake."""

from __future__ import annotations

import csv
import json
import os
import signal
import struct
import subprocess
import sys
import time
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from solved import TEXT

from biomech.cli import main
from biomech.errors import InputError, SolveError
from biomech.mechanics.poses import Pose
from biomech.movement.readings import Reader
from biomech.report.course import arch_table, teeth_table, visit_lines, wire_table
from biomech.report.summary import expectation_lines
from biomech.report.words import WIDTHS
from biomech.scenario import Scenario, load
from biomech.studies.course import Course, run_course
from biomech.studies.course_files import course_record, measures_before

COURSE = """
[course]
law = "proportional"
start = 2025-01-13
duration = "8 weeks"
tolerance = 2e-3
[[course.visit]]
date = 2025-01-27
torque = { main = { 13 = "5 deg buccal root" } }
note = "seen"
[[course.visit]]
date = 2025-02-10
[[course.visit]]
date = 2025-02-24
remove = ["overlay"]
"""
FILES = ["caution.txt", "course.json", "course.png", "curves.csv", "visits.csv"]
CALL = "import sys; from biomech.cli import main; sys.exit(main(sys.argv[1:]))"


@pytest.fixture
def here(tmp_path, monkeypatch):
    """Return an empty current folder with a good course in it."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "case.toml").write_text(TEXT + COURSE, encoding="utf-8")
    return tmp_path


@cache
def course() -> Course:
    import tomllib

    return run_course(Scenario.parse(tomllib.loads(TEXT + COURSE)))


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    """Return a folder where the command has been run, and what it printed."""
    folder = tmp_path_factory.mktemp("course")
    (folder / "case.toml").write_text(TEXT + COURSE, encoding="utf-8")
    run = subprocess.run(
        [sys.executable, "-c", CALL, "course", "case.toml"], cwd=folder, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr
    return folder, run.stdout


def test_tables_fit_a_hundred_columns_and_show_every_visit(done):
    _, text = done
    assert max(map(len, text.splitlines())) <= 100
    for line in (
        "Start, day 0 (2025-01-13)", "Visit 1, day 14 (2025-01-27)", "- note: seen", "- nothing done",
        "Visit 3, day 42 (2025-02-24)", "- wire 'overlay' taken out", "End, day 56", "What is left in wire 'overlay'",
        "Not a medical device",
    ):  # fmt: skip
        assert line in text, line
    assert text.count("Teeth: movement since the start") == 5


def test_files(done):
    folder, text = done
    out = folder / "out" / "case"
    assert sorted(p.name for p in out.iterdir()) == sorted([*FILES, "legs"])
    assert f"Written to {os.path.join('out', 'case')}: course.json, visits.csv, curves.csv, caution.txt, course.png" in text
    assert struct.unpack(">II", (out / "course.png").read_bytes()[16:24]) == (800, 600)
    assert json.loads((out / "course.json").read_text(encoding="utf-8")) == course_record(course())


def test_what_a_course_must_come_to_is_checked():
    scenario = course().scenario
    claims = [
        {"output": "end.teeth.13.crown_mm.buccal", "min": -5, "why": "it stays in the mouth"},
        {"output": "visits.1.found.teeth.13.apex_mm.buccal", "max": -1e6, "why": "false on purpose"},
        {"output": "end.teeth.13.crown_mm.bucal", "min": 0, "why": "misspelt on purpose"},
    ]
    told = replace(course(), scenario=scenario.changed({"course.expect": claims}))
    found = course_record(told)["expectations"]
    assert [e["met"] for e in found] == [True, False, False]
    visit = course().visits[1].before
    assert found[1]["value"] == pytest.approx(visit.apex[0, 1])
    assert "Did you mean 'buccal'" in found[2]["problem"]
    assert [mark for mark, _ in expectation_lines(found)] == ["met", "NOT MET", "NOT MET"]


def test_curves_are_what_was_read_at_every_moment(done):
    folder, _ = done
    with open(folder / "out" / "case" / "curves.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    found = course()
    np.testing.assert_array_equal([float(r["day"]) for r in rows], found.times)
    i = found.readings[0].of(13)
    crown = [r.crown[i, 1] for r in found.readings]
    np.testing.assert_array_equal([float(r["teeth.13.crown_mm.buccal"]) for r in rows], crown)
    energy = [r.wires["overlay"].energy if "overlay" in r.wires else "" for r in found.readings]
    assert [r["wires.overlay.energy_N_mm"] and float(r["wires.overlay.energy_N_mm"]) for r in rows] == energy
    assert {r["teeth.13.inner_cusp_mm"] for r in rows} == {""}  # a canine has none


def test_visits_hold_every_tooth_as_found_and_as_left(done):
    folder, _ = done
    with open(folder / "out" / "case" / "visits.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    states = [(r["visit"], r["state"]) for r in rows[::6]]
    assert states == [("0", "left"), *((str(v), s) for v in (1, 2, 3) for s in ("found", "left")), ("3", "end")]
    assert [r["tooth"] for r in rows[:6]] == ["13", "12", "11", "21", "22", "23"]
    left = next(r for r in rows if (r["visit"], r["state"], r["tooth"]) == ("1", "left", "13"))
    visit = course().visits[1]
    assert float(left["moment_at_bracket_N_mm.torque"]) == visit.after.moment[0, 0]
    assert "5 deg buccal root torque added at 13" in left["done"]


def test_every_number_names_its_unit(done):
    folder, _ = done
    data = json.loads((folder / "out" / "case" / "course.json").read_text(encoding="utf-8"))
    units = ("_mm", "_deg", "_N", "_N_mm", "day", "_per_month", "peak_over_limit", "apex_to_crown")

    def check(values, named):
        for key, value in values.items():
            here = named or key.endswith(units)
            if isinstance(value, dict):
                check(value, here)
            else:
                assert here or not isinstance(value, float), key

    check(data["visits"][1]["found"], False)
    check(data["end"], False)
    assert "time_constant_day" in data["rate_law"]


def test_gains_count_from_the_arch_before_the_wires():
    found = course()
    leg, before = found.legs[0], measures_before(found)
    parts = leg.appliance.teeth.values()
    start = Pose(np.stack([p.pose.rotation for p in parts]), np.stack([p.pose.position for p in parts]))
    moment = leg.mover.moment(0.0, leg.appliance.start, leg.appliance.network.start_states())
    still = Reader(leg.appliance, start).read(moment)
    assert dict(before.widths) == pytest.approx(dict(still.widths), abs=1e-12)
    assert dict(before.apex_widths) == pytest.approx(dict(still.apex_widths), abs=1e-12)
    assert before.perimeter == pytest.approx(still.perimeter, abs=1e-12)


def test_tables_show_what_was_read():
    found, visit = course(), course().visits[1]
    assert visit.before is not None
    table = teeth_table(found, visit.before, visit.after)
    cells = [list(column.cells) for column in table.columns]
    assert cells[0] == ["13", "12", "11", "21", "22", "23"]
    np.testing.assert_allclose([float(c) for c in cells[1]], visit.before.crown[:, 1], atol=0.005)
    np.testing.assert_allclose([float(c) for c in cells[3]], visit.before.apex[:, 1], atol=0.005)
    np.testing.assert_allclose([float(c) for c in cells[5]], -visit.before.turn[:, 0], atol=0.005)
    np.testing.assert_allclose([float(c) for c in cells[8]], visit.before.force[:, 1], atol=0.006)
    assert cells[7] == ["-"] * 6
    arch = arch_table(found)
    assert [*arch.columns[0].cells] == ["start", "1", "2", "3", "end"]
    gain = found.readings[-1].widths[3] - measures_before(found).widths[3]
    assert float([*arch.columns[2].cells][-1]) == pytest.approx(gain, abs=0.005)
    assert str(arch.caption).endswith(WIDTHS)
    overlay = [list(column.cells) for column in wire_table(found, "overlay").columns]
    assert overlay[0] == ["start", "1", "2", "3"] and overlay[4][-1] == "taken out"
    first = found.visits[0].after.wires["overlay"].energy
    assert overlay[3][1] == f"{100 * visit.before.wires['overlay'].energy / first:.0f} %"
    assert list(visit_lines(found.visits[2])) == ["nothing done"]


def test_killed_and_run_again_it_goes_on_and_writes_the_same(done, here, capsys):
    legs = here / "out" / "case" / "legs"
    with subprocess.Popen(
        [sys.executable, "-c", CALL, "course", "case.toml", "--quiet"], stderr=subprocess.DEVNULL
    ) as run:
        until = time.monotonic() + 120
        while not (legs / "leg-001.leg").exists() and run.poll() is None and time.monotonic() < until:
            time.sleep(0.002)
        run.send_signal(signal.SIGKILL)
    for late in legs.glob("leg-00[23].leg"):  # a fast run may have got further before it was killed
        late.unlink()
    kept = {p.name: p.stat().st_mtime_ns for p in legs.glob("*.leg")}
    assert sorted(kept) == ["leg-000.leg", "leg-001.leg"]
    again = subprocess.run([sys.executable, "-c", CALL, "course", "case.toml"], capture_output=True, text=True, check=True)
    assert "going on from day 28 of 56; what came before was finished earlier" in again.stderr
    assert "Resumed: 2 of 4 stretches between visits" in again.stdout and "2 computed now" in again.stdout
    assert {name: (legs / name).stat().st_mtime_ns for name in kept} == kept
    folder, _ = done
    for name in FILES:
        assert (here / "out" / "case" / name).read_bytes() == (folder / "out" / "case" / name).read_bytes(), name
    assert main(["course", "case.toml", "--no-pictures"]) == 0
    out, err = capsys.readouterr()
    assert "Resumed: 4 of 4" in out and "nothing was left to compute" in out and "going on" not in err


def test_another_scenario_does_not_go_on_from_it(done, here, capsys):
    folder, _ = done
    (here / "out").symlink_to(folder / "out")
    options = ["--set", "course.duration=7 weeks", "--no-pictures"]
    assert main(["course", "case.toml", *options]) == 0
    assert "All computed now." in capsys.readouterr().out


def test_quiet_prints_nothing(here, capsys):
    arguments = ["course", "case.toml", "--no-pictures", "--quiet", "--out", "there", "--set", "course.visit=[]"]
    assert main(arguments) == 0
    assert capsys.readouterr() == ("", "")
    assert sorted(os.listdir("there")) == ["caution.txt", "course.json", "curves.csv", "legs", "visits.csv"]


def test_solve_says_that_the_course_is_left_out(here, capsys):
    assert main(["solve", "case.toml", "--no-pictures"]) == 0
    out = capsys.readouterr().out
    assert "The [course] is left out: this is its first moment. It is run by: biomech course case.toml" in out
    (here / "case.toml").write_text(TEXT, encoding="utf-8")
    assert main(["solve", "case.toml", "--no-pictures"]) == 0
    assert "[course]" not in capsys.readouterr().out


DATE = "date = 2025-02-10"
MISTAKES = {
    "no course": (COURSE, "", "case.toml: has no [course]; give one, or solve its only moment: biomech solve"),
    "out of order": (DATE, "date = 2025-01-20", "(day 7) does not come after visit 1, on day 14"),
    "after the end": ("date = 2025-02-24", 'after = "3 months"', "is not before the end, day 56"),
    "no such date": (DATE, 'date = "2025-02-30"', "must be a date like 2025-03-31"),
    "when": (DATE, "", "course.visit[2].after must be given, or `date`"),
    "absent wire": ('["overlay"]', '["overlai"]', "takes out wire 'overlai', which is not there"),
    "absent tooth": ("13 = ", "16 = ", "names tooth 16, which is not in arch.teeth"),
    "negative": ('"8 weeks"', '"-8 weeks"', "must be from 1 hour to 20 year"),
    "unknown law": ('"proportional"', '"proportionl"', "Did you mean 'proportional'?"),
}


@pytest.mark.parametrize("case", MISTAKES)
def test_one_clear_line_for_a_mistake(here, capsys, case):
    old, new, text = MISTAKES[case]
    assert old in TEXT + COURSE
    (here / "case.toml").write_text((TEXT + COURSE).replace(old, new), encoding="utf-8")
    assert main(["course", "case.toml"]) == 2
    out, err = capsys.readouterr()
    assert out == "" and text in err and err.startswith("biomech: ") and len(err.splitlines()) == 1, err
    assert not (here / "out").exists()


@pytest.mark.parametrize(("error", "status"), [(SolveError("day 3: stuck"), 3), (InputError("wrong"), 2)])
def test_errors_of_the_run(here, capsys, monkeypatch, error, status):
    def fails(*_, **__):
        raise error

    monkeypatch.setattr("biomech.studies.course.run_course", fails)
    assert main(["course", "case.toml"]) == status
    err = capsys.readouterr().err
    assert err == {3: "biomech: day 3: stuck\n", 2: "biomech: case.toml: wrong\n"}[status]


def test_interruption_says_what_is_kept(here, capsys, monkeypatch):
    def interrupted(*_, folder, **__):
        Path(folder).mkdir(parents=True)
        (Path(folder) / "leg-000.leg").touch()
        raise KeyboardInterrupt

    monkeypatch.setattr("biomech.studies.course.run_course", interrupted)
    assert main(["course", "case.toml"]) == 130
    assert "the same command goes on from there" in capsys.readouterr().err


def test_a_folder_that_cannot_be_made(here, capsys):
    (here / "taken").touch()
    assert main(["course", "case.toml", "--out", "taken/here"]) == 1
    out, err = capsys.readouterr()
    assert out == "" and err.splitlines()[-1] == "biomech: taken: is a file; name a folder for the results"


def test_an_empty_folder_name_is_wrong_use(here, capsys):
    assert main(["course", "case.toml", "--out", " "]) == 2
    assert "name a folder for the results" in capsys.readouterr().err


def test_a_plot_that_cannot_be_drawn_stops_nothing(done, here, capsys, monkeypatch):
    folder, _ = done
    (here / "out").symlink_to(folder / "out")
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    assert main(["course", "case.toml"]) == 0
    out, err = capsys.readouterr()
    assert "biomech: the plot left out: " in err and "curves.csv" in out and "course.png" not in out


def test_example_is_a_course():
    scenarios = Path(__file__).parents[2] / "scenarios"
    assert all(load(path).course is not None for path in scenarios.glob("course-*.toml"))
