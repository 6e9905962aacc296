"""Files and pictures: what they hold, that they are the right way round, and that a machine that cannot draw is told."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import meshio
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from solved import held, small

from biomech.errors import FileError, InputError
from biomech.render import DrawError, drawing, picture, probe, tooth_section, write_vtk
from biomech.render._legend import round_length, signed
from biomech.render._shapes import magnification, moved_pose, stations, to_viewer, wire_shapes
from biomech.render._views import build_scene, extent_of, render
from biomech.render.picture import _views
from biomech.render.section import silhouette
from biomech.tooth.meshes import Mesh

CUBE = np.array([[x, y, z] for x in (0.0, 1.0) for y in (0.0, 2.0) for z in (0.0, 3.0)])
SIDE = np.array([[0, 1, 3], [0, 3, 2]])  # the face x = 0


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("vtk") / "made"
    return {path.name: meshio.read(path) for path in write_vtk(small(), folder)}


@pytest.fixture
def able():
    if not drawing().works:
        pytest.skip(drawing().reason)


@pytest.fixture
def unable(monkeypatch):
    """A machine on which the drawing library kills its process."""
    monkeypatch.setattr(probe, "_CHILD", "import os; os.kill(os.getpid(), 11)")
    probe.drawing.cache_clear()
    yield
    probe.drawing.cache_clear()


def test_files_are_the_right_way_round(files):
    """x to the patient's left, y to the back, z up: incisors in front, upper roots above crowns, 2x on the left."""
    teeth = files["teeth.vtu"]
    number, part = teeth.point_data["tooth"], teeth.point_data["part"]
    assert set(number) == {13, 12, 11, 21, 22, 23}
    assert (teeth.points[number == 23][:, 0] > 0).all() and (teeth.points[number == 13][:, 0] < 0).all()
    assert teeth.points[number == 11][:, 1].mean() < teeth.points[number == 13][:, 1].mean()
    assert teeth.points[part == 1][:, 2].mean() > teeth.points[part == 0][:, 2].mean()


@pytest.mark.parametrize("number", [13, 21])
def test_triangles_face_outwards(files, number):
    """The volume by the divergence theorem is positive, and what a tooth has: some hundred mm3."""
    teeth = files["teeth.vtu"]
    corners = teeth.points[teeth.cells_dict["triangle"]]
    mine = teeth.point_data["tooth"][teeth.cells_dict["triangle"][:, 0]] == number
    a, b, c = (corners[mine][:, k] - corners[mine].mean(axis=(0, 1)) for k in range(3))
    volume = np.einsum("ij,ij", a, np.cross(b, c)) / 6.0
    assert 200.0 < volume < 1000.0


def test_displacements_are_true_and_rigid(files):
    teeth, view = files["teeth.vtu"], small().teeth[13]
    mine = teeth.point_data["tooth"] == 13
    moved = teeth.points[mine] + teeth.point_data["displacement_mm"][mine]
    local = view.part.pose.inverse().point(to_viewer(teeth.points[mine]))
    np.testing.assert_allclose(to_viewer(moved), view.pose.point(local), atol=1e-9)
    assert np.abs(teeth.point_data["displacement_mm"][mine]).max() > 1e-4


def test_pressure_in_the_file_is_that_of_the_report(files):
    teeth = files["teeth.vtu"]
    pressure, number = teeth.point_data["ligament_pressure_kPa"], teeth.point_data["tooth"]
    assert np.isnan(pressure[teeth.point_data["part"] == 0]).all()
    for tooth in (13, 11):
        reported = small().tooth(tooth)["ligament_pressure_kPa"]["peak"]
        assert np.nanmax(pressure[number == tooth]) == pytest.approx(reported, rel=0.15)


def test_rigid_teeth_have_no_pressure(tmp_path):
    teeth = meshio.read(write_vtk(held(), tmp_path)[0])
    assert np.isnan(teeth.point_data["ligament_pressure_kPa"]).all()
    assert np.abs(teeth.point_data["displacement_mm"]).max() < 1e-12


