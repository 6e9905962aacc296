"""Teeth from surface files in scenarios, on the command line, in tables and pictures."""

import json

import numpy as np
import pytest
from made_teeth import MESHES, made, write_stl

from biomech.cli import main
from biomech.errors import InputError
from biomech.render import drawing
from biomech.scenario import Scenario, load
from biomech.studies import record, solve
from biomech.studies.record import fingerprint

MOLAR = {"file": str(MESHES / "upper-molar.ply"), "unit": "mm", "long_axis": [0, 0, 1], "buccal": [0, -1, 0],
         "cej": [0, 0, 0]}  # fmt: skip


def document(mesh=MOLAR, **tooth):
    """Return a scenario of two neighbours, the molar from a file, pushed buccally."""
    return {
        "format": 1, "title": "Two teeth", "note": "Invented case.",
        "arch": {"jaw": "upper", "form": "straight", "teeth": [16, 15], "spacing": "9 mm"},
        "ligament": {"law": "linear", "young": "0.05 MPa"},
        "tooth": {"16": {"mesh": mesh, **tooth}},
        "force": [{"tooth": 16, "at": "bracket", "force": {"buccal": "0.5 N"}}],
    }  # fmt: skip


@pytest.fixture(scope="module")
def solution():
    return solve(Scenario.parse(document()))


def test_a_tooth_from_a_file_is_solved_and_recorded(solution):
    found = record(solution)
    tooth = found["teeth"]["16"]
    assert tooth["movement"] == "uncontrolled tipping"
    assert tooth["crown_mm"]["buccal"] > 0.0 > tooth["apex_mm"]["buccal"]
    handbook = record(solve(Scenario.parse({**document(), "tooth": {}})))["teeth"]["16"]
    assert tooth["crown_mm"]["buccal"] == pytest.approx(handbook["crown_mm"]["buccal"], rel=0.05)
    assert tooth["resistance_depth_mm"] == pytest.approx(handbook["resistance_depth_mm"], abs=0.15)
    json.dumps(found, allow_nan=False)


def test_the_surface_model_takes_it_too():
    plan = document()
    plan["ligament"] |= {"poisson": 0.49, "model": "surface"}
    found = record(solve(Scenario.parse(plan)))["teeth"]["16"]
    assert found["crown_mm"]["buccal"] > 0.0 and found["ligament_pressure_kPa"]["peak"] > 0.0


def test_it_can_be_drawn_in_every_way(solution, tmp_path):
    from biomech.render import tooth_section, write_vtk
    from biomech.report.html.page import write_report

    assert tooth_section(solution, 16, tmp_path / "section.png").stat().st_size > 10_000
    assert {p.name for p in write_vtk(solution, tmp_path)} == {"teeth.vtu"}
    page = write_report([("now", solution)], tmp_path / "report.html")
    assert 100_000 < page.stat().st_size < 1_500_000


def test_files_are_named_from_the_scenario_that_names_them(tmp_path, monkeypatch):
    from shutil import copy

    (tmp_path / "shapes").mkdir()
    (tmp_path / "cases").mkdir()
    copy(MESHES / "upper-molar.ply", tmp_path / "shapes" / "m.ply")
    text = (
        'format = 1\ntitle = "A"\n[arch]\njaw = "upper"\nform = "straight"\nteeth = [16, 15]\nspacing = "9 mm"\n'
        '[tooth.16.mesh]\nfile = "../shapes/m.ply"\nunit = "mm"\nlong_axis = [0, 0, 1]\nbuccal = [0, -1, 0]\n'
        '[[force]]\ntooth = 16\nforce = {buccal = "1 N"}\n'
    )
    (tmp_path / "cases" / "base.toml").write_text(text)
    (tmp_path / "child.toml").write_text('extends = "cases/base.toml"\ntitle = "B"\n')
    base, child = load(tmp_path / "cases" / "base.toml"), load(tmp_path / "child.toml")
    assert child.tooth[16].mesh.file == base.tooth[16].mesh.file == (tmp_path / "shapes" / "m.ply").as_posix()
    monkeypatch.chdir(tmp_path / "cases")
    assert load("base.toml").tooth[16].mesh.file == "../shapes/m.ply"
    assert solve(child).teeth[16].part.tooth.shape is not None


