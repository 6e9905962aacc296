"""Stress-free shapes: exact angles and steps in the slots, nothing next door, kinks, symmetry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.archform import arch_form
from biomech.errors import InputError
from biomech.mechanics.poses import Pose, pose_log, rotation_log
from biomech.wire.shape import Bend, ProgressiveTwist, StressFree, VBend

STRAIGHT = arch_form("straight", 60, 0)
ARCH = arch_form("ellipse", 55, 40)
SLOTS = (-30.0, -20.0, -10.0, 0.0, 10.0, 20.0, 30.0)
ANGLE = st.floats(-0.5, 0.5)


def _local(wire, s):
    """Return the pose at s seen from the unbent wire."""
    s = np.asarray(s, dtype=float)
    return Pose(*wire.curve.frames(s, wire.z)).inverse() @ wire.poses(s)


def _turn(wire, s):
    return rotation_log(_local(wire, s).rotation)


def test_without_bends_it_is_the_curve():
    wire = StressFree(ARCH, slots=SLOTS, z=1.5)
    s = np.linspace(-45, 45, 91)
    rotation, position = ARCH.frames(s, 1.5)
    np.testing.assert_allclose(wire.poses(s).rotation, rotation, atol=1e-12)
    np.testing.assert_allclose(wire.poses(s).position, position, atol=1e-12)
    assert wire.kinks().size == 0


def test_rest_strain_of_the_unbent_wire_is_its_curvature():
    s = np.linspace(-35, 35, 281)
    rest = pose_log(StressFree(ARCH, slots=SLOTS).relative_poses(s)) / 0.25
    middle = 0.5 * (s[1:] + s[:-1])
    np.testing.assert_allclose(rest[:, 5], ARCH.curvature(middle), atol=1e-5)
    np.testing.assert_allclose(rest[:, 0], 1.0, atol=1e-6)
    np.testing.assert_allclose(rest[:, [2, 3, 4]], 0.0, atol=1e-12)


@given(ANGLE, st.floats(-1.5, 1.5))
@settings(max_examples=25, deadline=None)
def test_twist_fills_the_slot_and_spares_the_neighbours(angle, inside):
    wire = StressFree(ARCH, slots=SLOTS, bends=(Bend(10.0, "third", angle=angle),), half_width=1.5)
    np.testing.assert_allclose(_turn(wire, 10.0 + inside), [angle, 0, 0], atol=1e-9)
    others = np.array([-30.0, 0.0, 1.5, 18.5, 20.0, 30.0, 40.0])
    np.testing.assert_allclose(_turn(wire, others), 0.0, atol=1e-9)
    np.testing.assert_allclose(
        _turn(wire, [5.0, 15.0])[:, 0], 0.5 * angle, atol=1e-9
    )  # halfway along the ramp
    s = np.linspace(-40, 40, 161)
    np.testing.assert_allclose(_local(wire, s).position, 0.0, atol=1e-9)  # a twist leaves the centreline


@given(ANGLE, ANGLE, ANGLE, st.floats(-1, 1), st.floats(-1, 1))
@settings(max_examples=25, deadline=None)
def test_angles_and_steps_are_exact_at_the_slot(rotate, tip, twist, out, up):
    bends = (
        Bend(10.0, "first", angle=rotate, step=out),
        Bend(10.0, "second", angle=tip, step=up),
        Bend(10.0, "third", angle=twist),
    )
    wire = StressFree(ARCH, slots=SLOTS, bends=bends)
    pose = _local(wire, 10.0)
    np.testing.assert_allclose(pose.position, [0, out, up], atol=1e-9)
    tangent = pose.rotation[:, 0]
    assert np.arctan2(tangent[1], tangent[0]) == pytest.approx(rotate, abs=1e-9)
    assert -np.arcsin(tangent[2]) == pytest.approx(tip, abs=1e-9)
    np.testing.assert_allclose(_local(wire, [0.0, 20.0]).position, 0.0, atol=1e-9)
    np.testing.assert_allclose(_turn(wire, [0.0, 20.0]), 0.0, atol=1e-9)


def test_signs_of_the_bends():
    def pose(order, **amount):
        wire = StressFree(STRAIGHT, slots=SLOTS, bends=(Bend(0.0, order, **amount),))
        return wire.poses(np.array([0.0, 1.0]))

    assert pose("first", angle=0.1).position[1, 1] > 0  # left-hand part outward
    assert pose("second", angle=0.1).position[1, 2] < 0  # left-hand part down
    assert pose("third", angle=0.1).rotation[0, 2, 1] > 0  # outward face up
    assert pose("first", step=0.3).position[0, 1] == pytest.approx(0.3)
    assert pose("second", step=0.3).position[0, 2] == pytest.approx(0.3)


@pytest.mark.parametrize("curve", [STRAIGHT, ARCH])
def test_frames_follow_the_bent_centreline(curve):
    bends = (
        Bend(10.0, "first", angle=0.1, step=0.5),
        Bend(10.0, "second", angle=-0.1, step=0.4),
        Bend(-10.0, "second", step=-0.6),
    )
    wire = StressFree(curve, slots=SLOTS, bends=bends)
    s = np.linspace(-29, 29, 5801)
    pose = wire.poses(s)
    chord = np.diff(pose.position, axis=0)
    chord /= np.linalg.norm(chord, axis=1, keepdims=True)
    middle = pose.rotation[:-1, :, 0] + pose.rotation[1:, :, 0]
    middle /= np.linalg.norm(middle, axis=1, keepdims=True)
    np.testing.assert_allclose(chord, middle, atol=2e-4)


@given(st.lists(st.floats(-29, 29), min_size=2, max_size=9, unique=True), ANGLE)
@settings(max_examples=25, deadline=None)
def test_relative_poses_do_not_depend_on_the_stations(between, angle):
    bends = (
        Bend(10.0, "third", angle=angle),
        Bend(-20.0, "second", step=0.5),
        Bend(20.0, "first", angle=0.2),
    )
    wire = StressFree(
        ARCH, slots=SLOTS, bends=bends, v_bends=(VBend(5.0, angle), VBend(-14.0, 0.2, "horizontal"))
    )
    s = np.array([-30.0, *sorted(between), 30.0])
    total = Pose(np.eye(3), np.zeros(3))
    for i in range(s.size - 1):
        total = total @ wire.relative_poses(s).take(i)
    straight = wire.relative_poses(s[[0, -1]]).take(0)
    np.testing.assert_allclose(total.rotation, straight.rotation, atol=1e-10)
    np.testing.assert_allclose(total.position, straight.position, atol=1e-9)


def test_progressive_twist_is_linear_and_ends_where_told():
    wire = StressFree(ARCH, slots=SLOTS, twists=(ProgressiveTwist(0.0, 30.0, 0.0, 0.3),))
    s = np.array([-30.0, -5.0, 0.0, 10.0, 20.0, 25.0, 30.0, 31.0, 40.0])
    np.testing.assert_allclose(wire.twist(s), [0, 0, 0, 0.1, 0.2, 0.25, 0.3, 0.3, 0.3], atol=1e-12)
    inner = StressFree(ARCH, slots=SLOTS, twists=(ProgressiveTwist(10.0, -10.0, 0.2, 0.1),))
    np.testing.assert_allclose(
        inner.twist(np.array([-20.0, -10.0, 0.0, 10.0, 20.0])), [0, 0.1, 0.15, 0.2, 0], atol=1e-12
    )
    np.testing.assert_allclose(inner.twist(np.array([-11.5, 11.5])), [0.1, 0.2], atol=1e-12)


def test_twists_of_one_slot_add_up():
    wire = StressFree(
        ARCH, slots=SLOTS, bends=(Bend(20.0, "third", 0.1),), twists=(ProgressiveTwist(0.0, 30.0, 0.0, 0.3),)
    )
    assert wire.twist(20.0) == pytest.approx(0.3)


@pytest.mark.parametrize(("plane", "axis"), [("vertical", 1), ("horizontal", 2)])
@pytest.mark.parametrize("place", [5.0, -5.0, 0.0])
def test_v_bend_turns_what_lies_beyond(plane, axis, place):
    angle = 0.2
    wire = StressFree(STRAIGHT, v_bends=(VBend(place, angle, plane),))
    np.testing.assert_allclose(wire.kinks(), [place])
    s = np.array([place - 3, place - 1, place, place + 1, place + 3])
    turn = rotation_log(wire.relative_poses(s).rotation)[:, axis]
    np.testing.assert_allclose(turn, [0, angle / 2, angle / 2, 0], atol=1e-12)
    length = np.linalg.norm(wire.relative_poses(s).position, axis=1)
    np.testing.assert_allclose(length, [2, 1, 1, 2], atol=1e-9)  # a kink uses no wire
    np.testing.assert_allclose(wire.poses(np.array(0.0)).position, 0.0, atol=1e-9)
    # the two arms are straight: the kink seen from its bisector is even
    bisector = wire.poses(s).take(2).inverse() @ wire.poses(s)
    np.testing.assert_allclose(bisector.position[1] * [-1, 1, 1], bisector.position[3], atol=1e-9)


def test_coinciding_v_bends_act_together():
    both = StressFree(STRAIGHT, v_bends=(VBend(5.0, 0.1), VBend(5.0, 0.2, "horizontal")))
    np.testing.assert_allclose(both.kinks(), [5.0])
    relative = both.relative_poses(np.array([4.0, 6.0]))
    np.testing.assert_allclose(rotation_log(relative.rotation)[0], [0, 0.1, 0.2], atol=1e-12)


MIRROR = np.diag([-1.0, 1.0, 1.0])


def _mirrored(bends, v_bends, twists):
    # mirroring left for right keeps a2 and a3 and turns a1 about; steps stay, angles change sign
    return (
        tuple(
            Bend(-b.s, b.order, -b.angle, b.step) if b.order != "third" else Bend(-b.s, "third", b.angle)
            for b in bends
        ),
        tuple(VBend(-b.s, b.angle, b.plane) for b in v_bends),
        tuple(ProgressiveTwist(-t.s_start, -t.s_end, t.start, t.end) for t in twists),
    )


@given(ANGLE, ANGLE, st.floats(-1, 1), st.floats(-25, 25))
@settings(max_examples=20, deadline=None)
def test_mirror_image(first, second, step, place):
    bends = (
        Bend(10.0, "first", first, step),
        Bend(-20.0, "second", second, step),
        Bend(20.0, "third", first),
    )
    v_bends = (VBend(place, second), VBend(7.0, 0.1, "horizontal"))
    twists = (ProgressiveTwist(0.0, 30.0, 0.1, 0.3),)
    wide = ARCH.widened(4.0, 1.0)
    b, v, t = _mirrored(bends, v_bends, twists)
    one = StressFree(wide, SLOTS, bends, twists, v_bends)
    other = StressFree(wide.mirrored(), SLOTS, b, t, v)
    s = np.linspace(-40, 40, 81)
    p, q = one.poses(s), other.poses(-s)
    np.testing.assert_allclose(q.position, p.position @ MIRROR, atol=1e-8)
    np.testing.assert_allclose(q.rotation, MIRROR @ p.rotation @ MIRROR, atol=1e-8)


@given(st.floats(-30, 30), st.floats(-3, 3))
@settings(max_examples=15, deadline=None)
def test_relative_poses_do_not_feel_a_move_of_the_whole_wire(shift, height):
    # a wire lying elsewhere is the same wire
    from biomech.archform import through_points

    t = np.linspace(-1.5, 1.5, 40)
    points = np.stack([27 * np.sin(t), 40 * np.cos(t)], axis=-1)
    bends = (Bend(10.0, "first", 0.1, 0.4), Bend(-20.0, "third", 0.2))
    s = np.linspace(-40, 40, 41)
    a = StressFree(through_points(points), SLOTS, bends).relative_poses(s)
    b = StressFree(through_points(points + np.array([0, shift])), SLOTS, bends, z=height).relative_poses(s)
    np.testing.assert_allclose(a.position, b.position, atol=1e-8)
    np.testing.assert_allclose(a.rotation, b.rotation, atol=1e-8)


def test_stations_take_leading_axes():
    wire = StressFree(ARCH, SLOTS, (Bend(10.0, "third", 0.2),), v_bends=(VBend(4.0, 0.1),))
    s = np.stack([np.linspace(-30, 30, 13), np.linspace(-20, 25, 13)])
    pose = wire.relative_poses(s)
    assert pose.rotation.shape == (2, 12, 3, 3)
    np.testing.assert_allclose(pose.position[1], wire.relative_poses(s[1]).position)


@pytest.mark.parametrize(
    ("make", "text"),
    [
        (lambda: Bend(0.0, "fourth"), "fourth"),
        (lambda: Bend(0.0, "third", 0.1, step=0.5), "no step"),
        (lambda: Bend(0.0, "second", angle=2.0), "angle"),
        (lambda: Bend(0.0, "second", step=np.nan), "step"),
        (lambda: VBend(0.0, np.inf), "angle"),
        (lambda: VBend(0.0, 0.1, "sideways"), "sideways"),
        (lambda: ProgressiveTwist(1.0, 1.0, 0.0, 0.1), "two slots"),
        (lambda: StressFree(ARCH, SLOTS, (Bend(3.0, "third", 0.1),)), "centre of a slot"),
        (lambda: StressFree(ARCH, (0.0, 2.0)), "apart"),
        (lambda: StressFree(ARCH, (0.0, np.nan)), "finite"),
        (lambda: StressFree(ARCH, SLOTS, half_width=0.0), "half_width"),
        (
            lambda: StressFree(ARCH, SLOTS, twists=(ProgressiveTwist(0.0, 11.0, 0, 0.1),)),
            "progressive twist at",
        ),
    ],
)
def test_impossible_bends_are_refused(make, text):
    with pytest.raises(InputError, match=text):
        make()
