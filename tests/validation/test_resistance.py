"""Centres of resistance, sigma^2, rotation centres: identities valid for any linear support, and bands."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from springs import LENGTH, cloud, spring, width_law

from biomech.errors import InputError
from biomech.ligaments import make_ligament
from biomech.tooth import make_tooth
from biomech.tooth.anatomy import NUMBERS
from biomech.tooth.motion import displacement, rotation_centre, screw_axis
from biomech.tooth.resistance import (
    PLANES,
    axes_of_resistance,
    centre_of_resistance,
    planar_centre,
    shift,
)
from biomech.tooth.roots import Paraboloid, join
from biomech.tooth.support import foundation_matrix, support_matrix

LAW = make_ligament("bilinear")
seeds = st.integers(0, 10_000)
planes = st.sampled_from(sorted(PLANES))


def held(k, point, force, couple=(0.0, 0.0, 0.0)):
    """The motion under a force at a point and a couple."""
    moment = np.cross(point, force) + np.asarray(couple)
    return np.linalg.solve(k, np.concatenate([force, moment]))


def turning_point(q, centre):
    """The rotation centre in the plane of a planar centre, which may lie beside the origin."""
    beside = centre.point * np.eye(3)[PLANES[centre.plane].normal]
    return rotation_centre(np.concatenate([displacement(q, beside), q[3:]]), centre.plane)


@settings(max_examples=60, deadline=None)
@given(seed=seeds, plane=planes, a=st.floats(0.5, 40), sense=st.sampled_from([-1, 1]))
def test_lever_times_distance_of_the_rotation_centre_is_sigma_squared(seed, plane, a, sense):
    """a D = sigma^2, whatever the root (Naegerl et al. 1991 AJODO 99:337-45, abstract only; derived)."""
    k = cloud(seed)
    lateral, axial, _, _ = PLANES[plane]
    centre = planar_centre(k, plane, np.random.default_rng(seed).uniform(-5, 5, 3))
    point = centre.point + sense * a * np.eye(3)[axial]
    turns_at = turning_point(held(k, point, 1.7 * np.eye(3)[lateral]), centre)
    assert (centre.point[axial] - turns_at[1]) * sense * a == pytest.approx(centre.sigma_squared, rel=1e-7)


@settings(max_examples=60, deadline=None)
@given(seed=seeds, plane=planes, angle=st.floats(0, 6.2), along=st.floats(-20, 20))
def test_a_force_through_the_planar_centre_does_not_turn_the_tooth_in_that_plane(seed, plane, angle, along):
    k = cloud(seed)
    lateral, axial, normal, _ = PLANES[plane]
    centre = planar_centre(k, plane, np.random.default_rng(seed).uniform(-5, 5, 3))
    force = np.cos(angle) * np.eye(3)[lateral] + np.sin(angle) * np.eye(3)[axial]
    q = held(k, centre.point + along * force, force)
    moved = displacement(q, centre.point)[[lateral, axial]]
    assert abs(q[3 + normal]) < 1e-9 * np.abs(q[3:]).max() + 1e-12
    assert np.allclose(moved, centre.mobility @ force[[lateral, axial]], atol=1e-9)


@settings(max_examples=60, deadline=None)
@given(seed=seeds, plane=planes, where=st.tuples(*[st.floats(-20, 20)] * 3))
def test_a_couple_turns_the_tooth_about_the_planar_centre_wherever_it_is_applied(seed, plane, where):
    k = cloud(seed)
    lateral, axial, normal, sign = PLANES[plane]
    centre = planar_centre(k, plane, np.random.default_rng(seed).uniform(-5, 5, 3))
    force, arm = np.eye(3)[axial], np.eye(3)[lateral]
    q = held(k, np.array(where) + arm, force) + held(k, np.array(where) - arm, -force)
    assert np.allclose(turning_point(q, centre), centre.point[[lateral, axial]], atol=1e-7)
    assert q[3 + normal] * centre.rotational_stiffness == pytest.approx(2.0 * sign)


# x_CR / L and sigma^2 / L^2 of a root whose resistance per length is (1 - x/L)^power (exact, derived)
WIDTHS = {0: (1 / 2, 1 / 12), 0.5: (2 / 5, 12 / 175), 1: (1 / 3, 1 / 18), 1.5: (2 / 7, 20 / 441)}


@pytest.mark.parametrize("power", WIDTHS)
@pytest.mark.parametrize("plane", ["buccolingual", "mesiodistal"])
def test_width_laws(power, plane):
    """x_CR is the mean of the width law, sigma^2 its variance, and a centre exists in space."""
    found = centre_of_resistance(width_law(power))
    planar = found.planar[plane]
    share, spread = WIDTHS[power]
    assert np.allclose(found.point, [0, 0, share * LENGTH], atol=1e-9) and found.residual < 1e-12
    assert np.allclose(planar.point, found.point, atol=1e-9)
    assert planar.sigma_squared == pytest.approx(spread * LENGTH**2, rel=1e-9)


def test_constant_width_displacement_in_closed_form():
    """u_CR = F/(k w L), turn = 12 F a/(k w L^3), load point (F/(k w L)) (1 + 12 a^2/L^2) (exact)."""
    k, force, a = width_law(0, modulus=0.7, size=6.0), 0.39, 11.0
    point = np.array([0, 0, LENGTH / 2 - a])
    q = held(k, point, force * np.eye(3)[1])
    soft = force / (0.7 * 6.0 * LENGTH)
    assert displacement(q, np.array([0, 0, LENGTH / 2]))[1] == pytest.approx(soft)
    assert q[3] == pytest.approx(12 * soft * a / LENGTH**2)
    assert displacement(q, point)[1] == pytest.approx(soft * (1 + 12 * a**2 / LENGTH**2))


def test_tipping_grows_with_the_square_of_the_lever_and_falls_with_the_cube_of_the_root():
    """Yoshida et al. 2003 Kieferorthopaedie 4:317-321, abstract only; exact in the limit of a long lever."""

    def tip(length, a):
        point = np.array([0, 0, length / 2 - a])
        return displacement(held(width_law(0, length=length), point, np.eye(3)[1]), point)[1]

    assert np.log2(tip(10, 800) / tip(10, 400)) == pytest.approx(2, abs=1e-3)
    assert np.log2(tip(20, 400) / tip(10, 400)) == pytest.approx(-3, abs=1e-2)


def test_a_round_root_has_a_centre_in_space_and_its_axes_meet_there():
    found = centre_of_resistance(foundation_matrix(Paraboloid(3.25, 3.25, 13.0).surface(), 0.8, 0.1))
    assert found.residual < 1e-12 and found.gaps.max() < 1e-9
    assert all(np.allclose(axis.point, found.point, atol=1e-9) for axis in found.axes)
    assert all(np.allclose(c.point, found.point, atol=1e-9) for c in found.planar.values())


def crooked():
    """Two roots at right angles, one of them aside: an L."""
    one = Paraboloid(2.0, 3.5, 12.0).surface()
    turned = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])
    return join([one, Paraboloid(1.5, 2.5, 9.0).surface().moved(turned, np.array([4.0, 1.0, 2.0]))])


def test_a_crooked_root_has_none():
    """Not every root has one (Dathe et al. 2013, doi 10.1177/1758736013499770, abstract only)."""
    k = foundation_matrix(crooked(), 0.8, 0.05)
    found = centre_of_resistance(k)
    assert found.residual > 0.02 and found.gaps.max() > 0.1
    q = held(k, found.point, np.array([0.6, 0.8, 0.0]))
    assert np.linalg.norm(q[3:]) * 5.0 > 0.01 * np.linalg.norm(displacement(q, found.point))


@pytest.mark.parametrize("number", NUMBERS)
def test_on_isotropic_springs_every_tooth_has_its_centre_at_the_centroid(number):
    s = make_tooth(number).surface
    found = centre_of_resistance(foundation_matrix(s, 0.2, 0.2))
    assert found.residual < 1e-12
    assert np.allclose(found.point, s.weights @ s.points / s.area, atol=1e-9)
    assert np.allclose(found.stiffness, 0.2 * s.area)


@settings(max_examples=40, deadline=None)
@given(seed=seeds)
def test_the_centre_exists_exactly_when_the_coupling_can_be_made_to_vanish(seed):
    """Residual 0: forces through the point only translate; otherwise some force turns the tooth."""
    rng = np.random.default_rng(seed)
    plain = np.zeros((6, 6))
    a, d = rng.normal(size=(2, 3, 3))
    plain[:3, :3], plain[3:, 3:] = a @ a.T + np.eye(3), 20 * (d @ d.T + np.eye(3))
    point = rng.uniform(-10, 10, 3)
    with_centre = shift(plain, -point)
    found = centre_of_resistance(with_centre)
    assert found.residual < 1e-9 and np.allclose(found.point, point, atol=1e-6)
    for k, none in ((with_centre, True), (cloud(seed), False)):
        r = centre_of_resistance(k).point
        turn = max(np.linalg.norm(held(k, r, f)[3:]) for f in np.eye(3))
        assert (turn < 1e-8) == none


@settings(max_examples=30, deadline=None)
@given(seed=seeds, angles=st.tuples(*[st.floats(-3, 3)] * 3))
def test_the_centre_and_its_residual_do_not_depend_on_the_frame(seed, angles):
    from scipy.spatial.transform import Rotation

    k = cloud(seed)
    r, x = Rotation.from_euler("xyz", angles).as_matrix(), np.array([3.0, -4.0, 5.0])
    both = np.kron(np.eye(2), r)
    moved = centre_of_resistance(shift(both @ k @ both.T, -x))
    found = centre_of_resistance(k)
    assert np.allclose(moved.point, r @ found.point + x, atol=1e-6)
    assert moved.residual == pytest.approx(found.residual, rel=1e-6)
    assert np.allclose(moved.stiffness, found.stiffness)


@settings(max_examples=30, deadline=None)
@given(seed=seeds)
def test_axes_of_resistance_are_the_screws_of_couples(seed):
    k = cloud(seed)
    for i, axis in enumerate(axes_of_resistance(k, np.array([1.0, 2.0, 3.0]))):
        screw = screw_axis(held(k, np.zeros(3), np.zeros(3), np.eye(3)[i]))
        assert np.allclose(screw.direction, axis.direction)
        assert np.allclose(np.cross(axis.point - screw.point, axis.direction), 0, atol=1e-6)
        assert screw.slide == pytest.approx(axis.pitch * screw.angle, abs=1e-9)


@pytest.mark.parametrize(
    ("k", "text"),
    [
        (
            foundation_matrix(Paraboloid(3, 3, 13.0).surface(), 0.3, 0.0),
            r"rank 5 of 6, a rotation about \(0, 0",
        ),
        (spring([0, 0, 1], np.eye(3)) + spring([0, 0, 5], np.eye(3)), "rank 5 of 6, a rotation"),
        (np.diag([1.0, 1, 0, 5, 5, 5]), r"rank 5 of 6, a translation along \(0, 0, 1"),
        (np.diag([1.0, 1, 1, 5, 5, -1]), "positive definite"),
        (np.zeros((6, 6)), "no stiffness"),
        (np.diag([1.0, 1, 1, 1, 1, np.nan]), "finite 6 x 6"),
        (np.eye(3), "finite 6 x 6"),
        (np.eye(6) + np.eye(6, k=3), "symmetric"),
    ],
)
def test_supports_that_leave_a_motion_free_or_are_none_are_named(k, text):
    with pytest.raises(InputError, match=text):
        centre_of_resistance(k)


def test_upper_incisor_centre_lies_in_the_published_band():
    """0.28 to 0.42 of the alveolar height from the crest: 1/3 in 3 subjects (Yoshida et al. 2001 AJODO),
    33-42 % in a review (Papageorgiou 2005 Hell Orthod Rev); both abstract only. A band, not a check.
    """
    tooth = make_tooth(11)
    planar = centre_of_resistance(support_matrix(tooth.surface, LAW)).planar["buccolingual"]
    share = (planar.point[2] - tooth.bone_level) / tooth.embedded_length
    assert 0.28 <= share <= 0.42


def test_upper_molar_centre_lies_near_the_furcation():
    """0.14 +- 1.5 lingual, 1.5 +- 2.3 distal, 0.2 +- 1.75 mm apical of it (50 teeth, AJODO, abstract only).

    A band of two standard deviations.
    """
    tooth = make_tooth(16)
    found = centre_of_resistance(support_matrix(tooth.surface, LAW))
    mesial, buccal, apical = (found.point - tooth.landmark("furcation")) * tooth.signs
    assert abs(-buccal - 0.136) < 3.02 and abs(-mesial - 1.48) < 4.52 and abs(apical - 0.188) < 3.5
    assert found.residual > 1e-3  # three roots: no exact centre in space