def test_the_fingerprint_of_a_scenario_sees_the_files_content(tmp_path):
    first = write_stl(tmp_path / "a.stl", *made(20, 24))
    again = write_stl(tmp_path / "b.stl", *made(20, 24))
    other = write_stl(tmp_path / "c.stl", *made(20, 26))
    prints = [fingerprint(Scenario.parse(document({**MOLAR, "file": str(p)}))) for p in (first, again, other)]
    assert prints[0] == prints[1] != prints[2]


WRONG = {
    "no side": ({"file": "a.stl", "unit": "mm"}, {}, "tooth.16.mesh = {.*} needs bracket or buccal: the surface does not"),
    "no unit": ({"file": "a.stl", "buccal": [0, 1, 0]}, {}, "tooth.16.mesh.unit is missing: unit of the file"),
    "unknown unit": ({**MOLAR, "unit": "inch"}, {}, 'tooth.16.mesh.unit = "inch" is not known; allowed: .*'),
    "a point with units": ({**MOLAR, "cej": ["0 mm", "0 mm", "0 mm"]}, {}, "tooth.16.mesh.cej = .* must be three numbers"),
    "half an axis": ({**MOLAR, "long_axis": [0, 1]}, {}, r"tooth.16.mesh.long_axis = \[0, 1\] must be "),
    "unknown key": ({**MOLAR, "axis": [0, 0, 1]}, {}, "tooth.16.mesh.axis = .* is an unknown key; known here: file, unit"),
    "two crests": ({**MOLAR, "crest": {"point": [0, 0, 1], "curve": [[0, 0, 0]] * 4}}, {}, "crest = .* must have either a point"),
    "no crest": ({**MOLAR, "crest": {}}, {}, "crest = {} must have either a point"),
    "short curve": ({**MOLAR, "crest": {"curve": [[0, 0, 0]] * 3}}, {}, "must hold at least four points around the tooth"),
    "normal and below": ({**MOLAR, "crest": {"point": [0, 0, 1], "normal": [0, 0, 1], "below": "1 mm"}}, {}, "normal = .* has no meaning together with below"),
    "bare level": ({**MOLAR, "crest": {"point": [0, 0, 1], "below": 1}}, {}, "tooth.16.mesh.crest.below = 1"),
    "bone level beside a crest": ({**MOLAR, "crest": {"point": [0, 0, 1]}}, {"bone_level": "2 mm"}, 'tooth.16.bone_level = "2 mm" has no meaning beside mesh.crest'),
    "length beside the mesh": (MOLAR, {"root_length": "12 mm"}, 'tooth.16.root_length = "12 mm" has no meaning beside mesh, which says it'),
    "height beside a bracket": ({**MOLAR, "bracket": [0, -5, -4]}, {"bracket_height": "3 mm"}, "tooth.16.bracket_height = .* has no meaning beside mesh.bracket"),
    "not finite": ({**MOLAR, "cej": [0, 0, float("nan")]}, {}, "must be three numbers"),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG)
def test_what_a_scenario_cannot_say(case):
    mesh, tooth, text = WRONG[case]
    with pytest.raises(InputError, match=text) as refused:
        Scenario.parse(document(mesh, **tooth))
    assert len(str(refused.value).splitlines()) == 1


def test_overlapping_teeth_are_refused_naming_both():
    plan = document()
    plan["arch"]["spacing"] = "3 mm"
    with pytest.raises(InputError, match=r"teeth 16 and 15 overlap by \d"):
        solve(Scenario.parse(plan))


