"""The surface equation against closed forms, a solid model and its own limits."""

import numpy as np
import pytest
from surface_roots import INCOMPRESSIBLE, mesh_of, numbers, pressure_stiffness, uniform

from biomech.ligaments import make_ligament
from biomech.tooth import make_tooth
from biomech.tooth.layer.film import film_support, moduli
from biomech.tooth.layer.rings import root_patch, trunk_patch
from biomech.tooth.layer.supports import Profile, embedded_root, root_support, surface_support
from biomech.tooth.resistance import centre_of_resistance, shift
from biomech.tooth.roots import Paraboloid, Trunk
from biomech.tooth.support import foundation_matrix, support_matrix

THIN = 1e-6  # mm: so thin that middle of the ligament and root are the same


def test_infinite_cylinder_of_an_incompressible_film():
    """p = 12 G u r^2 cos(angle) / t^3 and 12 pi G u r^3 / t^3 a length: closed form (computed).

    What the open end costs is the same for both lengths and drops out of their difference.
    """
    r, found = 3.0, []
    for length in (20.0, 40.0):
        patch = trunk_patch(Trunk((r, r), (r, r), 0.0, length), uniform(THIN), 1.0, 12, 10)
        k, p = pressure_stiffness(mesh_of(patch), INCOMPRESSIBLE)
        found.append(k[0, 0] * THIN**3)
    assert (found[1] - found[0]) / 20.0 == pytest.approx(12 * np.pi * r**3, rel=1e-3)
    angle = np.arctan2(patch.points[patch.lower, 1], patch.points[patch.lower, 0])
    assert np.allclose(p[patch.lower, 0] * THIN**3, 12 * r**2 * np.cos(angle), atol=1e-3 * 12 * r**2)


# R/L: x_CR/L, sigma^2/L^2, K_yy t^3/(12 G R^3 L), K_xx the same (computed by a one-dimensional scheme, given digits)
FILM = {
    0.15: (0.3552, 0.03401, 0.8662, 0.6313),
    0.20: (0.3640, 0.03127, 0.7676, 0.6335),
    0.25: (0.3671, 0.02899, 0.6822, 0.6364),
    0.30: (0.3651, 0.02712, 0.6084, 0.6399),
}


def film_numbers(ratio, around=16, rings=24):
    length, radius = 10.0, 10.0 * ratio
    patch = root_patch(Paraboloid(radius, radius, length), uniform(THIN), 0.3, around, rings)
    k, _ = pressure_stiffness(mesh_of(patch), INCOMPRESSIBLE)
    yy, xx, _, x, sigma2 = numbers(k, length)
    scale = THIN**3 / (12 * radius**3 * length)
    return x, sigma2 / length**2, yy * scale, xx * scale


@pytest.mark.parametrize("ratio", FILM)
def test_paraboloid_of_an_incompressible_film(ratio):
    assert np.allclose(film_numbers(ratio), FILM[ratio], rtol=0, atol=[6e-5, 1.1e-5, 1.1e-4, 1.1e-4])


def test_slender_incompressible_paraboloid():
    """x_CR/L to 2/7, sigma^2/L^2 to 0.045351 and K_yy to 2 pi/5 as R/L falls (cross-sections on their own, computed)."""
    limit = np.array([2 / 7, 0.045351, 2 * np.pi / 5])
    gaps = [np.abs(np.array(film_numbers(ratio)[:3]) / limit - 1) for ratio in (0.1, 0.03, 0.01)]
    assert np.all(gaps[1] < gaps[0]) and np.all(gaps[2] < gaps[1])
    assert np.all(gaps[2] < 0.03)


@pytest.mark.parametrize("poisson", [0.0, 0.01, 0.30, 0.45])
def test_a_vanishing_thickness_leaves_springs(poisson):
    """M/t and G/t on the surface, whose own closed forms are checked in test_root_support.py."""
    root, layer = Paraboloid(3.5, 2.75, 17.0), moduli(1.0, poisson)
    patch = root_patch(root, uniform(THIN), max(THIN * np.sqrt(layer.held / layer.shear / 12), 0.25 * THIN), 16, 8)
    k = THIN * film_support(mesh_of(patch), layer).stiffness
    springs = foundation_matrix(root.surface(24, 48), layer.flowing + layer.held, layer.shear)
    scale = np.sqrt(np.diag(springs))
    assert np.allclose(k / np.outer(scale, scale), springs / np.outer(scale, scale), atol=4e-4)


# nu: K_yy, K_xx, K_tor, x_CR/L, sigma^2 of a solid ligament, rigid root and bone: R 3.9, L 13, t 0.229 mm, E 0.68 MPa
# (computed: quadratic elements with Fourier series, converged to four digits; the sizes from memory)
SOLID = {
    0.30: (567.3, 298.8, 2504.7, 0.3814, 14.12),
    0.45: (1309.4, 369.3, 2245.6, 0.3682, 12.21),
    0.49: (5154.4, 874.0, 2185.3, 0.3672, 10.62),
    0.499: (34540.0, 6110.0, 2172.0, 0.3718, 7.73),
}
CASE = ((Paraboloid(3.9, 3.9, 13.0),), 0.68)


