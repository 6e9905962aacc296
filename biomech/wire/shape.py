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
from biomech.mechanics.poses import Pose, pose_exp, pose_log, rotation_exp
from biomech.wire._fields import OffsetField, TwistField, offset_field, twist_field
from biomech.wire.bends import BEND_LENGTH, ProgressiveTwist, SlotBends, VBend, check_slots

__all__ = ["ProgressiveTwist", "SlotBends", "StressFree", "VBend"]

Array = NDArray[np.float64]

_MIN_METRIC = 0.1
_SAME = 1e-9


@final
@dataclass(frozen=True, eq=False)
class StressFree:
    """The stress-free shape of one wire.

    `curve`: base curve, planar. `height`: its height z, mm. `slots`: the bends where the wire passes the
    slots, in order of s; all slots are listed, bent or not, since a bend ends at the next slot (none at all:
    no bends by slot). `v_bends`, `progressive`: further bends, in any order. Raises InputError for
    slots out of order or too close for the bends between them, V-bends closer than BEND_LENGTH, or an inward
    step that would fold the wire.
    """

    curve: Curve
    height: float = 0.0
    slots: Sequence[SlotBends] = ()
    v_bends: Sequence[VBend] = ()
    progressive: Sequence[ProgressiveTwist] = ()

    def __post_init__(self) -> None:
        if not np.isfinite(self.height):
            raise InputError(f"wire height = {self.height!r} mm: must be a finite number")
        for key in ("slots", "progressive"):
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
        found = np.concatenate([self._offset.corners(), self._twist.corners(), bends])
        found.sort()
        rising: Array = found[np.diff(found, prepend=-np.inf) > _SAME]
        return rising

    def poses(self, s: ArrayLike) -> Pose:
        """Return the poses (..., 3, 3), (..., 3) of the stress-free wire at s (...), mm.

        The midline keeps its place and V-bends turn what lies beyond them, seen from there; one on the
        midline turns each side by half.
        """
        s = np.asarray(s, dtype=np.float64)
        if not np.all(np.isfinite(s)):
            raise InputError("stations s: must be finite numbers (mm)")
        return self._axis(s) @ _turn(self._twist(s), 0)

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
        return self._twist(np.asarray(s, dtype=np.float64))

    @cached_property
    def _twist(self) -> TwistField:
        return twist_field(self.slots, self.progressive)

    @cached_property
    def _offset(self) -> OffsetField:
        return offset_field(self.slots, self.curve.curvature(np.array([slot.s for slot in self.slots])))

    @cached_property
    def _hinges(self) -> list[tuple[float, float, Pose]]:
        """Place, side (+1 left, -1 right) and motion of what lies beyond, of every V-bend, outermost first.

        The motion, in space, is that seen from the midline, before the bends further in are made.
        """
        found = []
        for bend in self.v_bends:
            about = self._offset_course(np.array(bend.s))
            middle = abs(bend.s) <= _SAME
            for side in (1.0, -1.0):
                if middle or side * bend.s > 0:
                    angle = np.array(side * bend.angle * (0.5 if middle else 1.0))
                    turn = _turn(angle, 1 if bend.plane == "vertical" else 2)
                    found.append((bend.s, side, about @ turn @ about.inverse()))
        return sorted(found, key=lambda hinge: -abs(hinge[0]))

    def _check_fold(self) -> None:
        """Refuse an inward offset near or beyond the radius of curvature."""
        grid = np.linspace(-self.curve.length_right, self.curve.length_left, 400)
        out, bend = self._offset(grid)[0][:, 0], self.curve.curvature(grid)
        at = int(np.argmin(1.0 - bend * out))
        if 1.0 - bend[at] * out[at] < _MIN_METRIC:
            raise InputError(
                f"step out of {out[at]:.4g} mm at s = {grid[at]:.4g} mm: must stay well below the radius of "
                f"the curve there, {1 / abs(bend[at]):.4g} mm"
            )

    def _offset_course(self, s: Array) -> Pose:
        """Return the poses (...) without V-bends and twist."""
        offset, rate = self._offset(s)
        along = 1.0 - self.curve.curvature(s) * offset[..., 0]
        yaw = np.arctan2(rate[..., 0], along)
        pitch = -np.arctan2(rate[..., 1], np.hypot(along, rate[..., 0]))
        turn = _turn(yaw, 2).rotation @ _turn(pitch, 1).rotation
        local = Pose(turn, np.concatenate([np.zeros_like(offset[..., :1]), offset], axis=-1))
        return Pose(*self.curve.frames(s, self.height)) @ local

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
        for at, side, motion in self._hinges:
            poses = _where(side * (s - at) > 0, motion @ poses, poses)
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