def test_the_command_reports_a_file(capsys):
    file = str(MESHES / "upper-molar.ply")
    options = ["--number", "16", "--unit", "mm", "--long-axis", "0,0,-6 to 0,0,8", "--buccal", "0,-1,0", "--cej", "0,0,0"]
    assert main(["tooth", file, *options, "--crest", "0,0,1.5 normal 0,0.1,1"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Support of tooth 16, upper first molar" in out and "shape from upper-molar.ply, in mm: volume 9" in out
    assert "no bracket was given" in out and "bone crest a plane that leans 5.7 deg" in out
    assert "averages of the handbooks" not in out
    ring = "; ".join(f"{4.5 * np.cos(a):.3f},{4.5 * np.sin(a):.3f},1.5" for a in np.linspace(0, 6, 12))
    assert main(["tooth", file, *options[:2], "--unit", "mm", "--bracket", "0 -5.27 -4.5", "--crest", ring, "--mirrored"]) == 0
    assert "along a curve of 12 points" in " ".join(capsys.readouterr().out.split())


MISTAKES = {
    "no number": (["--unit", "mm", "--buccal", "0,-1,0"], "--number is needed with a surface file: which tooth it is"),
    "no unit": (["--number", "16", "--buccal", "0,-1,0"], "--unit is needed with a surface file: one of mm, cm, m, um, in"),
    "no side": (["--number", "16", "--unit", "mm"], "give the bracket's point or the buccal direction"),
    "wrong unit": (["--number", "16", "--unit", "m", "--buccal", "0,-1,0"], 'with unit = "mm" it would be 20.'),
    "no point": (["--number", "16", "--unit", "mm", "--buccal", "0,-1"], '--buccal "0,-1": must be three numbers'),
    "three points": (["--number", "16", "--unit", "mm", "--long-axis", "0,0,1 to 0,0,2 to 0,0,3"], "has 3 points; allowed: one or two"),
    "wrong tooth": (["--number", "19", "--unit", "mm"], "tooth number 19 is not known"),
    "root length": (["--number", "16", "--unit", "mm", "--root-length", "12 mm"], "--root-length has no meaning with a surface file"),
    "bone level twice": (["--number", "16", "--unit", "mm", "--crest", "0,0,1", "--bone-level", "2 mm"], "bone_level has no meaning"),
}  # fmt: skip


@pytest.mark.parametrize("case", MISTAKES)
def test_the_command_says_what_is_missing(capsys, case):
    options, text = MISTAKES[case]
    assert main(["tooth", str(MESHES / "upper-molar.ply"), *options]) == 2
    out, err = capsys.readouterr()
    assert out == "" and text in err and len(err.splitlines()) == 1


def test_options_of_a_file_mean_nothing_beside_a_number(capsys):
    assert main(["tooth", "16", "--unit", "mm"]) == 2
    assert "--unit has no meaning without a surface file" in capsys.readouterr().err
    assert main(["tooth", "no-such.stl", "--number", "16", "--unit", "mm"]) == 2
    assert "no-such.stl: there is no such file" in capsys.readouterr().err


@pytest.mark.skipif(not drawing().works, reason="nothing can be drawn here")
@pytest.mark.parametrize("what", [["36"], [str(MESHES / "lower-molar.ply"), "--number", "46", "--unit", "mm", "--buccal", "0,-1,0"]])
def test_the_picture_shows_crown_root_crest_and_marks(tmp_path, what, capsys):
    from PIL import Image

    path = tmp_path / "tooth.png"
    assert main(["tooth", *what, "--picture", str(path)]) == 0
    assert str(path) in capsys.readouterr().out
    image = np.asarray(Image.open(path).convert("RGB")).astype(int)
    assert image.shape == (1000, 1600, 3)
    left = image[80:900, 20:1100]
    green = (left[..., 1] > left[..., 0] + 40) & (left[..., 1] > left[..., 2] + 20)
    blue = (left[..., 2] > left[..., 0] + 80) & (left[..., 2] > 120)
    light = (left.min(axis=2) > 170) & (np.ptp(left, axis=2) > 8)
    brown = (left[..., 0] > left[..., 2] + 30) & (left.max(axis=2) < 200)
    assert green.sum() > 1000 and blue.sum() > 150 and light.sum() > 20_000 and brown.sum() > 20_000
