"""Teeth from surface files against closed forms, solid models and published bands.

Sources: closed forms of the paraboloid of revolution and the elliptic one, and the solid finite-element values of Case
P: derived for this project and confirmed by brute-force integration (computed); centre of resistance of the upper first
molar against its trifurcation: AJODO, fifty teeth from computed tomography (abstract only).
"""

from pathlib import Path

import numpy as np
import pytest
from surface_teeth import source, turned_surface, write_stl

from biomech.ligaments import make_ligament
from biomech.surfaces import Crest, Source, mesh_tooth
from biomech.tooth import make_tooth
from biomech.tooth.layer.supports import surface_support
from biomech.tooth.resistance import centre_of_resistance, shift
from biomech.tooth.support import foundation_matrix

MESHES = Path(__file__).parents[2] / "meshes"
# R 3, L 13 (kn, kt): K_yy, K_xx, K_tor, x_CR, sigma2, area; computed
CLOSED = {
    (1.0, 0.0): (80.28492, 5.81527, 0.0, 4.80398, 11.39240, 166.38512),
    (1.0, 1.0): (166.38512, 166.38512, 891.86014, 5.25747, 14.50535, 166.38512),
    (1.0, 0.2): (97.50496, 37.92924, 178.37203, 4.95875, 12.50104, 166.38512),
}


def read(tooth, kn, kt, axis=1):
    """Return K across the axis, along it, about it, depth of resistance and sigma squared, about the crest."""
    k = shift(foundation_matrix(tooth.surface, kn, kt), tooth.landmarks["crest"])
    return of_matrix(k, axis)


def of_matrix(k, axis=1):
    across, turn = k[axis, axis], k[4 - axis, 4 - axis] if axis == 0 else k[3, 3]
    cross = k[axis, 4] if axis == 0 else k[axis, 3]
    return across, k[2, 2], k[5, 5], abs(cross / across), (turn - cross**2 / across) / across


@pytest.fixture(scope="module")
def paraboloids(tmp_path_factory):
    """Meshes of the mid-ligament paraboloid, each twice as fine as the one before."""
    folder = tmp_path_factory.mktemp("paraboloids")
    out = []
    for rings, around in ((12, 18), (24, 36), (48, 72)):
        path = write_stl(folder / f"{rings}.stl", *turned_surface(rings, around, inset=0.1))
        out.append(mesh_tooth(11, source(path)))
    return out


@pytest.mark.parametrize("moduli", CLOSED)
def test_a_file_of_a_paraboloid_gives_the_closed_form(paraboloids, moduli):
    tooth, wanted = paraboloids[-1], CLOSED[moduli]
    found = (*read(tooth, *moduli), tooth.surface.area)
    scale = np.array(wanted)
    scale[2] = max(scale[2], 89.0)  # a round root on normal springs turns freely: a tenth of the isotropic stiffness
    assert (np.abs(np.array(found) - wanted) <= 0.01 * scale).all(), (found, wanted)


def test_it_converges_with_the_second_power_of_the_triangles_size(paraboloids):
    # with kn = 1, kt = 0.2 the errors of area and normals cancel in K_xx on the coarse mesh: the pure cases are measured
    for moduli in ((1.0, 0.0), (1.0, 1.0)):
        for i in (0, 1, 3, 4):
            errors = [abs(read(t, *moduli)[i] - CLOSED[moduli][i]) for t in paraboloids]
            orders = np.log2(np.array(errors[:-1]) / errors[1:])
            assert orders == pytest.approx([2.0, 2.0], abs=0.25), (moduli, i)


@pytest.mark.parametrize(("axis", "across", "depth", "sigma"), [(1, 90.5408, 6.39139, 19.5643), (0, 130.3597, 6.53845, 19.6101)])
def test_an_elliptic_paraboloid_gives_the_computed_values(tmp_path, axis, across, depth, sigma):
    # half-axes 3.5 across (y) and 2.75 (x), length 17, normal springs; the thin ligament adds 0.3 % of radius
    points, triangles = turned_surface(40, 64, radius=1.0, length=17.0)
    path = write_stl(tmp_path / "ellipse.stl", points * [2.75, 3.5, 1.0], triangles)
    tooth = mesh_tooth(13, source(path), ligament_thickness=0.02)
    found = read(tooth, 1.0, 0.0, axis)
    assert found[0] == pytest.approx(across, rel=0.01)
    assert found[3] == pytest.approx(depth, rel=0.01)
    assert found[4] == pytest.approx(sigma, rel=0.01)
    assert found[2] == pytest.approx(37.2302, rel=0.015)
    assert tooth.surface.area == pytest.approx(225.9184, rel=0.01)


