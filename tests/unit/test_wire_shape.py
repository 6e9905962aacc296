"""Stress-free shapes: exact angles and steps in the slots, nothing next door, kinks, symmetry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.archform import arch_form
from biomech.errors import InputError
from biomech.mechanics.poses import Pose, pose_log, rotation_exp, rotation_log
from biomech.wire.bends import BEND_LENGTH, ProgressiveTwist, SlotBends, VBend
from biomech.wire.shape import StressFree

STRAIGHT = arch_form("straight", 60, 0)
ARCH = arch_form("ellipse", 55, 40)
SLOTS = (-30.0, -20.0, -10.0, 0.0, 10.0, 20.0, 30.0)
ANGLE = st.floats(-0.5, 0.5)


def _slots(half_width=1.5, **at):
    """Return a slot at each of SLOTS; `at` holds bends by name "p10" or "m10" for s = 10 or -10."""
    bends = {float(key.replace("p", "").replace("m", "-")): value for key, value in at.items()}
    assert set(bends) <= set(SLOTS)
    return [SlotBends(s, half_width, **bends.get(s, {})) for s in SLOTS]


def _local(wire, s):
    """Return the pose at s seen from the unbent wire."""
    s = np.asarray(s, dtype=float)
    return Pose(*wire.curve.frames(s, wire.height)).inverse() @ wire.poses(s)


def _turn(wire, s):
    return rotation_log(_local(wire, s).rotation)


def test_without_bends_it_is_the_curve():
    wire = StressFree(ARCH, 1.5, _slots())
    s = np.linspace(-45, 45, 91)
    rotation, position = ARCH.frames(s, 1.5)
    np.testing.assert_allclose(wire.poses(s).rotation, rotation, atol=1e-12)
    np.testing.assert_allclose(wire.poses(s).position, position, atol=1e-12)
    assert wire.kinks().size == 0


def test_rest_strain_of_the_unbent_wire_is_its_curvature():
    s = np.linspace(-35, 35, 281)
    rest = pose_log(StressFree(ARCH, slots=_slots()).relative_poses(s)) / 0.25
    middle = 0.5 * (s[1:] + s[:-1])
    np.testing.assert_allclose(rest[:, 5], ARCH.curvature(middle), atol=1e-5)
    np.testing.assert_allclose(rest[:, 0], 1.0, atol=1e-6)
    np.testing.assert_allclose(rest[:, [2, 3, 4]], 0.0, atol=1e-12)


@given(ANGLE, st.floats(-1.5, 1.5))
@settings(max_examples=25, deadline=None)
def test_twist_fills_the_slot_and_spares_the_neighbours(angle, inside):
    wire = StressFree(ARCH, slots=_slots(p10={"twist": angle}))
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
    bends = {"rotation": rotate, "tip": tip, "twist": twist, "out": out, "up": up}
    wire = StressFree(ARCH, slots=_slots(p10=bends))
    pose = _local(wire, 10.0)
    np.testing.assert_allclose(pose.position, [0, out, up], atol=1e-9)
    tangent = pose.rotation[:, 0]
    assert np.arctan2(tangent[1], tangent[0]) == pytest.approx(rotate, abs=1e-9)
    assert -np.arcsin(tangent[2]) == pytest.approx(tip, abs=1e-9)
    level = rotation_exp(np.array([0, 0, rotate])) @ rotation_exp(np.array([0, tip, 0]))
    np.testing.assert_allclose(pose.rotation, level @ rotation_exp(np.array([twist, 0, 0])), atol=1e-9)
    np.testing.assert_allclose(_local(wire, [0.0, 20.0]).position, 0.0, atol=1e-9)
    np.testing.assert_allclose(_turn(wire, [0.0, 20.0]), 0.0, atol=1e-9)


def test_signs_of_the_bends():
    def pose(**amount):
        wire = StressFree(STRAIGHT, slots=_slots(p0=amount))
        return wire.poses(np.array([0.0, 1.0]))

    assert pose(rotation=0.1).position[1, 1] > 0  # left-hand part outward
    assert pose(tip=0.1).position[1, 2] < 0  # left-hand part down
    assert pose(twist=0.1).rotation[0, 2, 1] > 0  # outward face up
    assert pose(out=0.3).position[0, 1] == pytest.approx(0.3)
    assert pose(up=0.3).position[0, 2] == pytest.approx(0.3)


@pytest.mark.parametrize("curve", [STRAIGHT, ARCH])
def test_frames_follow_the_bent_centreline(curve):
    bent = {"out": 0.5, "rotation": 0.1, "up": 0.4, "tip": -0.1}
    wire = StressFree(curve, slots=_slots(p10=bent, m10={"up": -0.6}))
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
    wire = StressFree(
        ARCH,
        slots=_slots(p10={"twist": angle}, m20={"up": 0.5}, p20={"rotation": 0.2}),
        v_bends=(VBend(5.0, angle), VBend(-14.0, 0.2, "horizontal")),
    )
    s = np.array([-30.0, *sorted(between), 30.0])
    total = Pose(np.eye(3), np.zeros(3))
    for i in range(s.size - 1):
        total = total @ wire.relative_poses(s).take(i)
    straight = wire.relative_poses(s[[0, -1]]).take(0)
    np.testing.assert_allclose(total.rotation, straight.rotation, atol=1e-10)
    np.testing.assert_allclose(total.position, straight.position, atol=1e-9)


def test_progressive_twist_is_linear_and_ends_where_told():
    wire = StressFree(ARCH, slots=_slots(), progressive=(ProgressiveTwist(0.0, 30.0, 0.0, 0.3),))
    s = np.array([-30.0, -5.0, 0.0, 10.0, 20.0, 25.0, 30.0, 31.0, 40.0])
    np.testing.assert_allclose(wire.twist(s), [0, 0, 0, 0.1, 0.2, 0.25, 0.3, 0.3, 0.3], atol=1e-12)
    inner = StressFree(ARCH, slots=_slots(), progressive=(ProgressiveTwist(-10.0, 10.0, 0.1, 0.2),))
    np.testing.assert_allclose(
        inner.twist(np.array([-20.0, -10.0, 0.0, 10.0, 20.0])), [0, 0.1, 0.15, 0.2, 0], atol=1e-12
    )
    np.testing.assert_allclose(inner.twist(np.array([-11.5, 11.5])), [0.1, 0.2], atol=1e-12)


def test_twists_of_one_slot_add_up():
    wire = StressFree(
        ARCH, slots=_slots(p20={"twist": 0.1}), progressive=(ProgressiveTwist(0.0, 30.0, 0.0, 0.3),)
    )
    assert wire.twist(20.0) == pytest.approx(0.3)


def test_kinks_are_where_curvature_or_rate_of_twist_jump():
    twisted = StressFree(ARCH, slots=_slots(p10={"twist": 0.1}))
    np.testing.assert_allclose(twisted.kinks(), [1.5, 8.5, 11.5, 18.5])
    stepped = StressFree(ARCH, slots=_slots(p30={"up": 0.5}))
    np.testing.assert_allclose(stepped.kinks(), [21.5, 28.5])
    bent = StressFree(ARCH, slots=_slots(), v_bends=(VBend(5.0, 0.1),))
    np.testing.assert_allclose(bent.kinks(), [5 - BEND_LENGTH / 2, 5 + BEND_LENGTH / 2])
    assert StressFree(ARCH, slots=_slots()).kinks().size == 0


def test_a_hold_at_a_point_may_carry_bends():
    slots = [SlotBends(0.0, 1.0), SlotBends(10.0, 0.0, out=0.5, twist=0.2), SlotBends(20.0, 1.0)]
    wire = StressFree(ARCH, slots=slots)
    np.testing.assert_allclose(_local(wire, 10.0).position, [0, 0.5, 0], atol=1e-12)
    np.testing.assert_allclose(wire.twist([1.0, 5.5, 10.0, 19.0]), [0, 0.1, 0.2, 0], atol=1e-12)
    np.testing.assert_allclose(wire.kinks(), [1.0, 10.0, 19.0])


@pytest.mark.parametrize(("plane", "axis"), [("vertical", 1), ("horizontal", 2)])
@pytest.mark.parametrize("place", [5.0, -5.0, 0.1, 0.0])
def test_v_bend_turns_what_lies_beyond(plane, axis, place):
    angle = 0.2
    wire = StressFree(STRAIGHT, v_bends=(VBend(place, angle, plane),))
    half = BEND_LENGTH / 2
    s = place + np.array([-3, -half, -half / 3, half / 2, half, 3])
    rest = pose_log(wire.relative_poses(s))
    share = np.diff(s)[1:-1] / BEND_LENGTH  # an arc of even curvature between straight legs
    np.testing.assert_allclose(rest[:, 3 + axis], [0, *(angle * share), 0], atol=1e-12)
    np.testing.assert_allclose(np.delete(rest, [0, 3 + axis], axis=1), 0.0, atol=1e-12)
    legs = wire.poses(place + np.array([-half, half]))
    corner = [  # the legs, prolonged, meet at the bend
        legs.position[i] + legs.rotation[i] @ [side * half, 0, 0] for i, side in ((0, 1), (1, -1))
    ]
    np.testing.assert_allclose(corner[0], corner[1], atol=1e-12)
    np.testing.assert_allclose(corner[0], wire.curve.frames(place)[1], atol=1e-9)


def test_v_bends_of_both_planes_carry_each_other():
    # seen from the middle, the outer bend lies in the plane the inner one has turned
    wire = StressFree(STRAIGHT, v_bends=(VBend(5.0, 0.3), VBend(10.0, 0.2, "horizontal")))
    turned = rotation_exp(np.array([0, 0.3, 0])) @ rotation_exp(np.array([0, 0, 0.2]))
    np.testing.assert_allclose(wire.poses(15.0).rotation, turned, atol=1e-12)
    np.testing.assert_allclose(wire.relative_poses([0.0, 15.0]).rotation[0], turned, atol=1e-12)


MIRROR = np.diag([-1.0, 1.0, 1.0])


def _mirrored(slots, v_bends, progressive):
    # mirroring left for right keeps a2 and a3 and turns a1 about; steps and twists stay
    return (
        [SlotBends(-b.s, b.half_width, b.out, b.up, -b.rotation, -b.tip, b.twist) for b in slots[::-1]],
        [VBend(-b.s, b.angle, b.plane) for b in v_bends],
        [ProgressiveTwist(-t.last, -t.first, t.end, t.start) for t in progressive],
    )


@given(ANGLE, ANGLE, st.floats(-1, 1), st.floats(-25, 5))
@settings(max_examples=20, deadline=None)
def test_mirror_image(first, second, step, place):
    slots = _slots(
        p10={"rotation": first, "out": step}, m20={"tip": second, "up": step}, p20={"twist": first}
    )
    bends = (
        slots,
        (VBend(place, second), VBend(7.0, 0.1, "horizontal")),
        (ProgressiveTwist(0, 30, 0.1, 0.3),),
    )
    wide = ARCH.widened(4.0, 1.0)
    one, other = StressFree(wide, 1.0, *bends), StressFree(wide.mirrored(), 1.0, *_mirrored(*bends))
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
    slots = _slots(p10={"rotation": 0.1, "out": 0.4}, m20={"twist": 0.2})
    s = np.linspace(-40, 40, 41)
    a = StressFree(through_points(points), 0.0, slots).relative_poses(s)
    b = StressFree(through_points(points + np.array([0, shift])), height, slots).relative_poses(s)
    np.testing.assert_allclose(a.position, b.position, atol=1e-8)
    np.testing.assert_allclose(a.rotation, b.rotation, atol=1e-8)


def test_stations_take_leading_axes():
    wire = StressFree(ARCH, slots=_slots(p10={"twist": 0.2}), v_bends=(VBend(4.0, 0.1),))
    s = np.stack([np.linspace(-30, 30, 13), np.linspace(-20, 25, 13)])
    pose = wire.relative_poses(s)
    assert pose.rotation.shape == (2, 12, 3, 3)
    np.testing.assert_allclose(pose.position[1], wire.relative_poses(s[1]).position)


@pytest.mark.parametrize(
    ("make", "text"),
    [
        (lambda: SlotBends(0.0, 1.5, tip=2.0), "slot tip"),
        (lambda: SlotBends(0.0, 1.5, up=np.nan), "slot up"),
        (lambda: SlotBends(0.0, -1.0), "half_width"),
        (lambda: VBend(0.0, np.inf), "angle"),
        (lambda: VBend(0.0, 0.1, "sideways"), "sideways"),
        (lambda: ProgressiveTwist(1.0, 1.0, 0.0, 0.1), "right to the left"),
        (lambda: StressFree(ARCH, slots=[SlotBends(0.0, 1.5), SlotBends(2.0, 1.5)]), "apart"),
        (lambda: StressFree(ARCH, slots=[SlotBends(9.0, 1.5), SlotBends(2.0, 1.5)]), "in order"),
        (lambda: StressFree(ARCH, np.nan), "height"),
        (lambda: StressFree(ARCH, v_bends=[VBend(1.0, 0.1), VBend(1.2, 0.1)]), "V-bends"),
        (lambda: StressFree(ARCH, slots=[SlotBends(0.0, 1.5, out=-19.0)]), "radius"),
        (lambda: StressFree(ARCH).relative_poses([1.0, 0.0]), "rising"),
        (lambda: StressFree(ARCH).poses(np.nan), "finite"),
    ],
)
def test_impossible_bends_are_refused(make, text):
    with pytest.raises(InputError, match=text):
        make()
