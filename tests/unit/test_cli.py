"""The command line: what it prints and writes, one clear line for every mistake, and its exit status."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from solved import TEXT, small

import biomech.cli.progress as progress_module
from biomech.cli import INPUT, INTERRUPTED, UNSOLVED, UNWRITTEN, main
from biomech.cli.families import FORMS
from biomech.cli.progress import Progress
from biomech.cli.solving import assignment
from biomech.errors import FileError, InputError, SolveError, UnreadableError


@pytest.fixture
def here(tmp_path, monkeypatch):
    """Return an empty current folder with a good scenario in it."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "case.toml").write_text(TEXT, encoding="utf-8")
    return tmp_path


def child(code, **options):
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, **options)


def test_help_loads_nothing_heavy():
    heavy = ["numpy", "scipy", "pydantic", "pint", "rich", "pyvista", "meshio", "biomech.scenario"]
    done = child(
        f"import sys; from biomech.cli import main; code = main(['--help']); "
        f"print('LOADED', [m for m in {heavy} if m in sys.modules]); sys.exit(code)"
    )
    assert done.returncode == 0 and "solve" in done.stdout and "LOADED []" in done.stdout, done


def test_solve_prints_and_writes(here, capsys):
    assert main(["solve", "case.toml", "--no-pictures"]) == 0
    text = capsys.readouterr().out
    assert "Force on each tooth" in text
    assert f"Written to {os.path.join('out', 'case')}: result.json, teeth.csv, wires.csv, caution.txt" in text
    data = json.loads((here / "out" / "case" / "result.json").read_text(encoding="utf-8"))
    assert data["teeth"]["13"]["force_N"] == small().tooth(13)["force_N"]


def test_quiet_prints_nothing(here, capsys):
    assert main(["solve", "case.toml", "--no-pictures", "--quiet", "--out", "there"]) == 0
    assert capsys.readouterr() == ("", "")
    assert sorted(os.listdir("there")) == ["caution.txt", "result.json", "teeth.csv", "wires.csv"]


def test_set_changes_the_scenario(here):
    options = ["--set", "wire.overlay.diameter=0.6 mm", "--set", "wire.main.torque.21 = 5 deg lingual root"]
    assert main(["solve", "case.toml", "--no-pictures", "--quiet", *options]) == 0
    wires = json.loads((here / "out" / "case" / "result.json").read_text())["scenario"]["wire"]
    assert wires["overlay"]["diameter"] == "0.6 mm"
    assert wires["main"]["torque"] == {"11": "15 deg buccal root", "21": "5 deg lingual root"}


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("a.b=0.9 mm", "0.9 mm"), ('a.b="0.9 mm"', "0.9 mm"), ("a.b = true", True), ("a.b=4", 4), ("a.b=0.15", 0.15),
        ("a.b=[16, 26]", [16, 26]), ("a.b=bracket line", "bracket line"), ("a.b=x=y", "x=y"),
        ("a.b=1\nc=2", "1\nc=2"),
    ],
)  # fmt: skip
def test_values_of_set(text, value):
    assert assignment(text) == ("a.b", value)


@pytest.mark.parametrize("text", ["", "=", "a", "a=", "=b", " = "])
def test_no_change_at_all(text):
    with pytest.raises(InputError, match="write KEY=VALUE"):
        assignment(text)


MISTAKES = {
    "missing file": (["solve", "cas.toml"], 2, "cas.toml: there is no such file. Did you mean 'case.toml'?"),
    "folder": (["solve", "."], 2, "is a folder"),
    "binary": (["solve", "binary.toml"], 2, "binary.toml: is a binary file"),
    "not text": (["solve", "latin.toml"], 2, "latin.toml: is not UTF-8 text"),
    "empty": (["solve", "empty.toml"], 2, "empty.toml: the file is empty"),
    "no TOML": (["solve", "broken.toml"], 2, "broken.toml: is no valid TOML"),
    "no change": (["solve", "case.toml", "--set", "foo"], 2, '"foo" is no change: write KEY=VALUE'),
    "changed twice": (
        ["solve", "case.toml", "--set", "wire.main.alloy=x", "--set", "wire.main.alloy = y"], 2,
        "case.toml with --set: wire.main.alloy is changed twice",
    ),
    "unknown key": (["solve", "case.toml", "--set", "wire.main.alloi=x"], 2, "Did you mean 'alloy'?"),
    "unknown alloy": (["solve", "case.toml", "--set", "wire.main.alloy=tin"], 2, "is no known alloy; allowed: "),
    "bare number": (["solve", "case.toml", "--set", "wire.overlay.diameter=0.9"], 2, "is without unit"),
    "absurd": (["solve", "case.toml", "--set", "wire.overlay.diameter=9 m"], 2, "must be from 0.1 mm to 2 mm"),
    "not finite": (["solve", "case.toml", "--set", "wire.overlay.diameter=nan mm"], 2, "must be a finite number"),
    "through a list": (["solve", "case.toml", "--set", "arch.teeth.x=1"], 2, "'x' is asked of a list: say which one"),
    "tooth 19": (["tooth", "19"], 2, "tooth number 19 is not known; allowed: 11 to 17"),
    "half a tooth": (["tooth", "16.5"], 2, "tooth number '16.5' is not known"),
    "tooth in words": (["tooth", "molar"], 2, "tooth number 'molar' is not known"),
    "bone level without unit": (["tooth", "16", "--bone-level", "3"], 2, '--bone-level "3": is without unit'),
    "bone level past the root": (["tooth", "16", "--bone-level", "24 mm"], 2, "tooth 16"),
    "unknown law": (["tooth", "16", "--law", "lnear"], 2, "Did you mean 'linear'?"),
    "law without the value": (["tooth", "16", "--law", "linear", "--second-young", "1 MPa"], 2, "second_young"),
    "impossible ligament": (["tooth", "16", "--poisson", "0.6"], 2, "poisson = 0.6 cannot be used"),
}


