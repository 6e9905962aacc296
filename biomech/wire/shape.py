"""The shape of a wire when nothing touches it: base curve, offsets, bends and twist.

The wire is described by poses along s, the arc length of its base curve from the midline (mm):

    pose(s) = V(s) * base(s) * offset(s) * turn about a1 by twist(s)

base(s) is the curve's frame; offset(s) moves the wire out and up and turns its axis a1 along its true course,
keeping a2 level; V(s) turns all that lies beyond each V-bend about that bend. The relative poses of
neighbouring stations are what a rod needs: they hold the stress-free stretch, curvature and twist exactly,
whatever the spacing. Where a bend begins or ends the curvature jumps; `kinks` lists these s, which should be
stations.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from biomech.archform import Curve
from biomech.errors import InputError
from biomech.mechanics.poses import Pose, apply, pose_exp, pose_log, rotation_exp
from biomech.wire.bends import (
    BEND_LENGTH,
    Course,
    ProgressiveTwist,
    SlotBends,
    StepBend,
    TwistCourse,
    VBend,
    check_slots,
    course,
    twist_course,
)

Array = NDArray[np.float64]

_MIN_METRIC = 0.1


@final
@dataclass(frozen=True, eq=False)
class StressFree:
    """The stress-free shape of one wire.

    `curve`: base curve, planar. `height`: its height z, mm. `slots`: the bends where the wire passes the
    slots, in order of s; all slots are listed, bent or not, since a bend ends at the next slot (none at all:
    no bends by slot). `v_bends`, `steps`, `progressive`: further bends, in any order. Raises InputError for
    slots out of order or too close for the bends between them, V-bends closer than BEND_LENGTH, or an inward
    step that would fold the wire.
    """

    curve: Curve
    height: float = 0.0
    slots: Sequence[SlotBends] = ()
    v_bends: Sequence[VBend] = ()
    steps: Sequence[StepBend] = ()
    progressive: Sequence[ProgressiveTwist] = ()

    def __post_init__(self) -> None:
        if not np.isfinite(self.height):
            raise InputError(f"wire height = {self.height!r} mm: must be a finite number")
        for key in ("slots", "steps", "progressive"):
            object.__setattr__(self, key, tuple(getattr(self, key)))
        object.__setattr__(self, "v_bends", tuple(sorted(self.v_bends, key=lambda bend: bend.s)))
        check_slots(self.slots)
        for a, b in pairwise(self.v_bends):
            if b.s - a.s < BEND_LENGTH:
                raise InputError(
                    f"V-bends at s = {a.s:.4g} and {b.s:.4g} mm: must be at least {BEND_LENGTH:g} mm apart"
                )
        self._check_fold()

    def kinks(self) -> Array:
        """Return the s (k,), mm, rising, where curvature or rate of twist jump: they should be stations."""
        bends = [edge for v in self.v_bends for edge in (v.s - BEND_LENGTH / 2, v.s + BEND_LENGTH / 2)]
        out, up = self._courses
        found = np.concatenate([out.corners(), up.corners(), self._twist.corners(), bends, self.curve.span])
        found.sort()
        rising: Array = found[np.concatenate([[True], np.diff(found) > 1e-9])]
        return rising

    def poses(self, s: ArrayLike) -> Pose:
        """Return the poses (..., 3, 3), (..., 3) of the stress-free wire at s (...), mm.

        The midline part keeps its place; V-bends and step bends move what lies beyond them.
        """
        s = np.asarray(s, dtype=np.float64)
        if not np.all(np.isfinite(s)):
            raise InputError("stations s: must be finite numbers (mm)")
        return self._axis(s) @ _turn(self._twist.value(s), 0)

    def relative_poses(self, s: ArrayLike) -> Pose:
        """Return the stress-free pose of each station seen from the one before, (..., n - 1), at s (..., n).

        Raises InputError unless s rises strictly along its last axis.
        """
        s = np.asarray(s, dtype=np.float64)
        if s.ndim == 0 or s.shape[-1] < 2 or not np.all(np.diff(s, axis=-1) > 0):
            raise InputError(
                "stations s: must be at least two values rising from the patient's right to left"
            )
        poses = self.poses(s)
        return poses.take(slice(0, -1)).inverse() @ poses.take(slice(1, None))

    def twist(self, s: ArrayLike) -> Array:
        """Return the third-order twist (...) bent into the wire at s (...), rad about a1."""
        return self._twist.value(np.asarray(s, dtype=np.float64))

    @cached_property
    def _twist(self) -> TwistCourse:
        return twist_course(self.slots, self.progressive)

    @cached_property
    def _courses(self) -> tuple[Course, Course]:
        """Offsets outward and upward along the wire."""
        slots = self.slots
        centre = np.array([slot.s for slot in slots])
        out = np.array([slot.out for slot in slots])
        up = np.array([slot.up for slot in slots])
        rotation = np.array([slot.rotation for slot in slots])
        tip = np.array([slot.tip for slot in slots])
        # dr/ds = (1 - curvature * out) a1 + out' a2 + up' a3 must point along a1 of R3(rotation) R2(tip)
        metric = 1.0 - self.curve.curvature(centre) * out
        out_rate = metric * np.tan(rotation)
        up_rate = -metric * np.tan(tip) / np.cos(rotation)
        return (
            course(slots, out, out_rate, [(step.s, step.length, step.out) for step in self.steps]),
            course(slots, up, up_rate, [(step.s, step.length, step.up) for step in self.steps]),
        )

    @cached_property
    def _hinges(self) -> tuple[Pose, ...]:
        """For each V-bend the motion, in space, of what lies beyond it as seen from the midline."""
        found = []
        for bend in self.v_bends:
            about = self._offset_course(np.array(bend.s))
            angle = bend.angle if bend.s >= 0 else -bend.angle
            turn = _turn(np.array(angle), 1 if bend.plane == "vertical" else 2)
            found.append(about @ turn @ about.inverse())
        return tuple(found)

    def _check_fold(self) -> None:
        """Refuse an inward offset near or beyond the radius of curvature."""
        grid = np.linspace(-self.curve.length_right, self.curve.length_left, 400)
        out, bend = self._courses[0].value(grid), self.curve.curvature(grid)
        at = int(np.argmin(1.0 - bend * out))
        if 1.0 - bend[at] * out[at] < _MIN_METRIC:
            raise InputError(
                f"step out of {out[at]:.4g} mm at s = {grid[at]:.4g} mm: must stay well below the radius of "
                f"the curve there, {1 / abs(bend[at]):.4g} mm"
            )

    def _offset_course(self, s: Array) -> Pose:
        """Return the poses (...) without V-bends and twist."""
        rotation, position = self.curve.frames(s, self.height)
        out, up = (part.value(s) for part in self._courses)
        out_rate, up_rate = (part.rate(s) for part in self._courses)
        along = 1.0 - self.curve.curvature(s) * out
        position = position + apply(rotation, np.stack([np.zeros_like(out), out, up], axis=-1))
        yaw = np.arctan2(out_rate, along)
        pitch = -np.arctan2(up_rate, np.hypot(along, out_rate))
        local = _turn(yaw, 2) @ _turn(pitch, 1)
        return Pose(rotation @ local.rotation, position)

    def _axis(self, s: Array) -> Pose:
        """Return the poses (...) without twist."""
        poses = self._sharp(s)
        for bend in self.v_bends:
            inside = np.abs(s - bend.s) < BEND_LENGTH / 2
            if np.any(inside):
                poses = _where(inside, self._arc(bend, s), poses)
        return poses

    def _sharp(self, s: Array) -> Pose:
        """Return the poses (...) without twist, V-bends sharp."""
        poses = self._offset_course(s)
        # from the ends inward: the outer bends turn first, the inner ones carry them
        for i in sorted(range(len(self.v_bends)), key=lambda i: -abs(self.v_bends[i].s)):
            at = self.v_bends[i].s
            poses = _where(s > at if at >= 0 else s < at, self._hinges[i] @ poses, poses)
        return poses

    def _arc(self, bend: VBend, s: Array) -> Pose:
        """Return poses (...) on the arc of even curvature that rounds a V-bend."""
        ends = self._sharp(bend.s + BEND_LENGTH * np.array([-0.5, 0.5]))
        first, last = ends.take(0), ends.take(1)
        part = (s - bend.s) / BEND_LENGTH + 0.5
        return first @ pose_exp(part[..., None] * pose_log(first.inverse() @ last))


def _turn(angle: Array, axis: int) -> Pose:
    """Return turns (...) by `angle` (...) about axis 0, 1 or 2."""
    vector = np.zeros((*angle.shape, 3))
    vector[..., axis] = angle
    return Pose(rotation_exp(vector), np.zeros((*angle.shape, 3)))


def _where(condition: NDArray[np.bool_], yes: Pose, no: Pose) -> Pose:
    """Choose poses (...) by condition (...)."""
    return Pose(
        np.where(condition[..., None, None], yes.rotation, no.rotation),
        np.where(condition[..., None], yes.position, no.position),
    )