# Case P, R 3.9, L 13, t 0.229, E 0.68: K_yy, K_xx, K_tor, x_CR / L, sigma2 of the solid ligament; computed
SOLID = {
    0.30: (567.3, 298.8, 2504.7, 0.3814, 14.12),
    0.45: (1309.4, 369.3, 2245.6, 0.3682, 12.21),
    0.49: (5154.4, 874.0, 2185.3, 0.3672, 10.62),
    0.499: (34540.0, 6110.0, 2172.0, 0.3718, 7.73),
}


@pytest.fixture(scope="module")
def case_p(tmp_path_factory):
    path = tmp_path_factory.mktemp("case_p") / "p.stl"
    write_stl(path, *turned_surface(24, 40, radius=3.9))
    return mesh_tooth(11, source(path), ligament_thickness=0.229)


@pytest.mark.parametrize("poisson", SOLID)
def test_a_file_on_the_surface_model_agrees_with_the_solid(case_p, poisson):
    ligament = make_ligament("linear", young=0.68, poisson=poisson, thickness=0.229)
    k = shift(surface_support(case_p, ligament).stiffness, case_p.landmarks["crest"])
    across, along, about, depth, sigma = of_matrix(k)
    assert (across, along, about, depth / 13.0, sigma) == pytest.approx(SOLID[poisson], rel=0.01)


NUMBERS = {
    "upper-incisor": 11, "upper-canine": 13, "upper-premolar-two-roots": 14, "upper-premolar": 15, "upper-molar": 16,
    "lower-incisor": 41, "lower-canine": 43, "lower-premolar": 45, "lower-molar": 46,
}  # fmt: skip


def example(name):
    number = NUMBERS[name]
    axis = (0.0, 0.0, 1.0 if number < 30 else -1.0)
    given = Source(MESHES / f"{name}.ply", "mm", axis, (0.0, -1.0, 0.0), cej=(0.0, 0.0, 0.0),
                   crest=Crest(point=(0.0, 0.0, 0.0), below=1.5))  # fmt: skip
    return mesh_tooth(number, given)


@pytest.mark.parametrize("name", NUMBERS)
def test_equal_springs_resist_at_the_centroid_of_the_root(name):
    """Identity for any root shape: with kn = kt the centre of resistance is the centroid of the embedded surface."""
    tooth = example(name)
    root = tooth.shape.ligament
    corner = root.vertices[root.faces]
    area = 0.5 * np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1)
    centre = area @ corner.mean(axis=1) / area.sum()
    k = foundation_matrix(tooth.surface, 1.0, 1.0)
    found = centre_of_resistance(k)
    assert found.point == pytest.approx(centre, abs=1e-5)
    assert found.residual < 1e-5
    assert np.diag(k)[:3] == pytest.approx(np.full(3, area.sum()), rel=1e-6)


@pytest.mark.parametrize("number", [11, 13, 45])
def test_a_file_of_the_handbooks_shape_gives_the_handbooks_support(tmp_path, number):
    """The ligament's middle lies t/2 along the normal here, half-axes and length grow by t/2 there: 2 %."""
    tooth = make_tooth(number)
    root = tooth.roots[0]
    points, triangles = turned_surface(32, 48, radius=1.0, length=root.length)
    points = points * [root.a, root.b, float(tooth.jaw_sign)]
    triangles = triangles if tooth.jaw_sign > 0 else triangles[:, ::-1]
    path = write_stl(tmp_path / "tooth.stl", points * [1.0, -1.0, 1.0], triangles[:, ::-1])
    at = (0.0, 0.0, 1.5 * tooth.jaw_sign)
    given = Source(path, "mm", (0.0, 0.0, float(tooth.jaw_sign)), (0.0, -1.0, 0.0), cej=(0.0, 0.0, 0.0),
                   crest=Crest(point=at))  # fmt: skip
    found = mesh_tooth(number, given)
    for axis in (0, 1):
        ours, theirs = (read(t, 1.0, 0.2857, axis) for t in (found, tooth))  # the ratio at Poisson's ratio 0.30
        assert ours == pytest.approx(theirs, rel=0.02)


def test_an_upper_molars_resistance_lies_in_the_published_band_about_its_trifurcation():
    # from the trifurcation, mean and deviation: lingual 0.136 +- 1.51, distal 1.48 +- 2.26, gingival 0.188 +- 1.75
    tooth = example("upper-molar")
    point = centre_of_resistance(foundation_matrix(tooth.surface, 1.0, 0.2857)).point
    away = (point - tooth.landmarks["furcation"]) * tooth.signs
    for value, mean, deviation in zip((-away[1], -away[0], away[2]), (0.136, 1.48, 0.188), (1.51, 2.26, 1.75), strict=True):
        assert abs(value - mean) < deviation