@pytest.mark.parametrize("nu", SOLID)
def test_within_one_per_cent_of_a_solid_ligament_at_any_poisson_ratio(nu):
    """Two per cent asked for; measured: 0.3, 0.8, 0.8, 0.4 % at worst, from nu 0.30 to 0.499."""
    support = root_support(None, *CASE, nu, Profile(0.229))
    assert np.allclose(numbers(support.stiffness, 13.0), SOLID[nu], rtol=0.01)


def test_springs_are_not():
    """The check above can fail: sigma^2 of springs is 10 % off at 0.49."""
    law = make_ligament("linear", young=0.68, poisson=0.49, thickness=0.229)
    springs = support_matrix(Paraboloid(3.9, 3.9, 13.0).grown(0.1145).surface(), law)
    assert numbers(springs, 13.0)[4] / SOLID[0.49][4] > 1.08


@pytest.mark.parametrize(("nu", "load", "turn", "centre", "apex"),
                         [(0.45, 8.04, 0.6745, 5.92, -4.78), (0.49, 2.31, 0.1967, 5.76, -1.42)])  # fmt: skip
def test_one_newton_six_millimetres_above_the_crest(nu, load, turn, centre, apex):
    """Same solid (computed): um at the load, mrad, depth of the centre of rotation (mm) and um at the apex."""
    k = root_support(None, *CASE, nu, Profile(0.229)).stiffness
    q = np.linalg.solve(k, [1.0, 0, 0, 0, -6.0, 0])
    got = 1e3 * (q[0] - 6 * q[4]), -1e3 * q[4], -q[0] / q[4], 1e3 * (q[0] + 13 * q[4])
    assert np.allclose(got, (load, turn, centre, apex), rtol=0.02)


def test_error_falls_with_the_fourth_power_of_the_element_size():
    """Twice the order of quadratic elements, as an energy should; three of the entries, four meshes."""
    root, found = Paraboloid(3.9, 3.9, 13.0), []
    for n in (1, 2, 4, 8):
        patch = root_patch(root, uniform(0.229), np.inf, 6 * n, 3 * n)
        k, _ = pressure_stiffness(mesh_of(patch), INCOMPRESSIBLE)
        found.append([k[0, 0], k[2, 2], k[4, 4]])
    steps = np.abs(np.diff(found, axis=0))
    order = np.log2(steps[:-1] / steps[1:])
    assert np.all(order > 3.5) and np.all(order < 4.6)


@pytest.mark.parametrize("number", [11, 13, 14, 16, 36])
@pytest.mark.parametrize("nu", [0.30, 0.49, 0.499])
def test_the_mesh_of_every_day_is_fine_enough(number, nu):
    """Against twice as many elements each way: 0.1 % on one root, 1.1 % at the worst entry of several."""
    tooth = make_tooth(number)
    once, twice = (root_support(*embedded_root(tooth), 0.05, nu, Profile(0.2), fineness=f).stiffness for f in (1, 2))
    scale = np.sqrt(np.diag(twice))
    assert np.abs((once - twice) / np.outer(scale, scale)).max() < (0.0015 if number < 14 else 0.011)


@pytest.mark.parametrize("number", [11, 23, 14, 16, 36, 47])
def test_springs_and_surface_agree_where_the_ligament_hardly_widens(number):
    """At nu 0.001. The springs stand on a paraboloid grown by t/2, the surface on the root moved by t/2 along its normal:
    that is 1 % of area; no other difference is left."""
    tooth, law = make_tooth(number), make_ligament("linear", poisson=0.001)
    springs, surface = support_matrix(tooth.surface, law), surface_support(tooth, law).stiffness
    ratio = np.diag(surface) / np.diag(springs)
    assert np.all(ratio > 0.999) and np.all(ratio < 1.03)


def test_symmetry_in_space_comes_out_of_the_mesh():
    """A round root has one lateral stiffness and no coupling across its axis, whatever the direction of the load."""
    k = root_support(None, *CASE, 0.49, Profile(0.229)).stiffness
    scale = np.sqrt(np.diag(k))
    plain = k / np.outer(scale, scale)
    assert k[0, 0] == pytest.approx(k[1, 1], rel=1e-10) and k[3, 3] == pytest.approx(k[4, 4], rel=1e-10)
    cross = np.abs(plain[np.triu_indices(6, 1)])
    assert np.sort(cross)[-2:] == pytest.approx(2 * [abs(plain[0, 4])], rel=1e-9) and np.sort(cross)[-3] < 1e-9


