"""`biomech tooth --solid`: loads in words, tables, files and refusals."""

from pathlib import Path

import meshio
import numpy as np
import pytest
from click.testing import CliRunner

from biomech.cli.commands import biomech
from biomech.errors import InputError
from biomech.ligaments import make_ligament
from biomech.studies.ligament import load_at_bracket, load_of_scenario, loaded_ligament
from biomech.tooth import make_tooth

SCENARIOS = Path(__file__).parents[2] / "scenarios"
LAW = make_ligament("linear", young=0.68, poisson=0.45)


def run(*arguments):
    from biomech.cli import main

    return main(list(arguments))


def test_buccal_force_compresses_the_buccal_crest_and_the_lingual_apex_on_both_sides():
    for number in (11, 21, 31, 41):
        tooth = make_tooth(number)
        found = loaded_ligament(tooth, LAW, load_at_bracket(tooth, {"buccal": 1.0}), fineness=0.5)
        layer = found.layer
        crest = layer.height > 0.8 * layer.height.max()
        apex = (layer.height < 0.25 * layer.height.max()) & (layer.height > 0.5)
        buccal, lingual = (sign * np.sin(layer.angle) > 0.7 for sign in (1, -1))
        assert layer.hydrostatic[crest & buccal].mean() < 0.0 < layer.hydrostatic[crest & lingual].mean()
        assert layer.hydrostatic[apex & lingual].mean() < 0.0 < layer.hydrostatic[apex & buccal].mean()


def test_mesial_force_compresses_the_mesial_crest_on_both_sides():
    for number in (11, 21):
        tooth = make_tooth(number)
        layer = loaded_ligament(tooth, LAW, load_at_bracket(tooth, {"mesial": 1.0}), fineness=0.5).layer
        near = (layer.height > 0.8 * layer.height.max()) & (np.cos(layer.angle) > 0.7)
        assert layer.hydrostatic[near].mean() < 0.0


def test_torque_is_a_couple_that_sends_the_root_buccally():
    tooth = make_tooth(21)
    load = load_at_bracket(tooth, {"torque": 5.0})
    assert np.abs(load.wrench[:3]).max() == 0.0
    motion = loaded_ligament(tooth, LAW, load, fineness=0.5).motion
    apex = motion[:3] + np.cross(motion[3:], tooth.landmark("apex"))
    assert apex[1] > 0.0


def test_stiffening_law_is_solved_at_the_load():
    tooth, law = make_tooth(11), make_ligament("bilinear")
    small, large = (
        loaded_ligament(tooth, law, load_at_bracket(tooth, {"buccal": f}), fineness=0.5).motion[1] for f in (0.01, 2.0)
    )
    assert large < 0.6 * 200.0 * small


def test_load_of_a_scenario():
    tooth, law, load = load_of_scenario(SCENARIOS / "upper-overlay.toml", 11)
    assert tooth.number == 11 and law.name == "bilinear"
    assert np.linalg.norm(load.wrench[:3]) > 0.0 and "upper-overlay.toml" in load.words
    with pytest.raises(InputError, match="has no tooth 41; allowed: 17"):
        load_of_scenario(SCENARIOS / "upper-overlay.toml", 41)


def test_tables_and_files(tmp_path):
    done = CliRunner().invoke(biomech, [
        "tooth", "21", "--solid", "--law", "linear", "--poisson", "0.45", "--load", "buccal=0.5 N", "--load",
        "torque=2 N.mm", "--out", str(tmp_path), "--scale", "20 kPa", "--waist", "0.66",
    ])  # fmt: skip
    assert done.exit_code == 0, done.output
    for text in ("Load: buccal 0.5 N, torque 2 N.mm at the bracket", "hydrostatic", "95 %", "Not a medical device"):
        assert text in done.output
    for name in ("map.png", "section.png", "surface.png"):
        assert (tmp_path / name).read_bytes()[:4] == b"\x89PNG"
    grid = meshio.read(tmp_path / "ligament.vtu")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["ligament.vtu", "map.png", "section.png", "surface.png"]
    cells = grid.cells_dict["hexahedron20"]
    corners = grid.points[cells[:, [0, 1, 3, 4]]]
    sides = corners[:, 1:] - corners[:, :1]
    assert (np.linalg.det(sides) > 0.0).all()
    for key in ("hydrostatic_kPa", "across_kPa", "shear_kPa"):
        assert np.isfinite(grid.cell_data[key][0]).all()
    assert grid.point_data["displacement_mm"].shape == grid.points.shape


def test_section_shows_the_stress_through_the_thickness():
    from biomech.render.ligament_section import cut, nodal

    tooth = make_tooth(21)
    found = loaded_ligament(tooth, LAW, load_at_bracket(tooth, {"buccal": 1.0}), fineness=0.5)
    triangles, points, values = cut(found.solid, nodal(found), 1)
    corner = points[triangles]
    sides = corner[:, 1:] - corner[:, :1]
    area = 0.5 * np.abs(np.linalg.det(sides))
    root = tooth.roots[0].cut(tooth.bone_level)
    s = np.linspace(0.0, 1.0, 4001)
    line = np.stack([root.b * s, root.length * (1.0 - s * s)], axis=1)
    around = 2.0 * np.linalg.norm(np.diff(line, axis=0), axis=1).sum()
    assert area.sum() == pytest.approx(0.2 * around + 0.5 * np.pi * 0.2**2, rel=0.05)  # a band along a parabola
    hydrostatic, largest, smallest, shear = values.T
    assert (largest >= hydrostatic).all() and (hydrostatic >= smallest).all()
    assert shear == pytest.approx(0.5 * (largest - smallest), abs=0.05 * np.abs(values).max())  # both interpolated
    low = points[:, 1].min()
    crest = (points[:, 1] < low + 2.5) & (points[:, 1] > low + 0.5)
    assert hydrostatic[crest & (points[:, 0] > 0.0)].max() < 0.0 < hydrostatic[crest & (points[:, 0] < 0.0)].min()
    thick = cut(found.solid, nodal(found), 6)[1]
    assert np.ptp(thick[:, 0]) - np.ptp(points[:, 0]) == pytest.approx(2 * 5 * 0.2, rel=0.05)