def test_wires_in_the_file(files):
    wires, views = files["wires.vtu"], small().wires
    for index, view in enumerate(views.values()):
        mine = wires.point_data["wire"] == index
        assert mine.sum() == len(view.part.s)
        assert wires.point_data["stress_MPa"][mine].max() == pytest.approx(view.peak)
        assert wires.point_data["stress_over_limit"][mine].max() == pytest.approx(view.utilisation)
    assert len(wires.cells_dict["line"]) == sum(len(v.part.length) for v in views.values())


def test_a_folder_that_cannot_be_written_to(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(FileError, match="file"):
        write_vtk(small(), tmp_path / "file")
    with pytest.raises(FileError, match=r"absent.x\.png"):
        tooth_section(small(), 13, tmp_path / "absent" / "x.png")
    assert [p.name for p in tmp_path.iterdir()] == ["file"]


@given(st.floats(1e-5, 3.4))
def test_magnification_shows_a_few_mm(largest):
    assert 2.3 <= magnification(largest) * largest <= 3.5 + 1e-9 or magnification(largest) == 1.0


@pytest.mark.parametrize("wrong", [0.0, -2.0, float("nan"), float("inf")])
def test_unusable_magnification(wrong, tmp_path):
    with pytest.raises(InputError, match="magnify"):
        picture(small(), tmp_path / "a.png", magnify=wrong)
    with pytest.raises(InputError, match="magnify"):
        tooth_section(small(), 13, tmp_path / "a.png", magnify=wrong)


@given(st.floats(1e-6, 1e6))
def test_length_in_the_legend(per_unit):
    amount, length = round_length(per_unit)
    assert 25.9 < length <= 260.1
    assert length == pytest.approx(amount * per_unit)


def test_changes_of_width_in_words():
    assert [signed(value) for value in (0.153, -0.061, 0.004, -0.004)] == ["+0.15", "\u22120.06", "0.00", "0.00"]


def test_magnified_once_is_the_solution():
    for view in small().teeth.values():
        np.testing.assert_allclose(moved_pose(view, 1.0).position, view.pose.position, atol=1e-9)
        np.testing.assert_allclose(moved_pose(view, 1.0).rotation, view.pose.rotation, atol=1e-9)
    for shape in wire_shapes(small(), 1.0):
        gaps = np.linalg.norm(shape.points[:, None] - to_viewer(stations(small(), shape.name)[1]), axis=2)
        assert gaps.min(axis=0).max() < 1e-9


def test_wires_stay_in_the_moved_slots():
    """A slot's centre lies as far from the magnified main wire as from the true one."""
    for factor in (1.0, 30.0):
        wire = next(s for s in wire_shapes(small(), factor) if s.name == "main")
        for view in small().teeth.values():
            slot = to_viewer(moved_pose(view, factor).point(view.bracket))
            assert np.linalg.norm(wire.points - slot, axis=1).min() < 0.6


def test_views_look_the_right_way():
    """In every view of an upper arch the patient's left is to the right, except from the side."""
    occlusal, front, side = _views(small())
    scene = build_scene(small(), 1.0)
    centre = {n: m.vertices.mean(axis=0) for n, m in scene.crowns.items()}
    root = {n: m.vertices.mean(axis=0) for n, m in scene.roots.items()}
    assert occlusal.flat(centre[21])[0] > occlusal.flat(centre[11])[0]
    assert front.flat(centre[21])[0] > front.flat(centre[11])[0]
    assert occlusal.flat(centre[11])[1] > occlusal.flat(centre[13])[1]
    assert (centre[11] - root[11]) @ occlusal.towards > 0
    assert front.flat(root[11])[1] > front.flat(centre[11])[1]
    assert (centre[11] - centre[13]) @ front.towards > 0
    assert {n // 10 for n in side.numbers} == {2}  # the side widened most
    assert side.title == "From the patient's left"
    assert side.flat(centre[21])[0] < side.flat(centre[23])[0]


def test_picture(able, tmp_path):
    from PIL import Image

    before = dict(small().tooth(13))
    path = picture(small(), tmp_path / "arch.png")
    with Image.open(path) as image:
        pixels = np.asarray(image.convert("RGB")).astype(int)
    assert pixels.shape == (1000, 1600, 3)
    assert (pixels.sum(axis=2) < 600).mean() > 0.05
    assert [p.name for p in tmp_path.iterdir()] == ["arch.png"]
    assert small().tooth(13) == before


def test_rendered_regions_lie_where_the_teeth_stand(able):
    """The place of a crown in the image, in mm, is that of its mesh: image and annotations share one scale."""
    view, scene = _views(small())[0], build_scene(small(), 5.0)
    image = render(scene, view, extent_of(scene, view), 8.0)
    rows, columns = np.nonzero(image.regions == 1)
    left, right, bottom, top = image.extent
    x = left + (columns + 0.5) * (right - left) / image.regions.shape[1]
    y = top - (rows + 0.5) * (top - bottom) / image.regions.shape[0]
    flat = view.flat(scene.first_crowns[view.numbers[0]].vertices)
    np.testing.assert_allclose([x.min(), y.min()], flat.min(axis=0), atol=0.4)
    np.testing.assert_allclose([x.max(), y.max()], flat.max(axis=0), atol=0.4)


@pytest.mark.parametrize("solution", [small, held])
def test_section_of_a_tooth(solution, tmp_path):
    from PIL import Image

    path = tooth_section(solution(), 11, tmp_path / "tooth.png")
    with Image.open(path) as image:
        assert image.size == (1600, 1000)
    assert [p.name for p in tmp_path.iterdir()] == ["tooth.png"]


def test_section_of_an_absent_tooth(tmp_path):
    with pytest.raises(InputError, match="17"):
        tooth_section(small(), 17, tmp_path / "tooth.png")


def test_silhouette_has_the_area_of_what_is_seen():
    """A 2 mm x 3 mm rectangle."""
    x, y, inside = silhouette(Mesh(CUBE, SIDE))
    assert inside.sum() * (x[1] - x[0]) * (y[1] - y[0]) == pytest.approx(6.0, rel=0.02)
    assert x[inside.any(axis=0)][[0, -1]] == pytest.approx([0.0, 2.0], abs=0.05)


def test_a_machine_that_cannot_draw(unable, monkeypatch, tmp_path):
    """The reason names the packages; nothing is written; files without drawing still are."""
    monkeypatch.setenv(probe.VARIABLE, "vtkOSOpenGLRenderWindow")
    found = drawing()
    assert not found.works
    for word in ("signal 11", "libosmesa6", "libegl1", "libgl1", "vtkOSOpenGLRenderWindow"):
        assert word in found.reason
    with pytest.raises(DrawError, match="libosmesa6"):
        picture(small(), tmp_path / "a.png")
    assert not list(tmp_path.iterdir())
    assert all(path.exists() for path in write_vtk(small(), tmp_path))


def test_another_way_of_drawing_is_tried(unable, monkeypatch):
    """Without a display EGL is tried first, then OSMesa, and what worked is kept."""
    only = "import os, sys; w = os.environ['VTK_DEFAULT_OPENGL_WINDOW']; print('drawn', w); sys.exit('OS' not in w)"
    monkeypatch.setattr(probe, "_CHILD", only)
    monkeypatch.setattr(sys, "platform", "linux")
    for name in (probe.VARIABLE, "DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert drawing() == probe.Drawing(True, "vtkOSOpenGLRenderWindow", "")


@pytest.mark.parametrize(
    ("child", "reason"),
    [
        ("print('blank x')", "blank"),
        ("import sys; sys.exit(3)", "status 3"),
        ("import no_such_module_of_vtk", "no_such_module_of_vtk"),
        ("import time; time.sleep(20)", "not finished"),
    ],
)
def test_reasons(child, reason, unable, monkeypatch):
    monkeypatch.setattr(probe, "_CHILD", child)
    monkeypatch.setattr(probe, "PATIENCE", 0.5 if "sleep" in child else 30.0)
    assert reason in probe.attempt("vtkEGLRenderWindow")[1]


def test_import_is_cheap():
    heavy = ("pyvista", "vtk", "vtkmodules", "matplotlib", "meshio", "pydantic", "scipy.interpolate")
    code = f"import sys, biomech.render; print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_only_render_draws():
    """No other module imports PyVista, VTK or matplotlib; one reads VTK files with the first two."""
    root = Path(probe.__file__).parents[1]
    for path in root.rglob("*.py"):
        if path.parent.name != "render" and path != root / "surfaces" / "reading.py":
            text = path.read_text(encoding="utf-8")
            assert not any(f"import {name}" in text for name in ("pyvista", "vtk", "matplotlib")), path
