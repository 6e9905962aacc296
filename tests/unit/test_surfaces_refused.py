"""Surface files that hold no usable tooth: one clear line each, with the place."""

import random

import numpy as np
import pytest
from made_teeth import MESHES, SMALL, given_source, made, write_ascii_stl, write_stl

from biomech.errors import BiomechError, FileError, InputError
from biomech.surfaces import Crest, Source, mesh_tooth


@pytest.fixture(scope="module")
def small():
    """A one-rooted tooth of 20 x 24 rings: vertices and triangles, crest in z = 0, apex at z = 13."""
    return made(*SMALL)


def shifted(points, by):
    return points + np.asarray(by)


def two_teeth(points, triangles):
    return np.concatenate([points, shifted(points, (9.0, 0.0, 0.0))]), np.concatenate([triangles, triangles + len(points)])


def crossed(points, triangles):
    out = points.copy()
    out[int(np.argmin(np.linalg.norm(points - [3.0, 0.0, 0.0], axis=1)))] = [-4.5, 0.1, 0.2]
    return out, triangles


def finned(points, triangles):
    return np.concatenate([points, [[8.0, 0.0, 0.0]]]), np.concatenate([triangles, [[*triangles[400, :2], len(points)]]])


def not_a_number(points, triangles):
    out = points.copy()
    out[17, 1] = np.nan
    return out, triangles


def opened(points, triangles):
    return points, triangles[(points[triangles][:, :, 2] < 11.0).all(axis=1)]


def moebius(points, triangles):
    turn = np.linspace(0.0, 2.0 * np.pi, 61)[:-1]
    edge = [np.stack([(9 + s * np.cos(t / 2)) * np.cos(t), (9 + s * np.cos(t / 2)) * np.sin(t), s * np.sin(t / 2)]) for t in turn for s in (-2, 2)]
    n = len(turn)
    faces = [f for i in range(n) for f in band(i, n)]
    return np.array(edge), np.array(faces)


def band(i, n):
    a, b = 2 * i, 2 * i + 1
    c, d = (2 * i + 2, 2 * i + 3) if i + 1 < n else (1, 0)
    return [[a, b, c], [b, d, c]]