def test_values_at_gauss_points_are_carried_to_corners():
    from biomech.solid.elements import CORNERS, gauss
    from biomech.solid.stress import at_corners

    linear = np.array([[2.0, -1.0, 0.5], [0.0, 3.0, 1.0]])
    inside = (gauss()[0] @ linear.T + 4.0)[None]
    assert at_corners(inside, np.arange(8)[None], 9)[:8] == pytest.approx(CORNERS @ linear.T + 4.0)


def test_what_the_tooth_itself_gives_is_added(capsys):
    assert run("tooth", "31", "--solid", "--law", "linear", "--young", "0.68 MPa", "--poisson", "0.49", "--deformable") == 0
    out = capsys.readouterr().out
    rigid, soft = (
        np.array([float(x) for x in next(line for line in out.splitlines() if line.strip().startswith(name)).split()[2:]])
        for name in ("rigid tooth", "deformable tooth")
    )
    assert (soft > rigid).all() and 0.1 < soft[1] - rigid[1] < 3.0  # um per N; some 0.2 for a stout incisor


def test_a_load_beyond_small_strains_is_said():
    from biomech.report.ligament import notes

    tooth = make_tooth(11)
    said = [" ".join(notes(loaded_ligament(tooth, LAW, load_at_bracket(tooth, {"buccal": f}), fineness=0.5))) for f in (1.0, 100.0)]
    assert "Warning" not in said[0] and "more than 20 % of the thickness" in said[1]


WRONG = {
    "several roots": (["16", "--solid"], "tooth 16: the handbook's 3 roots are no closed surface"),
    "load alone": (["11", "--load", "buccal=1 N"], "--load has no meaning without --solid"),
    "scale alone": (["11", "--solid", "--scale", "5 kPa"], "--scale has no meaning without --out"),
    "no unit": (["11", "--solid", "--load", "buccal=1"], '--load "buccal=1": is without unit'),
    "wrong unit": (["11", "--solid", "--load", "torque=1 N"], '--load "torque=1 N"'),
    "unknown part": (["11", "--solid", "--load", "up=1 N"], '--load "up=1 N": allowed is NAME=VALUE'),
    "twice": (["11", "--solid", "--load", "tip=1 N.mm", "--load", "tip=2 N.mm"], "at most once"),
    "nothing": (["11", "--solid", "--load", "buccal=0 N"], "nothing acts"),
    "two sources": (["11", "--solid", "--scenario", "x.toml", "--load", "buccal=1 N"], "has no meaning with --scenario"),
    "two ligaments": (["11", "--solid", "--scenario", "x.toml", "--young", "1 MPa"], "no meaning with --scenario"),
    "model": (["11", "--solid", "--model", "surface"], "--model has no meaning with --solid"),
    "nu of a half": (["11", "--solid", "--poisson", "0.5"], "poisson = 0.5 cannot be used; allowed: 0 to 0.4999"),
    "thickness": (["11", "--solid", "--thickness", "-0.2 mm"], "thickness = -0.2 cannot be used"),
    "crest": (["11", "--solid", "--bone-level", "14 mm"], "tooth 11: bone level 14 mm"),
    "bone alone": (["11", "--solid", "--bone", "4 mm"], "--bone has no meaning without --deformable"),
    "bone of nothing": (["11", "--solid", "--deformable", "--bone", "0 mm"], '--bone "0 mm": allowed: 0.5 to 20 mm'),
    "deformable file": (
        [str(Path(__file__).parents[2] / "meshes" / "lower-incisor.ply"), "--number", "41", "--unit", "mm", "--buccal", "0,-1,0",
         "--solid", "--deformable"],
        "tooth 41: a tooth from a surface file stays rigid",
    ),
    "deformable alone": (["11", "--deformable"], "--deformable has no meaning without --solid"),
    "nearly incompressible file": (
        [str(Path(__file__).parents[2] / "meshes" / "lower-incisor.ply"), "--number", "41", "--unit", "mm", "--buccal", "0,-1,0",
         "--solid", "--poisson", "0.499"],
        "tooth 41: poisson = 0.499 cannot be used with a solid over a surface file",
    ),
    "waist": (["11", "--solid", "--waist", "3"], "waist = 3.0 cannot be used; allowed: 0.1 to 1.4"),
}


@pytest.mark.parametrize("case", WRONG)
def test_wrong(case, capsys):
    arguments, text = WRONG[case]
    assert run("tooth", *arguments) == 2
    out, err = capsys.readouterr()
    assert out == "" and text in " ".join(err.split())