@pytest.mark.parametrize("case", MISTAKES)
def test_one_clear_line_for_a_mistake(here, capsys, case):
    (here / "binary.toml").write_bytes(b"\x00\x01\x02" * 100)
    (here / "latin.toml").write_bytes('title = "gr\xf6\xdfe"'.encode("latin-1"))
    (here / "empty.toml").touch()
    (here / "broken.toml").write_text("format = = 1")
    arguments, status, text = MISTAKES[case]
    assert main(arguments) == status
    out, err = capsys.readouterr()
    assert out == "" and text in err and err.startswith("biomech: ") and len(err.splitlines()) == 1
    assert not (here / "out").exists()


def test_help_and_readme_tell_every_exit_status(capsys):
    assert main(["--help"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    readme = " ".join((Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8").split())
    for status in (UNWRITTEN, INPUT, UNSOLVED, INTERRUPTED):
        pattern = rf"[Ee]xit status:? 0 .*\b{status} \w"
        assert re.search(pattern, told) and re.search(pattern, readme), status


@pytest.mark.parametrize(
    ("error", "status"),
    [(UnreadableError, INPUT), (FileError, UNWRITTEN), (InputError, INPUT), (SolveError, UNSOLVED)],
)
def test_exit_status_of_every_error(here, capsys, monkeypatch, error, status):
    def fails(*_, **__):
        raise error("it is so")

    monkeypatch.setattr("biomech.studies.solve", fails)
    assert main(["solve", "case.toml", "--quiet"]) == status
    assert capsys.readouterr().err == "biomech: it is so\n"


def test_a_file_that_may_not_be_read_is_an_error_of_the_input(here, capsys, monkeypatch):
    def refuses(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refuses)
    assert main(["solve", "case.toml"]) == INPUT
    assert capsys.readouterr().err == "biomech: case.toml: cannot be read: Permission denied\n"


@pytest.mark.parametrize("arguments", [["nope"], ["solve"], ["solve", "case.toml", "--out", ""], ["tooth"], []])
def test_wrong_use_shows_the_usage(here, capsys, arguments):
    assert main(arguments) == 2
    assert "Usage: biomech" in capsys.readouterr().err


@pytest.mark.parametrize(
    "arguments",
    [["solve", "case.toml"], ["course", "case.toml"], ["compare", "case.toml", "case.toml"], ["bend", "0.016 in beta-titanium"],
     ["tooth", "16", "--solid"]],
)  # fmt: skip
def test_results_go_to_a_folder_with_a_name(here, capsys, arguments):
    for name in ("", " "):
        assert main([*arguments, "--out", name]) == 2
        out, err = capsys.readouterr()
        assert out == "" and "'--out'" in err and "name a folder for the results" in err
    assert os.listdir(here) == ["case.toml"]


@pytest.mark.parametrize("name", ["", "tooth.txt", "tooth", "folder/"])
def test_a_picture_of_a_tooth_is_a_png(here, capsys, name):
    assert main(["tooth", "16", "--picture", name]) == 2
    out, err = capsys.readouterr()
    assert out == "" and f'"{name}": name a file that ends in .png' in " ".join(err.split())
    assert os.listdir(here) == ["case.toml"]


def test_no_solution_is_status_3(here, capsys, monkeypatch):
    def fails(*_, **__):
        raise SolveError("no equilibrium: activation reached 0.25 of 1")

    monkeypatch.setattr("biomech.studies.solve", fails)
    assert main(["solve", "case.toml"]) == 3
    assert capsys.readouterr().err == "biomech: no equilibrium: activation reached 0.25 of 1\n"
    assert not (here / "out").exists()


def test_a_folder_that_cannot_be_written_costs_the_files_not_the_tables(here, capsys):
    (here / "taken").touch()
    assert main(["solve", "case.toml", "--out", "taken/here"]) == 1
    out, err = capsys.readouterr()
    assert "Force on each tooth" in out and "Written" not in out
    assert err.splitlines()[-1] == "biomech: taken: is a file; name a folder for the results"


def test_a_picture_that_cannot_be_drawn_stops_nothing(here, capsys, monkeypatch):
    from biomech.render import DrawError

    def fails(*_, **__):
        raise DrawError("install libosmesa6")

    monkeypatch.setattr("biomech.render.picture", fails)
    assert main(["solve", "case.toml"]) == 0
    out, err = capsys.readouterr()
    assert "the picture left out: install libosmesa6" in err
    assert "teeth.vtu" in out and "picture.png" not in out


@pytest.mark.parametrize(
    ("arguments", "plot"),
    [
        (["solve", "case.toml"], "teeth.vtu"), (["solve", "case.toml"], "picture.png"),
        (["compare", "case.toml", "other.toml"], "forces.png"),
        (["bend", "0.016 in beta-titanium", "--path", "0.4 mm"], "curves.png"),
    ],
)  # fmt: skip
def test_a_picture_that_cannot_be_written_is_told_by_the_exit_status(here, capsys, arguments, plot):
    (here / "other.toml").write_text(TEXT, encoding="utf-8")
    (here / "there" / plot).mkdir(parents=True)
    assert main([*arguments, "--out", "there", "--quiet"]) == UNWRITTEN
    assert f"there/{plot}: cannot be written" in capsys.readouterr().err
    assert any(name.endswith(".json") for name in os.listdir("there")), "the numbers are there"


def test_interruption_is_clean(here, capsys, monkeypatch):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("biomech.studies.solve", interrupted)
    assert main(["solve", "case.toml"]) == 130
    assert "stopped" in capsys.readouterr().err and not (here / "out").exists()


def test_a_closed_pipe_is_no_error_message():
    code = "import sys; from biomech.cli import main; sys.exit(main(['schema']))"
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as run:
        run.stdout.close()
        assert run.stderr.read() == b""
    assert run.returncode != 0


def test_a_terminal_without_the_letters_shows_something_else(here):
    (here / "case.toml").write_text(TEXT.replace("Six front", "Sechs \u017eeleznih"), encoding="utf-8")
    code = "import sys; from biomech.cli import main; sys.exit(main(['solve', 'case.toml', '--no-pictures']))"
    done = child(code, cwd=here, env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert done.returncode == 0 and "Traceback" not in done.stderr and "Sechs ?eleznih" in done.stdout


def test_tooth_prints_its_ratios(capsys):
    assert main(["tooth", "16", "--bone-level", "3 mm", "--law", "linear", "--young", "0.07 MPa"]) == 0
    out = capsys.readouterr().out
    assert "Support of tooth 16, upper first molar" in out and "bone level 3 mm" in out and "young 0.07 MPa" in out


def test_schema_is_the_scenarios(capsys):
    from biomech.scenario import schema

    assert main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out) == schema()
    assert main(["schema", "--result"]) == 0
    assert json.loads(capsys.readouterr().out)["title"] == "biomech result, version 1"


def test_list_names_every_member(capsys):
    from biomech.scenario import quantities as q

    assert main(["list"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert set(q.arch_forms()) == set(FORMS), "every arch form needs its summary"
    for name in (*q.ligament_laws(), *q.holds(), *q.arch_forms(), "beta-titanium", "stainless as drawn"):
        assert f" {name} " in out
    assert "rise by 6.5 MPa/K" in out and "all others the law does not depend on temperature" in out


def test_progress_speaks_after_a_second_only(capsys, monkeypatch):
    monkeypatch.setattr(progress_module, "PATIENCE", 0.02)
    with Progress() as progress:
        progress.say("solving", 0.5)
        deadline = time.monotonic() + 5
        while "solving ..." not in (said := capsys.readouterr().err) and time.monotonic() < deadline:
            time.sleep(0.01)
    assert said == "biomech: solving ...\n"
    with Progress(quiet=True) as progress:
        progress.say("solving")
        time.sleep(0.05)
    with Progress() as progress:
        progress.say("quick")
    time.sleep(0.05)
    assert capsys.readouterr().err == ""


def test_progress_on_a_terminal_leaves_no_thread(monkeypatch):
    monkeypatch.setattr(progress_module, "PATIENCE", 0.01)
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    before = threading.active_count()
    with Progress() as progress:
        for share in (0.0, 0.3, 0.9):
            progress.say("solving", share)
            time.sleep(0.05)
        assert progress._bar is not None
    deadline = time.monotonic() + 5
    while threading.active_count() > before and time.monotonic() < deadline:
        time.sleep(0.01)
    assert threading.active_count() == before
