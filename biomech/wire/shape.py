"""Stress-free shape of a wire: a planar curve with first-, second- and third-order bends.

Every function of the wire is given by its material coordinate s, the arc length of the unbent curve from the
midline, mm, growing from the patient's right to the left. Frames: a1 along the wire, a2 outward, a3 up.

A bend at a tooth acts on the wire inside that tooth's slot and nowhere else: between neighbouring slots the
offset runs over in a smooth curve (cubic, tangent to the wire in both slots) and the twist linearly; beyond
the outermost slot the wire goes on as it leaves it. A bend uses up wire: the material coordinate keeps
counting along the unbent curve, while the distance between neighbouring poses is the true rest length.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from biomech.archform import Curve
from biomech.errors import InputError
from biomech.mechanics.poses import Array, Pose, identity, rotation_exp
from biomech.wire._fields import (
    OffsetField,
    TwistField,
    local_twist,
    offset_field,
    progressive_twist,
)
from biomech.wire.bends import Bend, ProgressiveTwist, VBend

__all__ = ["Bend", "ProgressiveTwist", "StressFree", "VBend"]

_SAME = 1e-6
"""Places on the wire closer than this, mm, are one."""


@dataclass(frozen=True)
class StressFree:
    """The wire as it lies on the bench.

    `curve` is the unbent wire, at height `z` (mm). `slots` are the centres (mm) of all teeth that the wire
    passes, in any order, and `half_width` half the length of wire (mm) that each slot straightens; every Bend
    and ProgressiveTwist must name one of them. V bends may lie anywhere. Bends of one slot add up.
    Raises InputError for overlapping slots or a bend at no slot.
    """

    curve: Curve
    slots: tuple[float, ...] = ()
    bends: tuple[Bend, ...] = ()
    twists: tuple[ProgressiveTwist, ...] = ()
    v_bends: tuple[VBend, ...] = ()
    half_width: float = 1.5
    z: float = 0.0

    def __post_init__(self) -> None:
        if not np.all(np.isfinite([*self.slots, self.z])):
            raise InputError(f"slots = {self.slots}, z = {self.z} mm: must be finite numbers")
        if not (np.isfinite(self.half_width) and self.half_width > 0):
            raise InputError(f"half_width = {self.half_width!r} mm: must be finite and positive")
        gap = np.diff(self._centres)
        if gap.size and np.min(gap) <= 2 * self.half_width:
            i = int(np.argmin(gap))
            pair = f"{self._centres[i]:.4g} and {self._centres[i + 1]:.4g} mm"
            raise InputError(
                f"slots at s = {pair} are {gap[i]:.4g} mm apart: "
                f"must be more than {2 * self.half_width:.4g} mm, the wire that one of them takes"
            )
        for bend in self.bends:
            self._slot(bend.s, "bend")
        for twist in self.twists:
            self._slot(twist.s_start, "progressive twist")
            self._slot(twist.s_end, "progressive twist")

    def kinks(self) -> Array:
        """Return the s (k,) of the V bends, ascending. Put stations there, else the kink is smeared."""
        return np.array([s for s, _ in self._v_bends()])

    def poses(self, s: ArrayLike) -> Pose:
        """Return the stress-free poses (..., n) of stations s (..., n), mm.

        The midline keeps its place; what lies beyond a V bend, seen from there, is turned whole. A station at
        a V bend takes the bisector. Relative poses are exact wherever the stations are.
        """
        s = np.asarray(s, dtype=np.float64)
        smooth = self._smooth(s)
        out = Pose(smooth.rotation.copy(), smooth.position.copy())
        for side in (1.0, -1.0):
            self._turn(out, smooth, s, side)
        return out

    def relative_poses(self, s: ArrayLike) -> Pose:
        """Return the poses (..., n - 1) of each station of s (..., n) seen from the one before it."""
        pose = self.poses(s)
        return pose.take(slice(0, -1)).inverse() @ pose.take(slice(1, None))

    def twist(self, s: ArrayLike) -> Array:
        """Return the twist (...) about the wire's axis at s (...), rad."""
        return self._twist(np.asarray(s, dtype=np.float64))

    @cached_property
    def _centres(self) -> Array:
        return np.array(sorted(self.slots), dtype=np.float64)

    def _slot(self, s: float, what: str) -> int:
        """Return the index of the slot at s."""
        near = np.flatnonzero(np.abs(self._centres - s) <= _SAME)
        if near.size == 0:
            known = ", ".join(f"{c:.4g}" for c in self._centres) or "none"
            raise InputError(f"{what} at s = {s:.6g} mm: must be at the centre of a slot; slots: {known}")
        return int(near[0])

    def _amounts(self) -> tuple[Array, Array]:
        """Return rotations about the frame's axes (m, 3) and steps outward and up (m, 2), by slot."""
        angles, steps = np.zeros((self._centres.size, 3)), np.zeros((self._centres.size, 2))
        for bend in self.bends:
            i = self._slot(bend.s, "bend")
            angles[i, {"first": 2, "second": 1, "third": 0}[bend.order]] += bend.angle
            if bend.order != "third":
                steps[i, 0 if bend.order == "first" else 1] += bend.step
        return angles, steps

    @cached_property
    def _offset(self) -> OffsetField:
        angles, steps = self._amounts()
        # slopes that give exactly the wanted angles at the slot's centre, on the curved wire
        stretch = 1.0 - self.curve.curvature(self._centres) * steps[:, 0]
        out = stretch * np.tan(angles[:, 2])
        up = -np.tan(angles[:, 1]) * np.hypot(stretch, out)
        return offset_field(self._centres, self.half_width, steps, np.stack([out, up], axis=-1))

    @cached_property
    def _twist(self) -> TwistField:
        if self._centres.size == 0:
            return TwistField(())
        parts = [local_twist(self._centres, self.half_width, self._amounts()[0][:, 0])]
        for twist in self.twists:
            (s0, a0), (s1, a1) = sorted([(twist.s_start, twist.start), (twist.s_end, twist.end)])
            parts.append(progressive_twist(self._centres, self.half_width, (s0, s1), (a0, a1)))
        return TwistField(tuple(parts))

    def _smooth(self, s: Array) -> Pose:
        """Return the poses (...) without V bends."""
        base = Pose(*self.curve.frames(s, self.z))
        if self._centres.size == 0:
            return base
        offset, slope = self._offset(s)
        stretch = 1.0 - self.curve.curvature(s) * offset[..., 0]
        swing = np.arctan2(slope[..., 0], stretch)
        dip = -np.arctan2(slope[..., 1], np.hypot(stretch, slope[..., 0]))
        turn = _about(2, swing) @ _about(1, dip) @ _about(0, self._twist(s))
        return base @ Pose(turn, np.concatenate([np.zeros_like(offset[..., :1]), offset], axis=-1))

    def _v_bends(self) -> list[tuple[float, Array]]:
        """Return the places of the V bends, ascending, and their rotation vectors; coinciding ones merged."""
        merged: list[tuple[float, Array]] = []
        for bend in sorted(self.v_bends, key=lambda b: b.s):
            turn = bend.angle * np.eye(3)[1 if bend.plane == "vertical" else 2]
            if merged and bend.s - merged[-1][0] <= _SAME:
                merged[-1] = (merged[-1][0], merged[-1][1] + turn)
            else:
                merged.append((bend.s, turn))
        return merged

    def _turns(self, side: float) -> Iterator[tuple[float, Array, Array]]:
        """Yield place and rotation vectors beyond and at the V bends of one side, from the midline outward.

        A bend on the midline turns each side by half, and leaves the station there alone.
        """
        for place, turn in self._v_bends()[:: int(side)]:
            if abs(place) <= _SAME:
                yield place, 0.5 * side * turn, 0.0 * turn
            elif side * place > 0:
                yield place, side * turn, 0.5 * side * turn

    def _turn(self, out: Pose, smooth: Pose, s: Array, side: float) -> None:
        """Apply the V bends of one side to `out`, in place."""
        total = identity()
        for place, beyond, at in self._turns(side):
            here = self._smooth(np.asarray(place))
            after = total @ here @ Pose(rotation_exp(beyond), np.zeros(3)) @ here.inverse()
            _put(out, after @ smooth, side * (s - place) > _SAME)
            _put(out, total @ smooth @ Pose(rotation_exp(at), np.zeros(3)), np.abs(s - place) <= _SAME)
            total = after


def _about(axis: int, angle: Array) -> Array:
    """Return the rotations (..., 3, 3) by `angle` (...) about a frame axis."""
    return rotation_exp(angle[..., None] * np.eye(3)[axis])


def _put(out: Pose, values: Pose, where: NDArray[np.bool_]) -> None:
    """Overwrite the poses of `out` selected by `where` (...), in place."""
    out.rotation[where] = values.rotation[where]
    out.position[where] = values.position[where]
