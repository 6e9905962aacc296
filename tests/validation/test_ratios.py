"""Moment-to-force ratios at the bracket against the identities and derived values."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from springs import LENGTH, cloud, width_law

from biomech.errors import InputError
from biomech.ligaments import make_ligament
from biomech.tooth import make_tooth
from biomech.tooth.anatomy import NUMBERS
from biomech.tooth.motion import rotation_centre
from biomech.tooth.ratios import moment_to_force
from biomech.tooth.resistance import PLANES
from biomech.tooth.roots import Paraboloid
from biomech.tooth.support import foundation_matrix, support_matrix

LAW = make_ligament("bilinear")
AXIS = np.eye(3)
BRACKET, APEX, EDGE = (np.array([0, y, z]) for y, z in ((4.0, -6.0), (0.0, 13.0), (0.0, -11.0)))


def motion(k, ratios, bracket, ratio, force=0.5):
    """The motion under a lateral force at the bracket with the couple that `ratio` stands for, and a couple
    about the long axis that takes the force into the plane of that axis.
    """
    lateral, _, normal, _ = PLANES[ratios.centre.plane]
    f = force * AXIS[lateral]
    moment = np.cross(bracket * (1 - AXIS[normal]), f) + ratios.moment(ratio, force) * AXIS[normal]
    return np.linalg.solve(k, np.concatenate([f, moment]))


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), ratio=st.floats(-30, 30), jaw=st.sampled_from([-1, 1]),
       plane=st.sampled_from(["buccolingual", "mesiodistal"]))  # fmt: skip
def test_the_rotation_centre_lies_where_the_ratio_puts_it(seed, ratio, jaw, plane):
    """D = sigma^2 / (H - M/F) for any linear support (derived)."""
    k = cloud(seed)
    ratios = moment_to_force(k, BRACKET, APEX, EDGE, jaw, plane)
    if abs(ratios.distance - ratio) < 1e-3:
        return
    depth = ratios.depth(ratio)
    assert ratios.ratio(depth) == pytest.approx(ratio, abs=1e-8)
    at = rotation_centre(motion(k, ratios, BRACKET, ratio), plane)[1]
    assert jaw * (at - ratios.centre.point[2]) == pytest.approx(depth, rel=1e-6, abs=1e-7)


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("plane", ["buccolingual", "mesiodistal"])
def test_every_tooth_does_what_its_ratios_say(number, plane):
    tooth = make_tooth(number)
    k = support_matrix(tooth.surface, LAW)
    bracket, apex, edge = (tooth.landmark(key) for key in ("bracket", "apex", "edge"))
    ratios = moment_to_force(k, bracket, apex, edge, tooth.jaw_sign, plane)
    assert ratios.translation == pytest.approx(abs(bracket[2] - ratios.centre.point[2]))
    moved = motion(k, ratios, bracket, ratios.translation)
    assert abs(moved[3 + PLANES[plane].normal]) < 1e-12
    for ratio, point in (
        (ratios.about_apex, apex),
        (ratios.about_bracket, bracket),
        (ratios.about_edge, edge),
    ):
        assert rotation_centre(motion(k, ratios, bracket, ratio), plane)[1] == pytest.approx(
            point[2], abs=1e-7
        )
    assert ratios.about_apex < ratios.translation < ratios.about_edge < ratios.about_bracket


def test_turning_about_the_long_axis_does_not_enter_with_a_symmetric_root():
    tooth = make_tooth(11)
    k = support_matrix(tooth.surface, LAW)
    bracket, apex, edge = (tooth.landmark(key) for key in ("bracket", "apex", "edge"))
    ratios = moment_to_force(k, bracket, apex, edge, 1, "mesiodistal")
    q = motion(k, ratios, bracket, ratios.about_apex)
    free = q + np.linalg.solve(k, [0, 0, 0, 0, 0, -0.5 * bracket[1]])
    assert abs(free[5]) > 1e-3 and abs(q[5]) < 1e-12
    assert np.allclose(rotation_centre(free, "mesiodistal"), rotation_centre(q, "mesiodistal"))


def test_translation_needs_the_moment_minus_force_times_distance():
    """Right-handed about a1 with a force along a2: M = -H F above (bracket below its centre), +H F below."""
    for number, sign in ((11, -1), (41, 1)):
        tooth = make_tooth(number)
        k = support_matrix(tooth.surface, LAW)
        marks = (tooth.landmark(key) for key in ("bracket", "apex", "edge"))
        ratios = moment_to_force(k, *marks, tooth.jaw_sign)
        assert ratios.moment(ratios.translation, 2.0) == pytest.approx(sign * 2.0 * ratios.distance)


# power of the width law; translation less tipping about the apex, in root lengths (exact)
@pytest.mark.parametrize(("power", "window"), [(0, 1 / 6), (0.5, 4 / 35), (1, 1 / 12), (1.5, 4 / 63)])
def test_window_between_translation_and_tipping_about_the_apex(power, window):
    ratios = moment_to_force(width_law(power), BRACKET, np.array([0, 0, LENGTH]), EDGE, 1)
    assert ratios.translation - ratios.about_apex == pytest.approx(window * LENGTH, rel=1e-9)


@pytest.mark.parametrize(("shear", "apex", "translation"), [(1e-9, 9.36, 10.74), (1.0, 9.33, 11.27)])
def test_upper_incisor_as_a_paraboloid(shear, apex, translation):
    """R 3.25, L 13, bracket 6 mm above the crest, normal or isotropic springs (derived, printed digits)."""
    k = foundation_matrix(Paraboloid(3.25, 3.25, 13.0).surface(), 1.0, shear)
    k[5, 5] += 1.0  # a smooth peg spins freely; that does not enter here
    ratios = moment_to_force(k, BRACKET, APEX, EDGE, 1)
    assert ratios.about_apex == pytest.approx(apex, abs=0.006)
    assert ratios.translation == pytest.approx(translation, abs=0.006)


def test_ratios_without_meaning_are_refused():
    ratios = moment_to_force(width_law(0), BRACKET, APEX, EDGE, 1)
    assert ratios.depth(ratios.translation) == np.inf and ratios.ratio(np.inf) == ratios.translation
    with pytest.raises(InputError, match="depth = 0"):
        ratios.ratio(0.0)
    with pytest.raises(InputError, match="M/F = nan"):
        ratios.depth(float("nan"))
    with pytest.raises(InputError, match="plane 'occlusal' has no M/F"):
        moment_to_force(width_law(0), BRACKET, APEX, EDGE, 1, "occlusal")