REFUSED = {
    "open at the apex": (opened, {}, r"the surface is open: a hole of 24 edges, 2\.\d* mm wide, at \(.*\) mm; allowed"),
    "crossing itself": (crossed, {}, r"cuts through itself: \d+ pairs of triangles, the first at \(.*\) mm"),
    "with a fin": (finned, {}, r"1 edges belong to more than two triangles \(non-manifold\), the first at \("),
    "two teeth": (two_teeth, {}, r"holds 2 separate surfaces; besides the largest there is one of .* at \("),
    "no number": (not_a_number, {}, r"vertices are no finite numbers, the first is vertex \d+ at \(.*nan.*\)"),
    "one-sided": (moebius, {}, r"only one side \(a twisted band\), seen at \("),
    "in metres": (lambda p, t: (p / 1000.0, t), {}, r'0\.02\d* mm long when its coordinates are in mm; allowed for tooth 11: .* with unit = "m" it would be 2\d'),
    "in inches": (lambda p, t: (p / 25.4, t), {}, r'with unit = "in" it would be 2\d'),
    "in centimetres": (lambda p, t: (p / 10.0, t), {}, r'with unit = "cm" it would be 2\d'),
    "no unit at all": (lambda p, t: (p * 0.3, t), {}, r"mm long when its coordinates are in mm; allowed for tooth 11: .*\(handbook: 23.5 mm\)$"),
    "crest above the crown": (None, {"crest": Crest(point=(0.0, 0.0, -40.0))}, r"crest: lies above the crown: it meets the long axis .* the crown ends at"),
    "crest on the crown": (None, {"crest": Crest(point=(0.0, 0.0, -2.5))}, r"crest: lies on the crown, 1 mm|crest: lies on the crown, 1.00 mm occlusal"),
    "crest below the apex": (None, {"crest": Crest(point=(0.0, 0.0, 14.0))}, r"crest: lies at or below the apex"),
    "crest along the axis": (None, {"crest": Crest(point=(0.0, 0.0, 0.0), normal=(1.0, 0.0, 0.1))}, r"crest.normal leans 84 deg"),
    "crest in the bracket": (None, {"crest": Crest(point=(0.0, 0.0, -6.5)), "bracket": (0.0, 3.0, -5.0)}, r"the bracket lies in the bone"),
    "curve far off": (None, {"crest": Crest(curve=((9.0, 0.0, 0.0), (0.0, 3.0, 0.0), (-3.0, 0.0, 0.0), (0.0, -3.0, 0.0)))}, r"crest.curve: point 1, \(9, 0, 0\) mm, lies 6 mm off"),
    "curve to and fro": (None, {"crest": Crest(curve=((3.0, 0.0, 0.0), (0.0, 3.0, 0.0), (2.0, 2.0, 0.0), (-3.0, 0.0, 0.0), (0.0, -3.0, 0.0)))}, r"crest.curve does not run once around"),
    "curve of three": (None, {"crest": Crest(curve=((3.0, 0.0, 0.0), (0.0, 3.0, 0.0), (-3.0, 0.0, 0.0)))}, r"crest.curve has 3 different points"),
    "bracket in the air": (None, {"bracket": (0.0, 6.0, -5.0)}, r"bracket = \(0, 6, -5\) mm lies 2\.\d* mm off the surface"),
    "bracket on the root": (None, {"bracket": (0.0, 2.6, 3.0)}, r"bracket: its point lies 4\.\d* mm apical of the cemento-enamel junction"),
    "bracket on another side": (None, {"bracket": (0.0, -3.2, -5.0)}, r"bracket and buccal direction disagree"),
    "buccal along the axis": (None, {"buccal": (0.0, 0.1, 1.0)}, r"runs along the long axis \(within 6 deg\)"),
    "no side at all": (None, {"buccal": None}, r"give the bracket's point or the buccal direction"),
    "axis of one point": (None, {"long_axis": ((0.0, 0.0, 0.0), (0.0, 0.0, 0.01))}, r"long_axis: its two points are less than 0.1 mm apart"),
    "axis of no length": (None, {"long_axis": (0.0, 0.0, 0.0)}, r"long_axis = \[0.0, 0.0, 0.0\] is no direction"),
    "axis across": (None, {"long_axis": (1.0, 0.0, 0.1)}, r"long_axis runs across the tooth: 84 deg"),
    "axis upside down": (None, {"long_axis": (0.0, 0.0, -1.0)}, r"slimmer at its crown's end .* turn it round"),
    "junction in the air": (None, {"cej": (0.0, 0.0, 30.0)}, r"cej = \(0, 0, 30\) mm lies beyond the ends of the tooth"),
    "unknown unit": (None, {"unit": "furlong"}, r"unit = 'furlong' is not known; allowed: mm, cm, m, um, in"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_refused_in_one_line_with_reason_and_place(tmp_path, small, case):
    change, options, text = REFUSED[case]
    points, triangles = small if change is None else change(*small)
    path = write_stl(tmp_path / "tooth.stl", points, triangles)
    with pytest.raises(InputError, match=text) as refused:
        mesh_tooth(11, given_source(path, **options))
    message = str(refused.value)
    assert len(message.splitlines()) == 1
    assert message.startswith(f"tooth 11, {path}: ")


MOLAR = {"unit": "mm", "long_axis": (0.0, 0.0, 1.0), "buccal": (0.0, -1.0, 0.0), "cej": (0.0, 0.0, 0.0)}


@pytest.mark.parametrize(
    "number, text",
    [(31, r"its crown is 10\.1 mm wide mesiodistally; allowed for tooth 31: 3\.0 to 8\.0 mm"), (11, "it has 3 roots; allowed for tooth 11: up to 2")],
)
def test_a_molar_is_no_incisor(number, text):
    with pytest.raises(InputError, match=text):
        mesh_tooth(number, Source(MESHES / "upper-molar.ply", **MOLAR))


def test_an_unusual_number_of_roots_is_said():
    assert mesh_tooth(16, Source(MESHES / "upper-molar.ply", **MOLAR)).shape.repairs == ()
    said = mesh_tooth(36, Source(MESHES / "upper-molar.ply", **MOLAR)).shape.repairs
    assert said == ("it has 3 roots, tooth 36 usually 2: is its number right?",)


@pytest.mark.parametrize("file, number, turned", [("upper-molar", 16, 180), ("upper-molar", 16, 90), ("lower-molar", 46, 90)])
def test_a_wrong_buccal_side_shows_in_the_roots(file, number, turned):
    way = {180: (0.0, 1.0, 0.0), 90: (1.0, 0.0, 0.0)}[turned]
    along = (0.0, 0.0, 1.0 if number < 30 else -1.0)
    (said,) = mesh_tooth(number, Source(MESHES / f"{file}.ply", **MOLAR | {"buccal": way, "long_axis": along})).shape.repairs
    assert float(said.split("turned by ")[1].split(" deg")[0]) == pytest.approx(turned, abs=15.0)


def test_values_that_mean_nothing_are_refused(tmp_path, small):
    path = write_stl(tmp_path / "tooth.stl", *small)
    for thickness in (-0.2, 0.0, 5.0, float("nan")):
        with pytest.raises(InputError, match=r"tooth 11: ligament thickness = .* cannot be used; allowed: 0.02 to 1 mm"):
            mesh_tooth(11, given_source(path), ligament_thickness=thickness)
    with pytest.raises(InputError, match="bone_level has no meaning beside a crest"):
        mesh_tooth(11, given_source(path), bone_level=2.0)
    with pytest.raises(InputError, match="tooth number 19 is not known"):
        mesh_tooth(19, given_source(path))


def test_a_ligament_too_thick_for_the_furcation_is_bridged_or_refused():
    file = given_source(MESHES / "upper-premolar-two-roots.ply", molar=True)
    assert "bridged" not in mesh_tooth(14, file).shape.notes[-1]
    assert "creases sharper than 0.4 mm were bridged" in mesh_tooth(14, file, ligament_thickness=0.8).shape.notes[-1]
    with pytest.raises(InputError, match=r"middle of the ligament, 0.5 mm outside the root, cuts through itself at \("):
        mesh_tooth(14, file, ligament_thickness=1.0)


FILES = {
    "missing": ("no.stl", None, FileError, r"there is no such file. Did you mean 'not.stl'\?"),
    "a folder": ("folder.stl", "folder", FileError, "is a folder"),
    "empty": ("tooth.stl", b"", InputError, "the file is empty"),
    "unknown ending": ("tooth.jpg", b"abc", InputError, "'.jpg' is no surface format known here; allowed: .stl, .ply"),
    "no ending": ("tooth", b"abc", InputError, "'' is no surface format known here"),
    "cut short": ("tooth.stl", b"x" * 80 + (900).to_bytes(4, "little") + b"0" * 500, InputError, "header counts 900 triangles, there is room for 10"),
    "no STL": ("tooth.stl", b"solid x\nfacet normal 0 0 nothing", InputError, "is no valid STL file"),
    "no PLY": ("tooth.ply", b"plyx\n", InputError, "has no complete header"),
    "PLY cut in its header": ("tooth.ply", b"ply\nformat ascii 1.0\nelement ver", InputError, "has no complete header"),
    "PLY without lists": ("tooth.ply", b"ply\nformat ascii 1.0\nelement face 1\nproperty int vertex_indices\nend_header\n1\n", InputError, "has faces without vertex_indices"),
    "PLY cut short": ("tooth.ply", b"ply\nformat ascii 1.0\nelement vertex 9\nproperty float x\nend_header\n1 2", InputError, "is cut short"),
    "no OBJ": ("tooth.obj", b"v 1 2\nf 1 2 3\n", InputError, "tooth.obj: "),
    "no VTK": ("tooth.vtk", b"# vtk DataFile Version 3.0\nx\nASCII\nDATASET POLYDATA\nPOINTS three float\n", InputError, "tooth.vtk: "),
    "no triangles": ("tooth.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", InputError, "holds no triangles"),
    "out of range": ("tooth.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n", InputError, "names vertex 8 of 3"),
    "three triangles": ("tooth.obj", b"v 0 0 0\nv 20 0 0\nv 0 1 0\nv 0 0 1\nf 1 2 3\nf 1 2 4\nf 2 3 4\n", InputError, "of 3 triangles 3 are left"),
}  # fmt: skip


@pytest.mark.parametrize("case", FILES)
def test_files_that_hold_no_tooth(tmp_path, case):
    name, data, kind, text = FILES[case]
    (tmp_path / "not.stl").touch()
    path = tmp_path / name
    if data == "folder":
        path.mkdir()
    elif data is not None:
        path.write_bytes(data)
    with pytest.raises(kind, match=text) as refused:
        mesh_tooth(11, given_source(path))
    assert len(str(refused.value).splitlines()) == 1 and name in str(refused.value)


def test_damaged_files_are_refused_or_read_but_never_crash(tmp_path, capfd):
    import meshio

    points, triangles = made(10, 12)
    mesh = meshio.Mesh(points.astype(np.float32), [("triangle", triangles.astype(np.int32))])
    whole = {}
    for ending, kind in ((".ply", "ply"), (".obj", "obj"), (".msh", "gmsh")):
        meshio.write(tmp_path / f"whole{ending}", mesh, kind)
        whole[ending] = (tmp_path / f"whole{ending}").read_bytes()
    whole[".stl"] = write_stl(tmp_path / "whole.stl", points, triangles).read_bytes()
    whole[".STL"] = write_ascii_stl(tmp_path / "text.stl", points, triangles).read_bytes()
    capfd.readouterr()
    dice = random.Random(7)
    for i in range(250):
        ending = dice.choice(sorted(whole))
        path = tmp_path / f"damaged{i}{ending}"
        path.write_bytes(damaged(whole[ending], dice))
        try:
            mesh_tooth(11, given_source(path))
        except BiomechError as error:
            assert len(str(error).splitlines()) == 1
    out, err = capfd.readouterr()
    assert out == err == ""


def damaged(data, dice):
    out = bytearray(data)
    at = dice.randrange(len(out))
    way = dice.choice(("cut", "bytes", "head", "zeros", "twice", "noise"))
    if way == "cut":
        del out[at:]
    elif way == "bytes":
        for _ in range(dice.choice((1, 20))):
            out[dice.randrange(len(out))] = dice.randrange(256)
    elif way == "head":
        out[dice.randrange(min(200, len(out)))] = dice.randrange(256)
    elif way == "zeros":
        out[at : at + 200] = bytes(len(out[at : at + 200]))
    elif way == "twice":
        out[at:at] = out[at : at + 300]
    else:
        out = bytearray(dice.randbytes(dice.randrange(1, 2000)))
    return bytes(out)
