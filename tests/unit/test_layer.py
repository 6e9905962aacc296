"""Meshes of the surface ligament, its supports, and teeth that stand on them."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from biomech.errors import InputError
from biomech.ligaments import make_ligament
from biomech.tooth import make_tooth
from biomech.tooth.layer.elements import table
from biomech.tooth.layer.film import film_support, moduli
from biomech.tooth.layer.furcation import root_layer
from biomech.tooth.layer.mesh import Block, LayerMesh, geometry
from biomech.tooth.layer.rings import GROWTH, graded, root_patch
from biomech.tooth.layer.supports import Profile, embedded_root, forget, mesh_support, root_support, surface_support
from biomech.tooth.layer.triangles import triangle_layer
from biomech.tooth.roots import Paraboloid, RootMesh, Surface
from biomech.tooth.support import foundation_matrix, support_matrix

ROOT, T = Paraboloid(3.5, 2.75, 13.0, top=1.5, slope=(0.08, -0.05)), 0.2
PROFILE = Profile(T)
NEARLY = make_ligament("linear", young=0.1, poisson=0.48)


def net(root: Paraboloid, around: int, rings: int, normals: str = "exact") -> RootMesh:
    """Triangles in the middle of the ligament of a root, every second ring turned by half a step."""
    s = np.sqrt(np.linspace(1.0, 0.0, rings + 1)[:-1])
    ring, turn = np.meshgrid(s, np.arange(around) * 2 * np.pi / around, indexing="ij")
    turn = turn + (np.arange(rings) % 2)[:, None] * np.pi / around
    ring, turn = np.append(ring.ravel(), 0.0), np.append(turn.ravel(), 0.0)
    normal = root.outward(ring, turn)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    points, here = root.position(ring, turn) + 0.5 * T * normal, np.arange(around)
    after, faces = np.roll(here, -1), []
    for k in range(rings - 1):
        low, high = k * around, (k + 1) * around
        if k % 2:
            faces += [[low + here, high + after, high + here], [low + here, low + after, high + after]]
        else:
            faces += [[low + here, low + after, high + here], [low + after, high + after, high + here]]
    faces.append([(rings - 1) * around + here, (rings - 1) * around + after, np.full(around, rings * around)])
    triangles = np.concatenate([np.stack(f, axis=1) for f in faces])
    if normals == "mean":
        corner = points[triangles]
        face = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        normal = np.stack([np.bincount(triangles.ravel(), np.repeat(x, 3)) for x in face.T], axis=1)
        normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    return RootMesh(points, triangles, here, normal)


def relative(k, other):
    scale = np.sqrt(np.diag(other))
    return np.abs((k - other) / np.outer(scale, scale)).max()


@pytest.mark.parametrize("nodes", [3, 6, 9])
def test_shape_functions_sum_to_one_and_pass_polynomials(nodes):
    rule, size = table(nodes), {3: 0.5, 6: 0.5, 9: 4.0}[nodes]
    assert rule.weight.sum() == pytest.approx(size)
    assert np.allclose(rule.value.sum(axis=1), 1) and np.allclose(rule.slope.sum(axis=2), 0)
    corners = {
        3: [[0, 0], [1, 0], [0, 1]],
        6: [[0, 0], [1, 0], [0, 1], [0.5, 0], [0.5, 0.5], [0, 0.5]],
        9: [[i, j] for i in (-1, 0, 1) for j in (-1, 0, 1)],
    }[nodes]
    x, y = np.array(corners, dtype=float).T
    at = rule.value @ np.stack([x, y], axis=1)
    assert np.allclose(rule.slope @ np.stack([x, y], axis=1), np.eye(2))
    if nodes > 3:
        assert np.allclose(rule.value @ (x * y + x * x), at[:, 0] * at[:, 1] + at[:, 0] ** 2)
        exact = {6: 1 / 180, 9: 4 / 9}[nodes]  # of x^2 y^2 over the element
        assert rule.weight @ (at[:, 0] ** 2 * at[:, 1] ** 2) == pytest.approx(exact)


def test_rings_grow_from_the_rim_and_fill_the_root():
    bounds = graded(0.004, 6)
    sizes = np.diff(bounds)
    assert bounds[0] == 0 and bounds[-1] == 1 and np.all(sizes > 0) and sizes[0] == 0.004
    assert np.all(sizes[1:] / sizes[:-1] < GROWTH + 1e-9) and sizes.max() <= 1 / 6 + 1e-12
    assert np.allclose(np.diff(graded(np.inf, 5)), 0.2)


def test_area_and_normals_of_the_mesh_are_those_of_the_surface():
    patch = root_patch(ROOT, lambda p: np.full(p.shape[:-1], 1e-9), 0.3, 12, 6)
    mesh = LayerMesh(patch.points, patch.thickness, np.arange(len(patch.points)) == patch.upper[0], patch.blocks)
    parts = [geometry(mesh, block) for block in mesh.blocks]
    exact = ROOT.surface(30, 60)
    assert sum(g.area.sum() for g in parts) == pytest.approx(exact.area, rel=2e-4)
    vector = sum(np.einsum("eq,eqi->i", g.area, g.normal) for g in parts)
    assert vector == pytest.approx([0, 0, np.pi * 3.5 * 2.75], abs=0.02)  # that of the closed rim: outward is apical


@pytest.mark.parametrize("normals", ["exact", "mean"])
@pytest.mark.parametrize("nu", [0.30, 0.49, 0.499])
def test_triangles_give_what_the_handbook_mesh_gives(nu, normals):
    """One per cent; the triangles are 1.5 mm long."""
    k = mesh_support(net(ROOT, 16, 12, normals), 0.1, nu, PROFILE).stiffness
    assert relative(k, root_support(None, (ROOT,), 0.1, nu, PROFILE, fineness=2).stiffness) < 0.01


def test_flat_triangles_converge_too():
    fine = root_support(None, (ROOT,), 0.1, 0.48, PROFILE, fineness=2).stiffness
    layer, errors = moduli(0.1, 0.48), []
    for n in (12, 24, 48):
        mesh = triangle_layer(net(ROOT, n, n), lambda p: np.full(p.shape[:-1], T), 0.1, curved=False)
        errors.append(relative(film_support(mesh, layer).stiffness, fine))
    assert errors[0] > 2 * errors[1] > 4 * errors[2]


def test_a_turned_and_shifted_mesh_gives_the_turned_and_shifted_support():
    from biomech.mechanics.poses import rotation_exp

    mesh, layer = net(ROOT, 12, 8), moduli(0.1, 0.49)
    turn, away = rotation_exp(np.array([0.4, -1.1, 2.0])), np.array([3.0, -1.0, 7.0])
    moved = RootMesh(mesh.vertices @ turn.T + away, mesh.faces, mesh.rim, mesh.normals @ turn.T)
    one, other = (film_support(triangle_layer(m, lambda p: np.full(p.shape[:-1], T), 0.3), layer) for m in (mesh, moved))
    expected = one.moved(turn, away)
    assert relative(other.stiffness, expected.stiffness) < 1e-9
    q = np.array([0.01, 0.02, -0.01, 1e-3, 2e-3, -1e-3])
    assert np.allclose(other.pressures(q).normal, expected.pressures(q).normal, rtol=1e-6, atol=1e-9)
    assert np.allclose(other.pressures(q).shear, expected.pressures(q).shear, rtol=1e-6, atol=1e-9)


def test_no_excess_pressure_at_the_crest_and_most_where_it_moves_to():
    tooth = make_tooth(11)
    support = surface_support(tooth, make_ligament("linear", poisson=0.4999))
    p = support.pressures(np.array([0, 0.01, 0, 0, 0, 0])).normal
    assert np.all(p[support.normals[:, 1] > 0.2] > 0) and np.all(p[support.normals[:, 1] < -0.2] < 0)
    depth = tooth.jaw_sign * support.points[:, 2] - tooth.bone_level
    assert np.abs(p[depth < 0.2]).max() < 0.15 * np.abs(p).max()


@pytest.mark.parametrize("number", [11, 14, 16, 47])
@pytest.mark.parametrize("nu", [0.0, 0.3, 0.4999])
def test_stiffness_is_symmetric_and_positive_and_the_work_of_the_tractions(number, nu):
    support = surface_support(make_tooth(number), make_ligament("linear", poisson=nu))
    k = support.stiffness
    assert np.array_equal(k, k.T) and np.linalg.eigvalsh(k).min() > 0
    q = np.array([0.01, -0.02, 0.015, 1e-3, -2e-3, 3e-3])
    traction = support.normals * support.pressures(q).normal[:, None] + support.shear @ q
    force = support.weights @ traction
    moment = support.weights @ np.cross(support.points, traction)
    assert np.allclose(np.concatenate([force, moment]), k @ q, rtol=1e-9, atol=1e-12)
    assert np.allclose(np.einsum("pi,pij->pj", support.normals, support.shear), 0, atol=1e-12)


@pytest.mark.parametrize(("right", "left"), [(16, 26), (33, 43)])
def test_both_sides_mirror_each_other(right, left):
    one, other = (surface_support(make_tooth(n), NEARLY) for n in (right, left))
    mirror = np.array([-1.0, 1, 1])
    assert np.allclose(one.mapped(mirror).stiffness, other.stiffness)
    assert np.allclose(one.mapped(mirror).pressure, other.pressure)
    springs = [support_matrix(make_tooth(n).surface, NEARLY) for n in (right, left)]
    assert np.all(np.sign(one.stiffness[0, 5]) == np.sign(springs[0][0, 5]))


def test_an_hourglass_is_stiffer_at_its_waist_and_one_of_waist_one_is_uniform():
    even, waisted = (root_support(None, (ROOT,), 0.1, 0.3, Profile(T, w)).stiffness for w in (1.0, 0.66))
    assert np.array_equal(even, root_support(None, (ROOT,), 0.1, 0.3, PROFILE).stiffness)
    assert waisted[0, 0] > 1.05 * even[0, 0]
    share = np.linspace(0, 1, 2001)
    at = Profile(0.227, 0.66).at(share)
    assert at.mean() == pytest.approx(0.227, rel=1e-3) and at.min() == pytest.approx(0.15, rel=2e-3)
    assert at[0] == pytest.approx(0.38, rel=5e-3)


def test_a_roof_that_bears_adds_to_the_axis_most():
    parts = embedded_root(make_tooth(16))
    bare, roofed = (root_support(*parts, 0.05, 0.49, PROFILE, bearing_roof=b).stiffness for b in (False, True))
    assert roofed[2, 2] > 1.3 * bare[2, 2] and 0.9 < roofed[0, 0] / bare[0, 0] < 1.1


def test_roots_without_their_trunk_stand_alone():
    trunk, roots = embedded_root(make_tooth(16, bone_level=6.0))
    assert trunk is None
    whole = root_support(None, roots, 0.05, 0.48, PROFILE, fineness=2).stiffness
    alone = sum(root_support(None, (r,), 0.05, 0.48, PROFILE, fineness=2).stiffness for r in roots)
    assert relative(whole, alone) < 2e-3


@pytest.mark.parametrize(
    ("make", "text"),
    [
        (lambda: moduli(0.05, 0.5), "poisson = 0.5"),
        (lambda: moduli(0.05, -0.1), "poisson = -0.1"),
        (lambda: moduli(float("nan"), 0.3), "young = nan"),
        (lambda: Profile(-0.2), "thickness = -0.2"),
        (lambda: Profile(float("nan")), "thickness = nan"),
        (lambda: Profile(0.2, 0.0), "waist = 0.0"),
        (lambda: surface_support(make_tooth(11), make_ligament("bilinear")), 'must have law = "linear"'),
        (lambda: make_ligament("linear", thickness=-0.2), "thickness = -0.2"),
    ],
)
def test_bad_values_are_refused(make, text):
    with pytest.raises(InputError, match=text):
        make()


def test_bad_meshes_are_refused_with_the_place():
    mesh = net(ROOT, 8, 6)

    def layer(**changed):
        parts = {k: getattr(mesh, k) for k in ("vertices", "faces", "rim", "normals")} | changed
        return lambda: film_support(triangle_layer(RootMesh(**parts), lambda p: np.full(p.shape[:-1], T), 0.3), moduli(1, 0.3))

    cap = np.stack([np.full(6, 0), mesh.rim[2:], mesh.rim[1:-1]], axis=1)
    cases = [
        (layer(faces=np.delete(mesh.faces, 40, axis=0)), r"open edge away from the crest near \("),
        (layer(faces=np.concatenate([mesh.faces, cap])), "no rim at the crest"),
        (layer(faces=np.concatenate([mesh.faces, mesh.faces[40:41]])), "more than two triangles share an edge"),
        (layer(vertices=np.where(np.arange(len(mesh.vertices))[:, None] == 20, mesh.vertices[21], mesh.vertices)), "without area"),
    ]
    for make, text in cases:
        with pytest.raises(InputError, match=text):
            make()


def test_a_film_without_a_rim_is_refused():
    patch = root_patch(ROOT, lambda p: np.full(p.shape[:-1], T), 0.3, 8, 4)
    with pytest.raises(InputError, match="no rim at the crest"):
        LayerMesh(patch.points, patch.thickness, np.zeros(len(patch.points), dtype=bool), patch.blocks)
    with pytest.raises(InputError, match=r"thickness = -0\.2"):
        LayerMesh(patch.points, -patch.thickness, np.ones(len(patch.points), dtype=bool), patch.blocks)


def test_supports_read_from_the_cache_are_the_same(tmp_path, monkeypatch):
    monkeypatch.setenv("BIOMECH_CACHE", str(tmp_path))
    tooth, law = make_tooth(14), make_ligament("linear", poisson=0.47, young=0.123)
    first = surface_support(tooth, law)
    forget()
    (file,) = tmp_path.rglob("surface-*.npz")
    second = surface_support(tooth, law)
    assert all(np.array_equal(x, y) for x, y in zip(first.arrays().values(), second.arrays().values(), strict=True))
    forget()
    file.write_bytes(file.read_bytes()[:-100])
    assert np.array_equal(surface_support(tooth, law).stiffness, first.stiffness)
    forget()


def test_a_mesh_of_one_block_of_linear_triangles_is_accepted():
    mesh = net(ROOT, 8, 6)
    rim = np.isin(np.arange(len(mesh.vertices)), mesh.rim)
    plain = LayerMesh(mesh.vertices, np.full(len(rim), T), rim, (Block(mesh.faces),))
    assert np.linalg.eigvalsh(film_support(plain, moduli(0.1, 0.45)).stiffness).min() > 0


def test_a_layer_of_several_roots_is_one_piece():
    mesh = root_layer(*embedded_root(make_tooth(16)), lambda p: np.full(p.shape[:-1], T), 0.2)
    linked = np.arange(len(mesh.points))
    for _ in range(60):
        for block in mesh.blocks:
            np.minimum.at(linked, block.nodes, linked[block.nodes].min(axis=1, keepdims=True))
    assert np.all(linked == 0)


def test_large_meshes_are_factorised_another_way_to_the_same_end(monkeypatch):
    parts = embedded_root(make_tooth(16))
    mesh = root_layer(*parts, lambda p: np.full(p.shape[:-1], T), 0.2)
    layer = moduli(0.05, 0.49)
    banded = film_support(mesh, layer).stiffness
    monkeypatch.setattr("biomech.tooth.layer.film._BAND", 0)
    assert relative(film_support(mesh, layer).stiffness, banded) < 1e-10


@settings(max_examples=25, deadline=None)
@example(a=1.0, b=1.0, length=4.0, slope=0.0, nu=2e-156, t=0.5)
@given(
    a=st.floats(1.0, 5.0), b=st.floats(1.0, 5.0), length=st.floats(4.0, 18.0), slope=st.floats(-0.3, 0.3),
    nu=st.floats(0.0, 0.4999), t=st.floats(0.05, 0.5),
)  # fmt: skip
def test_lies_between_springs_that_may_flow_and_springs_that_may_not(a, b, length, slope, nu, t):
    """Ee/t <= surface <= M/t in every motion: the rim and the way around the root only relieve the pressure."""
    root, layer = Paraboloid(a, b, length, 1.0, (0.2, 0.0), (slope, 0.0)), moduli(0.1, nu)
    support = root_support(None, (root,), 0.1, nu, Profile(t))
    thin = Surface(support.points, support.normals, support.weights / t)
    soft, stiff = (foundation_matrix(thin, kn, layer.shear) for kn in (layer.flowing, layer.flowing + layer.held))
    scale = np.sqrt(np.diag(stiff))
    for gap in (support.stiffness - soft, stiff - support.stiffness):
        assert np.linalg.eigvalsh(gap / np.outer(scale, scale)).min() > -1e-9