def test_young_and_size_scale_as_they_must():
    """K is proportional to E; all lengths times s give s, s^2, s^3 times the three blocks."""
    roots, s = (Paraboloid(3.0, 2.5, 12.0, top=1.0, slope=(0.1, 0.0)),), 1.7
    grown = (Paraboloid(3.0 * s, 2.5 * s, 12.0 * s, top=1.0 * s, slope=(0.1, 0.0)),)
    k = root_support(None, roots, 0.1, 0.48, Profile(0.2)).stiffness
    assert np.allclose(root_support(None, roots, 0.35, 0.48, Profile(0.2)).stiffness, 3.5 * k, rtol=1e-11)
    power = np.array([[1, 2], [2, 3]]).repeat(3, axis=0).repeat(3, axis=1)
    assert np.allclose(root_support(None, grown, 0.1, 0.48, Profile(0.2 * s)).stiffness, k * s**power, rtol=1e-9, atol=1e-9)


def test_compliances_of_tooth_and_ligament_add_at_the_bracket():
    """In series: 0.21 um/N of the tooth (a solid tooth on this root, computed) beside the ligament's, to 0.1 %."""
    support, bracket = root_support(None, *CASE, 0.49, Profile(0.229)), np.array([0.0, 0.0, -6.0])
    body = np.zeros((6, 6))
    body[:3, :3] = 0.21e-3 * np.eye(3)
    whole = support.with_body(body, bracket)
    force = np.array([1.0, 0, 0, 0, -6.0, 0])

    def at_bracket(k):
        q = np.linalg.solve(k, force)
        return 1e3 * (q[0] - 6.0 * q[4])

    assert at_bracket(whole.stiffness) == pytest.approx(at_bracket(support.stiffness) + 0.21, rel=1e-3)
    inverse = np.linalg.inv(shift(whole.stiffness, bracket)) - np.linalg.inv(shift(support.stiffness, bracket))
    assert np.allclose(inverse, body, atol=1e-12)
    assert np.array_equal(whole.rigid, support.rigid)
    moved = np.linalg.solve(whole.stiffness, force)
    rooted = np.linalg.solve(support.stiffness, force)
    assert np.allclose(whole.pressures(moved).normal, support.pressures(rooted).normal, rtol=1e-9, atol=1e-15)


@pytest.mark.parametrize("number", [11, 33, 35])
@pytest.mark.parametrize("nu", [0.30, 0.49, 0.499])
def test_handbook_roots_stand_as_in_a_solid_ligament(number, nu):
    """Round and elliptic roots against this program's solid ligament (checked by itself against other packages).

    Measured, worst of upper incisors, canines, second premolars and the smallest root, the lower central incisor:
    1.4 % of translation, 1.2 % of sigma squared, 0.02 mm of the centre of resistance. What is left grows with the
    square of thickness over radius and is largest for turning, 2.8 %.
    """
    from biomech.solid.bearing import solid_bearing

    tooth, law = make_tooth(number), make_ligament("linear", poisson=nu)
    solid, surface = (centre_of_resistance(s(tooth, law).stiffness) for s in (solid_bearing, surface_support))
    for plane in ("buccolingual", "mesiodistal"):
        one, other = solid.planar[plane], surface.planar[plane]
        assert other.lateral_stiffness == pytest.approx(one.lateral_stiffness, rel=0.012)
        assert other.sigma_squared == pytest.approx(one.sigma_squared, rel=0.012)
        assert np.allclose(other.point, one.point, atol=0.02)


@pytest.mark.parametrize("nu", [0.30, 0.49])
def test_pressure_and_shear_lie_where_the_solid_has_them(nu):
    """In the middle of the layer, from 1 mm below the crest, where the solid is singular, to 14 mm, short of the apex.

    Measured: 1.3 % of the largest pressure there, 5 % nearer to the crest, 4 % at the apex, interpolation included. The
    mean shear, small beside the pressure at nu 0.49, is 1 % and 8 % above that of the solid: the film's parabola is not
    quite symmetric in a curved layer.
    """
    from biomech.solid.bearing import solid_bearing

    tooth, law = make_tooth(23), make_ligament("linear", poisson=nu)
    solid, surface = solid_bearing(tooth, law), surface_support(tooth, law)
    for q in (np.array([0.0, 0.02, 0, 0, 0, 0]), np.array([0.01, 0.0, -0.01, 2e-3, 1e-3, -3e-3])):
        got, want = surface.pressure_near(solid.points, q), solid.pressures(q).normal
        error = np.abs(got - want) / np.abs(want).max()
        depth = tooth.jaw_sign * solid.points[:, 2] - tooth.bone_level
        assert error[(depth > 1) & (depth < 14)].max() < 0.02 and error.max() < 0.08
        shear = [s.weights @ s.pressures(q).shear / s.area for s in (solid, surface)]
        assert shear[1] == pytest.approx(shear[0], rel=0.03 if nu < 0.4 else 0.1)
