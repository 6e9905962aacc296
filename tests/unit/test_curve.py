"""Curves: arc length, frames, straight continuation, mirror, offset, widening, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.archform import KINDS, PROFILES, arch_form, through_points
from biomech.errors import InputError

FORMS = [k for k in KINDS if k != "straight"]
KIND = st.sampled_from(FORMS)
WIDTH, DEPTH = st.floats(35, 70), st.floats(25, 55)
S = np.linspace(-60, 60, 241)


def _ends(curve):
    return curve.point(np.array([-curve.length_right, curve.length_left]))


@given(KIND, WIDTH, DEPTH)
@settings(max_examples=25, deadline=None)
def test_parameter_is_arc_length(kind, width, depth):
    curve = arch_form(kind, width, depth)
    s = np.linspace(-curve.length_right, curve.length_left, 20001)
    chords = np.linalg.norm(np.diff(curve.point(s), axis=0), axis=1)
    np.testing.assert_allclose(chords, s[1] - s[0], rtol=1e-3 if kind == "beta" else 1e-6)
    np.testing.assert_allclose(chords[400:-400], s[1] - s[0], rtol=1e-6)
    assert np.sum(chords) == pytest.approx(curve.length, rel=2e-6)


@given(KIND, WIDTH, DEPTH)
@settings(max_examples=25, deadline=None)
def test_front_ends_and_symmetry(kind, width, depth):
    curve = arch_form(kind, width, depth)
    np.testing.assert_allclose(curve.point(0.0), [0, depth], atol=1e-6)
    tolerance = 0.01 * width / 55 + 2e-3 if kind == "beta" else 1e-6
    np.testing.assert_allclose(_ends(curve), [[-width / 2, 0], [width / 2, 0]], atol=tolerance)
    np.testing.assert_allclose(curve.point(S), curve.point(-S) * [-1, 1], atol=1e-6)
    mirror = curve.mirrored()
    np.testing.assert_allclose(mirror.point(S), curve.point(S), atol=5e-5)
    assert mirror.length_left == pytest.approx(curve.length_right, abs=1e-6)
    np.testing.assert_allclose(mirror.point(S), curve.point(-S) * [-1, 1], atol=1e-10)
    np.testing.assert_allclose(mirror.curvature(S), curve.curvature(-S), atol=1e-10)


@given(KIND, WIDTH, DEPTH)
@settings(max_examples=15, deadline=None)
def test_curvature_turns_the_tangent(kind, width, depth):
    curve = arch_form(kind, width, depth)
    s = np.linspace(-0.9 * curve.length_right, 0.9 * curve.length_left, 4001)
    angle = np.unwrap(np.arctan2(curve.tangent(s)[:, 1], curve.tangent(s)[:, 0]))
    middle = 0.5 * (s[1:] + s[:-1])
    np.testing.assert_allclose(np.diff(angle) / np.diff(s), curve.curvature(middle), atol=2e-5)
    assert np.all(curve.curvature(s) < 0)  # convex outward
    bent = np.abs(curve.curvature(s))
    # and no jump: a parabola's curvature k changes by at most 0.776 k0^2 a mm (derived), 0.7 % of k0 a sample at 35 x 55 mm
    assert np.max(np.abs(np.diff(bent))) < 0.01 * np.max(bent)


def test_frames_are_right_handed_and_outward():
    curve = arch_form("beta", 55, 40)
    rotation, position = curve.frames(S, z=2.5)
    np.testing.assert_allclose(np.linalg.det(rotation), 1, atol=1e-12)
    np.testing.assert_allclose(
        np.swapaxes(rotation, -1, -2) @ rotation, np.broadcast_to(np.eye(3), (241, 3, 3)), atol=1e-12
    )
    np.testing.assert_allclose(position[:, 2], 2.5)
    front, _ = curve.frames(0.0)
    np.testing.assert_allclose(front, np.eye(3), atol=1e-8)
    inside = np.array([0.0, 5.0])
    assert np.all(np.sum((position[:, :2] - inside) * rotation[:, :2, 1], axis=1) > 0)
    assert curve.frames(np.zeros((2, 3)))[0].shape == (2, 3, 3, 3)


def test_continues_straight_beyond_its_ends():
    curve = arch_form("ellipse", 55, 40)
    end = curve.length_left
    np.testing.assert_allclose(curve.point(end + 7) - curve.point(end), 7 * curve.tangent(end), atol=1e-9)
    np.testing.assert_allclose(curve.tangent(end + 7), curve.tangent(end))
    assert curve.curvature(end + 7) == 0


@given(KIND, st.floats(-58, 58), st.floats(-4, 4))
@settings(max_examples=40, deadline=None)
def test_nearest_finds_the_foot_of_a_normal(kind, s, distance):
    curve = arch_form(kind, 55, 40)
    rotation, position = curve.frames(s)
    point = position[:2] + distance * rotation[:2, 1]
    assert curve.nearest(point) == pytest.approx(s, abs=1e-6)
    assert curve.nearest(np.stack([point, point])).shape == (2,)


@given(KIND, st.floats(-5, 5))
@settings(max_examples=25, deadline=None)
def test_offset_is_parallel(kind, distance):
    curve = arch_form(kind, 55, 40)
    other = curve.offset(distance)
    rotation, position = curve.frames(np.linspace(-40, 40, 81))
    wanted = position[:, :2] + distance * rotation[:, :2, 1]
    np.testing.assert_allclose(other.point(other.nearest(wanted)), wanted, atol=1e-4)
    turned = (
        float(np.sum(np.abs(curve.curvature(np.linspace(-curve.length, curve.length, 200001)))))
        * curve.length
        / 1e5
    )
    assert other.length - curve.length == pytest.approx(distance * turned, abs=2e-3 * abs(distance) + 1e-6)


def test_offset_beyond_the_radius_is_refused():
    with pytest.raises(InputError, match="offset"):
        arch_form("parabola", 55, 40).offset(-12.0)
    with pytest.raises(InputError, match="offset"):
        arch_form("parabola", 55, 40).offset(np.nan)


@given(KIND, st.sampled_from(sorted(PROFILES)), st.floats(-3, 12), st.floats(-3, 12))
@settings(max_examples=40, deadline=None)
def test_widening_moves_the_ends_by_the_given_amounts(kind, profile, left, right):
    curve = arch_form(kind, 55, 40)
    wide = curve.widened(left, right, profile)
    shift = _ends(wide) - _ends(curve)
    tolerance = 0.02 if kind == "beta" else 1e-6
    np.testing.assert_allclose(shift, [[-right, 0], [left, 0]], atol=tolerance)
    # and the other way about, left for right
    mirror = curve.widened(right, left, profile).mirrored()
    np.testing.assert_allclose(mirror.point(S), wide.point(S), atol=2e-4)


@given(st.sampled_from(sorted(PROFILES)), st.floats(0, 8), st.floats(0, 8))
@settings(max_examples=25, deadline=None)
def test_widened_curvature_has_no_jump(profile, left, right):
    wide = arch_form("ellipse", 55, 40).widened(left, right, profile)
    s = np.linspace(-0.99 * wide.length_right, 0.99 * wide.length_left, 8001)
    assert np.max(np.abs(np.diff(wide.curvature(s)))) < 2e-3


def test_proportional_widening_scales_the_width():
    curve = arch_form("parabola", 55, 40)
    wide = curve.widened(5.5, 5.5)
    points = curve.point(S[50:-50]) * [1.2, 1]
    np.testing.assert_allclose(wide.point(wide.nearest(points)), points, atol=1e-6)


def test_one_sided_widening_leaves_the_other_side():
    curve = arch_form("ellipse", 55, 40)
    for profile in ("proportional", "molar"):
        wide = curve.widened(6.0, 0.0, profile)
        s = np.linspace(-curve.length_right, -0.3 * curve.length_right, 50)
        gap = wide.point(wide.nearest(curve.point(s))) - curve.point(s)
        np.testing.assert_allclose(gap, 0, atol=1e-5)
        np.testing.assert_allclose(wide.point(0.0), curve.point(0.0), atol=1e-6)


def test_profiles_differ_at_the_canine():
    # same 6 mm a side at the ends; x = 17 mm is about a canine
    curve = arch_form("ellipse", 55, 40)
    s = curve.nearest(np.array([17.0, 40 * np.sqrt(1 - (17 / 27.5) ** 2)]))
    height = curve.point(s)[1]
    gain = {}
    for profile in PROFILES:
        wide = curve.widened(6.0, 6.0, profile)
        grid = np.linspace(0, wide.length_left, 4001)
        x, y = wide.point(grid).T
        gain[profile] = float(np.interp(-height, -y, x)) - 17.0
    assert gain["even"] == pytest.approx(6.0, abs=1e-3)
    assert gain["proportional"] == pytest.approx(6.0 * 17 / 27.5, abs=1e-3)
    assert 0 < gain["molar"] < 1.0


@pytest.mark.parametrize(
    ("amounts", "text"),
    [
        ((np.nan, 1.0, "even"), "widen.left"),
        ((1.0, 30.0, "even"), "widen.right"),
        ((1.0, 1.0, "evn"), "'even'"),
    ],
)
def test_impossible_widening_is_refused(amounts, text):
    with pytest.raises(InputError, match=text):
        arch_form("ellipse", 55, 40).widened(*amounts)


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        (("betta", 55, 40), "Did you mean 'beta'"),
        (("beta", -55, 40), "width"),
        (("beta", 55, 0), "depth"),
        (("beta", 55, np.nan), "depth"),
        (("ellipse", 5500, 40), "width"),
    ],
)
def test_impossible_arch_is_refused(arguments, text):
    with pytest.raises(InputError, match=text):
        arch_form(*arguments)


def test_straight_form_and_two_points_agree():
    a, b = arch_form("straight", 40, 12), through_points([[-20, 12], [20, 12]])
    np.testing.assert_allclose(a.point(S), b.point(S), atol=1e-9)
    np.testing.assert_allclose(a.point(S), np.stack([S, np.full_like(S, 12)], -1), atol=1e-9)
    assert np.max(np.abs(a.curvature(S))) < 1e-9
    with pytest.raises(InputError, match="80 %"):
        a.widened(19.0, 0.0)


@given(st.integers(8, 40), st.floats(-0.4, 0.4))
@settings(max_examples=25, deadline=None)
def test_points_are_met_in_any_order(count, bias):
    t = np.linspace(-1.6, 1.5, count) + bias * 0.1
    points = np.stack([33 * np.sin(t), 42 * np.cos(t)], axis=-1)
    curve, back = through_points(points), through_points(points[::-1])
    np.testing.assert_allclose(curve.point(curve.nearest(points)), points, atol=1e-4)
    np.testing.assert_allclose(curve.point(S), back.point(S), atol=1e-6)
    assert curve.point(0.0)[0] == pytest.approx(0, abs=1e-6)


def test_many_points_of_an_ellipse_give_the_ellipse():
    t = np.linspace(-np.pi / 2, np.pi / 2, 61)
    curve = through_points(np.stack([27.5 * np.sin(t), 40 * np.cos(t)], axis=-1))
    exact = arch_form("ellipse", 55, 40)
    assert curve.length == pytest.approx(exact.length, rel=1e-5)
    np.testing.assert_allclose(curve.point(S[60:-60]), exact.point(S[60:-60]), atol=1e-4)


@pytest.mark.parametrize(
    ("points", "text"),
    [
        ([[0, 0]], "at least two"),
        ([[-1, 0], [np.nan, 1]], "finite"),
        ([[1, 0], [5, 5], [9, 5]], "midline"),
        ([[-5, 0], [-5, 0.001], [5, 0]], "apart"),
        ([[-5, 0, 0], [5, 0, 1]], "planar"),
    ],
)
def test_unusable_points_are_refused(points, text):
    with pytest.raises(InputError, match=text):
        through_points(points)
