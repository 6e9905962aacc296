"""Motions of a tooth: centres, screws, angles in words."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.errors import InputError
from biomech.tooth import make_tooth
from biomech.tooth.motion import (
    displacement,
    rotation_centre,
    screw_axis,
    turn,
    turn_signs,
    vector_of_turn,
    words,
)
from biomech.tooth.resistance import PLANES

motions = st.lists(st.floats(-1, 1).map(lambda x: round(x, 6)), min_size=6, max_size=6).map(np.array)


def test_points_move_by_translation_plus_rotation_times_arm_over_leading_axes():
    q = np.random.default_rng(0).normal(size=(4, 1, 6))
    p = np.random.default_rng(1).normal(size=(5, 3))
    assert np.allclose(displacement(q, p), q[..., :3] + np.cross(q[..., 3:], p))
    assert displacement(q[0, 0], p[0]).shape == (3,)


@pytest.mark.parametrize("plane", PLANES)
@settings(max_examples=50, deadline=None)
@given(q=motions)
def test_the_rotation_centre_does_not_move_in_its_plane(plane, q):
    lateral, axial, normal, _ = PLANES[plane]
    centre = rotation_centre(q, plane)
    assert not np.isnan(centre).any()
    if np.isinf(centre).any():
        assert np.isinf(centre).all() and abs(q[3 + normal]) <= 1e-11
        return
    alone = q.copy()
    alone[[3 + lateral, 3 + axial]] = 0.0
    point = np.zeros(3)
    point[[lateral, axial]] = centre
    assert np.allclose(displacement(alone, point)[[lateral, axial]], 0, atol=1e-9)


def test_a_translation_has_its_centre_at_infinity_and_so_has_rest():
    assert np.isinf(rotation_centre(np.array([1.0, 2.0, 3.0, 0, 0, 0]))).all()
    assert np.isinf(rotation_centre(np.zeros(6))).all()
    q = np.zeros((3, 6))
    q[1] = [0, 1, 0, 0.1, 0, 0]
    assert np.isfinite(rotation_centre(q)).all(axis=-1).tolist() == [False, True, False]


def test_the_centre_of_a_lateral_motion_with_a_turn_is_where_the_hand_calculation_puts_it():
    # v = 1 along a2 and 0.1 rad about a1: a point at height z moves by 1 - 0.1 z, so z = 10
    assert np.allclose(rotation_centre(np.array([0, 1, 0, 0.1, 0, 0])), [0, 10])
    # v = 1 along a1 and 0.1 rad about a2: 1 + 0.1 z, so z = -10
    assert np.allclose(rotation_centre(np.array([1, 0, 0, 0, 0.1, 0]), "mesiodistal"), [0, -10])


@settings(max_examples=50, deadline=None)
@given(q=motions)
def test_points_of_the_screw_axis_slide_along_it(q):
    screw = screw_axis(q)
    for point in (screw.point, screw.point + 3.0 * screw.direction):
        move = displacement(q, point)
        if screw.angle > 0:
            assert np.allclose(move, screw.slide * screw.direction, atol=1e-8)
    assert abs(screw.point @ screw.direction) <= 1e-9 * (1 + np.linalg.norm(screw.point))
    assert np.linalg.norm(screw.direction) == pytest.approx(1.0 if q.any() else 0.0)


def test_the_screw_of_a_translation_is_its_direction():
    screw = screw_axis(np.array([[0, 3, 4, 0, 0, 0], [0, 0, 0, 0, 0, 2.0]]))
    assert np.allclose(screw.direction, [[0, 0.6, 0.8], [0, 0, 1]])
    assert screw.angle.tolist() == [0, 2] and screw.slide.tolist() == [5, 0] and not screw.point.any()


@pytest.mark.parametrize("number", [14, 24, 34, 44])
def test_signs_of_turns_are_what_their_words_say(number):
    """Each word is checked on the displacement of the named part of the tooth."""
    tooth = make_tooth(number)
    side, jaw = tooth.side_sign, tooth.jaw_sign
    apical, mesial, buccal = tooth.direction("apical"), tooth.direction("mesial"), tooth.direction("buccal")

    def moves(kind, part):
        parts = turn(np.zeros(3), side, jaw)._replace(**{kind: 0.01})
        q = np.concatenate([np.zeros(3), vector_of_turn(parts, side, jaw)])
        return displacement(q, 10.0 * part)

    assert moves("torque", apical) @ buccal == pytest.approx(0.1)
    assert moves("tip", -apical) @ mesial == pytest.approx(0.1)
    assert moves("rotation", mesial) @ buccal == pytest.approx(0.1)


def test_buccal_root_torque_is_negative_about_a1_above_and_positive_below():
    assert turn_signs(1, 1)[0] == -1 and turn_signs(-1, -1)[0] == 1


@settings(max_examples=20, deadline=None)
@given(w=st.tuples(*[st.floats(-1, 1)] * 3), side=st.sampled_from([-1, 1]), jaw=st.sampled_from([-1, 1]))
def test_turns_translate_back(w, side, jaw):
    assert np.allclose(vector_of_turn(turn(np.array(w), side, jaw), side, jaw), w)


def test_words():
    assert words("torque", 0.1) == "buccal root" and words("torque", -0.1) == "lingual root"
    assert words("tip", 1) == "mesial crown" and words("rotation", -1) == "mesial in"
    with pytest.raises(InputError, match=r"'twist'.*torque, tip, rotation"):
        words("twist", 1.0)
    with pytest.raises(InputError, match="buccal-lingual"):
        rotation_centre(np.zeros(6), "buccal-lingual")
