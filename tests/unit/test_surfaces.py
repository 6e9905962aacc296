"""Surface files of teeth: what is read, repaired, refused; what does not depend on how the file lies in space."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_teeth import MESHES, SMALL, given_source, made, write_stl

from biomech.errors import InputError
from biomech.surfaces import UNITS, Crest, Source, mesh_tooth
from biomech.surfaces.checks import clean
from biomech.surfaces.crossing import crossings
from biomech.surfaces.cutting import clipped, nearest_on, rim_of, section
from biomech.surfaces.features import peaks
from biomech.surfaces.reading import read_mesh
from biomech.surfaces.topology import Ruler, volume
from biomech.tooth.meshes import Mesh
from biomech.tooth.support import foundation_matrix

MM = Ruler("mm", 1.0)


@pytest.fixture(scope="module")
def small():
    """A one-rooted tooth of 20 x 24 rings: vertices and triangles, crest in z = 0, apex at z = 13."""
    return made(*SMALL)


def test_every_format_gives_the_same_tooth(tmp_path, small):
    import meshio
    import pyvista

    points, triangles = small
    mesh = meshio.Mesh(points.astype(np.float32), [("triangle", triangles)])
    for name, kind, options in (
        ("a.stl", "stl", {"binary": True}), ("b.stl", "stl", {"binary": False}), ("c.ply", "ply", {"binary": True}),
        ("d.ply", "ply", {"binary": False}), ("e.obj", "obj", {}), ("f.msh", "gmsh", {}), ("k.msh", "gmsh", {"binary": False}),
        ("l.msh", "gmsh22", {"binary": True}), ("m.msh", "gmsh22", {"binary": False}),
    ):  # fmt: skip
        meshio.write(tmp_path / name, mesh, kind, **options)
    poly = pyvista.PolyData.from_regular_faces(points.astype(np.float32), triangles)
    for name, binary in (("g.vtk", True), ("h.vtk", False), ("i.vtp", True)):
        poly.save(tmp_path / name, binary=binary)
    poly.cast_to_unstructured_grid().save(tmp_path / "j.vtk")
    teeth = [mesh_tooth(11, given_source(path)) for path in sorted(tmp_path.iterdir())]
    assert len(teeth) == 13
    for tooth in teeth:
        assert tooth.shape.volume == pytest.approx(teeth[0].shape.volume, rel=1e-5)
        assert tooth.surface.area == pytest.approx(teeth[0].surface.area, rel=1e-5)


def test_quadrilaterals_are_split(tmp_path, small):
    points, triangles = small
    quads = [f"f {a + 1} {b + 1} {c + 1} {d + 1}\n" for (a, b, c), (_, _, d) in zip(triangles[:936:2], triangles[1:936:2], strict=True)]
    rest = [f"f {a + 1} {b + 1} {c + 1}\n" for a, b, c in triangles[936:]]
    path = tmp_path / "quads.obj"
    path.write_text("".join(f"v {x} {y} {z}\n" for x, y, z in points) + "".join(quads + rest))
    assert len(read_mesh(path).triangles) == len(triangles)


def turned(angles):
    """Return the rotation by three angles about x, y, z."""
    out = np.eye(3)
    for axis, angle in enumerate(angles):
        i, j = (axis + 1) % 3, (axis + 2) % 3
        step = np.eye(3)
        step[i, i] = step[j, j] = np.cos(angle)
        step[j, i], step[i, j] = np.sin(angle), -np.sin(angle)
        out = step @ out
    return out


ANGLE, SHIFT = st.floats(-3.0, 3.0), st.floats(-200.0, 200.0)


@settings(max_examples=12, deadline=None)
@given(st.tuples(ANGLE, ANGLE, ANGLE), st.tuples(SHIFT, SHIFT, SHIFT), st.sampled_from(sorted(UNITS)), st.booleans())
def test_how_the_file_lies_in_space_and_its_unit_change_nothing(tmp_path_factory, angles, shift, unit, inwards):
    points, triangles = made(*SMALL)
    rotation, factor = turned(angles), UNITS[unit]
    place = lambda p: tuple(((rotation @ np.array(p)) + shift) / factor)  # noqa: E731
    path = tmp_path_factory.mktemp("turned") / "tooth.obj"
    moved = (points @ rotation.T + shift) / factor
    faces = triangles[:, ::-1] if inwards else triangles
    path.write_text("".join(f"v {x!r} {y!r} {z!r}\n" for x, y, z in moved.tolist())
                    + "".join(f"f {a} {b} {c}\n" for a, b, c in faces + 1))  # fmt: skip
    given_there = Source(
        path, unit, long_axis=(place((0.1, 0.2, -5.0)), place((0.1, 0.2, 9.0))), bracket=place((0.0, 3.2, -5.0)),
        cej=place((1.0, 1.0, -1.5)), crest=Crest(point=place((0.0, 0.0, 0.0)), normal=tuple(rotation @ [0.1, 0.0, 1.0])),
    )  # fmt: skip
    plain = write_obj(path.with_name("plain.obj"), points, triangles)
    here = Source(
        plain, "mm", long_axis=((0.1, 0.2, -5.0), (0.1, 0.2, 9.0)), bracket=(0.0, 3.2, -5.0), cej=(1.0, 1.0, -1.5),
        crest=Crest(point=(0.0, 0.0, 0.0), normal=(0.1, 0.0, 1.0)),
    )  # fmt: skip
    one, two = mesh_tooth(12, here), mesh_tooth(12, given_there)
    k, other = (foundation_matrix(t.surface, 1.0, 0.3) for t in (one, two))
    assert np.abs(k - other).max() < 1e-5 * np.abs(k).max()
    assert list(one.landmarks) == list(two.landmarks)
    for name in one.landmarks:
        assert two.landmarks[name] == pytest.approx(one.landmarks[name], abs=1e-5)
    assert two.shape.volume == pytest.approx(one.shape.volume, rel=1e-6)
    assert any("faced inwards" in note for note in two.shape.repairs) is inwards


def write_obj(path, points, triangles):
    path.write_text("".join(f"v {x!r} {y!r} {z!r}\n" for x, y, z in points.tolist())
                    + "".join(f"f {a} {b} {c}\n" for a, b, c in triangles + 1))  # fmt: skip
    return path


def test_twins_of_both_sides_are_mirror_images():
    right = mesh_tooth(46, given_source(MESHES / "lower-molar.ply", z=-1.0, molar=True))
    left = mesh_tooth(36, given_source(MESHES / "lower-molar.ply", z=-1.0, molar=True, mirrored=True))
    assert left.surface.points == pytest.approx(right.surface.points * [-1.0, 1.0, 1.0], abs=1e-12)
    assert left.surface.weights == pytest.approx(right.surface.weights, abs=1e-12)
    for name, place in right.landmarks.items():
        assert left.direction("mesial") @ left.landmarks[name] == pytest.approx(right.direction("mesial") @ place)
    for tooth in (right, left):
        for mesh in (tooth.crown_surface(), tooth.root_surface(), Mesh(tooth.shape.ligament.vertices, tooth.shape.ligament.faces)):
            corner = mesh.vertices[mesh.triangles]
            middle = corner.mean(axis=(0, 1))
            outward = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
            assert np.einsum("fi,fi->", outward, corner.mean(axis=1) - middle) > 0.0
        assert np.einsum("pi,pi->", tooth.surface.normals, tooth.surface.points - tooth.surface.points.mean(axis=0)) > 0.0


def test_landmarks_of_a_molar_are_where_the_handbook_has_them():
    from biomech.tooth import make_tooth

    tooth, usual = mesh_tooth(16, given_source(MESHES / "upper-molar.ply", molar=True)), make_tooth(16)
    assert set(tooth.landmarks) == set(usual.landmarks)
    for name, place in usual.landmarks.items():
        assert np.linalg.norm(tooth.landmarks[name] - place) < 0.7, name
    assert tooth.width == pytest.approx(usual.width, rel=0.02)
    assert tooth.embedded_length == pytest.approx(usual.embedded_length, abs=0.05)
    assert tooth.embedded() == (None, ())


def test_long_axis_and_crown_end_are_found_and_said():
    found = mesh_tooth(13, Source(MESHES / "upper-canine.ply", "mm", buccal=(0.0, -1.0, 0.0), cej=(0.0, 0.0, 0.0)))
    told = mesh_tooth(13, given_source(MESHES / "upper-canine.ply", molar=True))
    assert found.landmarks["apex"] == pytest.approx(told.landmarks["apex"], abs=0.7)
    said = " ".join(found.shape.notes)
    assert "no long axis was given" in said and "its crown is the thicker end" in said and "no bracket was given" in said
    upside_down = Source(MESHES / "upper-canine.ply", "mm", (0.0, 0.0, -1.0), (0.0, -1.0, 0.0), cej=(0.0, 0.0, 0.0))
    with pytest.raises(InputError, match="slimmer at its crown's end"):
        mesh_tooth(13, upside_down)


# --- the bone crest


def test_a_curve_through_a_plane_is_that_plane(tmp_path, small):
    path = write_stl(tmp_path / "t.stl", *small)
    normal = np.array([0.15, -0.2, 1.0])
    angle = np.linspace(0.0, 2.0 * np.pi, 721)[:-1]
    ring = 3.0 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    curve = [(x, y, -(0.15 * x - 0.2 * y)) for x, y in ring]
    plane = mesh_tooth(11, given_source(path, crest=Crest(point=(0.0, 0.0, 0.0), normal=tuple(normal))))
    round_it = mesh_tooth(11, given_source(path, crest=Crest(curve=tuple(curve))))
    assert round_it.surface.area == pytest.approx(plane.surface.area, rel=2e-3)
    k, other = (foundation_matrix(t.surface, 1.0, 0.3) for t in (plane, round_it))
    assert np.abs(k - other).max() < 3e-3 * np.abs(k).max()


def test_the_root_ends_exactly_at_the_crest(tmp_path, small):
    path = write_stl(tmp_path / "t.stl", *small)
    tooth = mesh_tooth(11, given_source(path))
    root = tooth.shape.ligament
    assert root.vertices[root.rim, 2] == pytest.approx(np.full(len(root.rim), tooth.bone_level), abs=1e-9)
    assert root.vertices[:, 2].min() == pytest.approx(tooth.bone_level, abs=1e-9)
    measured = Crest(point=(0.3, 0.0, -1.5), below=1.5)
    assert mesh_tooth(11, given_source(path, crest=measured)).surface.area == pytest.approx(tooth.surface.area, rel=1e-6)
    levelled = mesh_tooth(11, given_source(path, crest=None), bone_level=1.5)
    assert levelled.surface.area == pytest.approx(tooth.surface.area, rel=1e-6)


@settings(max_examples=10, deadline=None)
@given(st.floats(-4.0, 10.0), st.floats(-0.4, 0.4), st.floats(-0.4, 0.4))
def test_a_cut_splits_area_and_its_rim_lies_in_the_plane(level, x, y):
    mesh = Mesh(*made(*SMALL))
    normal = np.array([x, y, 1.0])
    parts = [clipped(mesh, lambda p, s=s: s * (p @ normal - level)) for s in (1.0, -1.0)]
    area = [0.5 * np.linalg.norm(np.cross(*(m.vertices[m.triangles[:, k]] - m.vertices[m.triangles[:, 0]] for k in (1, 2))), axis=1).sum() for m in (*parts, mesh)]
    assert area[0] + area[1] == pytest.approx(area[2], rel=1e-9)
    for part in parts:
        assert np.abs(part.vertices[rim_of(part)] @ normal - level).max(initial=0.0) < 1e-9


def test_sections_peaks_and_nearest_points():
    mesh = Mesh(*made(40, 64))
    cut = section(mesh, np.array([0.0, 0.0, 5.0]), np.array([0.0, 0.0, 1.0]))
    assert cut.area == pytest.approx(np.pi * 9.0 * (1 - 5 / 13), rel=0.01)
    assert cut.centre == pytest.approx([0.0, 0.0, 5.0], abs=1e-9)
    assert [mesh.vertices[p.vertex, 2] for p in peaks(mesh, mesh.vertices[:, 2], 0.5)] == [13.0]
    near, far = nearest_on(mesh, np.array([0.0, 0.0, 15.0]))
    assert near == pytest.approx([0.0, 0.0, 13.0]) and far == pytest.approx(2.0)


# --- repairs


def small_mesh():
    return Mesh(*made(*SMALL))


def test_small_holes_are_closed_and_said():
    mesh = small_mesh()
    holed = Mesh(mesh.vertices, np.delete(mesh.triangles, [200, 600], axis=0))
    found, notes = clean(holed, MM)
    assert volume(found) == pytest.approx(volume(mesh), rel=1e-3)
    assert len([n for n in notes if "was closed" in n]) == 2


def test_turned_doubled_and_empty_triangles_are_put_right_and_said():
    mesh = small_mesh()
    triangles = mesh.triangles.copy()
    triangles[100:150] = triangles[100:150, ::-1]
    triangles = np.concatenate([triangles, triangles[5:8], [[3, 3, 9]]])
    found, notes = clean(Mesh(mesh.vertices, triangles), MM)
    assert volume(found) == pytest.approx(volume(mesh))
    said = " ".join(notes)
    assert "50 triangles faced the other way" in said and "3 triangles stood twice" in said and "1 triangles without area" in said


def test_a_needle_is_turned_into_its_neighbour():
    mesh = small_mesh()
    a, b, c = mesh.triangles[300]
    middle = len(mesh.vertices)
    points = np.concatenate([mesh.vertices, [0.5 * (mesh.vertices[a] + mesh.vertices[b])]])
    split = np.concatenate([np.delete(mesh.triangles, 300, axis=0), [[a, middle, c], [middle, b, c], [a, b, middle]]])
    found, notes = clean(Mesh(points, split), MM)
    assert volume(found) == pytest.approx(volume(mesh)) and any("corners on a line" in n for n in notes)


def test_a_pulp_chamber_and_crumbs_are_dropped_and_said():
    mesh = small_mesh()
    n = len(mesh.vertices)
    inner = Mesh(0.4 * mesh.vertices, mesh.triangles[:, ::-1])
    crumb = 0.05 * mesh.vertices + [20.0, 0.0, 0.0]
    points = np.concatenate([mesh.vertices, inner.vertices, crumb])
    found, notes = clean(Mesh(points, np.concatenate([mesh.triangles, inner.triangles + n, mesh.triangles + 2 * n])), MM)
    assert volume(found) == pytest.approx(volume(mesh))
    assert "pulp chamber" in notes[0] + notes[1] and "crumb" in notes[0] + notes[1]


def test_crossing_triangles_are_found_where_they_are():
    mesh = small_mesh()
    assert len(crossings(mesh)) == 0
    points = mesh.vertices.copy()
    pushed = int(np.argmin(np.linalg.norm(points - [3.0, 0.0, 0.0], axis=1)))
    points[pushed] = [-4.5, 0.1, 0.2]  # right through to the other side
    pairs = crossings(Mesh(points, mesh.triangles))
    assert len(pairs) > 0
    assert (mesh.triangles[pairs] == pushed).any(axis=(1, 2)).all()


def test_a_junction_that_is_assumed_does_not_lie_apical_of_the_crest():
    file = Source(MESHES / "upper-incisor.ply", "mm", (0.0, 0.0, 1.0), (0.0, -1.0, 0.0), crest=Crest(point=(0.0, 0.0, -0.4)))
    tooth = mesh_tooth(11, file)
    assert tooth.bone_level == 0.0 and tooth.crown_length == pytest.approx(10.1, abs=0.02)
    assert "at the crest" in tooth.shape.notes[0]


def test_a_crown_that_crosses_itself_is_left_and_said(tmp_path):
    points, triangles = made(40, 48)
    crossed = points.copy()
    crossed[int(np.argmin(np.linalg.norm(points - [3.3, 0.0, -4.0], axis=1)))] = [-4.5, 0.1, -4.1]
    tooth = mesh_tooth(11, given_source(write_stl(tmp_path / "t.stl", crossed, triangles), bracket=(0.0, 3.3, -4.0)))
    whole = mesh_tooth(11, given_source(write_stl(tmp_path / "w.stl", points, triangles), bracket=(0.0, 3.3, -4.0)))
    assert "cuts through itself on the crown" in tooth.shape.repairs[-1]
    assert tooth.surface.area == pytest.approx(whole.surface.area, rel=1e-9)
