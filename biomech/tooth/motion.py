"""Small motions of a tooth: where points go, where it turns, and what that is called.

A motion is q = (v, w): translation (mm) and rotation (rad) of the tooth frame's origin, in its axes; a point
p moves by v + w x p. Angles and moments carry anatomical signs: torque positive "buccal root", tip positive
"mesial crown", rotation positive "mesial out" (the mesial side turns buccally).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array, cross
from biomech.tooth.resistance import plane_named

WORDS = {
    "torque": ("buccal root", "lingual root"),
    "tip": ("mesial crown", "distal crown"),
    "rotation": ("mesial out", "mesial in"),
}
"""What a positive and a negative turn of each kind is called."""
NOTHING = 1e-7
"""Displacements up to this, mm, are no movement."""


class Turn(NamedTuple):
    """Angles (rad) or moments (N.mm) with anatomical signs, each (...)."""

    torque: Array
    tip: Array
    rotation: Array


class Screw(NamedTuple):
    """Screw of a motion: unit `direction` (..., 3), `point` (..., 3) mm of its axis nearest to the origin,
    `angle` (...) rad and `slide` (...) mm along the axis. Without rotation the direction is that of the
    translation, the point is the origin and the angle is zero.
    """

    direction: Array
    point: Array
    angle: Array
    slide: Array


def turn_signs(side_sign: int, jaw_sign: int) -> Array:
    """Return factors (3,) from components about (a1, a2, a3) to (torque, tip, rotation), and back.

    `side_sign`: +1 on the patient's right; `jaw_sign`: +1 in the upper jaw.
    """
    return np.array([-jaw_sign, -jaw_sign * side_sign, side_sign], dtype=np.float64)


def turn(w: Array, side_sign: int, jaw_sign: int) -> Turn:
    """Return the anatomical parts of rotations or moments w (..., 3) given in tooth axes."""
    signed = np.asarray(w, dtype=np.float64) * turn_signs(side_sign, jaw_sign)
    return Turn(signed[..., 0], signed[..., 1], signed[..., 2])


def vector_of_turn(parts: Turn, side_sign: int, jaw_sign: int) -> Array:
    """Return the vector (..., 3) in tooth axes of anatomical parts; the inverse of `turn`."""
    return np.asarray(np.stack(np.broadcast_arrays(*parts), axis=-1) * turn_signs(side_sign, jaw_sign))


def words(kind: str, value: float) -> str:
    """Return the word for the sense of a turn: kind "torque", "tip" or "rotation", `value` signed as Turn."""
    if kind not in WORDS:
        raise InputError(f"kind of turn '{kind}' is not known; allowed: {', '.join(WORDS)}")
    return WORDS[kind][0 if value >= 0.0 else 1]


def displacement(q: Array, points: Array) -> Array:
    """Return the displacements (..., 3), mm, of points (..., 3) under motions q (..., 6)."""
    q = np.asarray(q, dtype=np.float64)
    shape = np.broadcast_shapes(q.shape[:-1], np.shape(points)[:-1])
    w = np.broadcast_to(q[..., 3:], (*shape, 3))
    return q[..., :3] + cross(w, np.broadcast_to(points, (*shape, 3)))


def rotation_centre(q: Array, plane: str = "buccolingual") -> Array:
    """Return the point (..., 2), mm, along the plane's (lateral, axial) axes that does not move in the plane.

    `q` (..., 6); planes: see `resistance.PLANES`. Where the motion has no rotation in the plane (or one too
    small for a finite centre) both coordinates are inf.
    """
    lateral, axial, normal, sign = plane_named(plane)
    q = np.asarray(q, dtype=np.float64)
    w = q[..., 3 + normal]
    reach = np.hypot(q[..., lateral], q[..., axial])
    turning = (w != 0.0) & (np.abs(w) > 1e-12 * reach)
    safe = np.where(turning, w, 1.0)
    centre = sign * np.stack([-q[..., axial] / safe, q[..., lateral] / safe], axis=-1) + 0.0
    return np.where(turning[..., None], centre, np.inf)


def screw_axis(q: Array) -> Screw:
    """Return the screw of motions q (..., 6)."""
    q = np.asarray(q, dtype=np.float64)
    v, w = q[..., :3], q[..., 3:]
    angle, reach = np.linalg.norm(w, axis=-1), np.linalg.norm(v, axis=-1)
    turning = angle > 1e-12 * reach
    safe = np.where(turning, angle, 1.0)
    along = np.where(turning[..., None], w, v)
    size = np.where(turning, angle, reach)
    direction = along / np.where(size > 0.0, size, 1.0)[..., None]
    point = np.where(turning[..., None], cross(w, v) / (safe * safe)[..., None], 0.0)
    slide = np.einsum("...i,...i", direction, v)
    return Screw(direction, point, np.where(turning, angle, 0.0), slide)
