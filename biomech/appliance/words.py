"""Anatomical directions and turns in the axes a1 (right to left along the arch), a2 (outward), a3 (up).

Torque + = buccal root, tip + = mesial crown, rotation + = mesial side out, vertical + = occlusal.
"""

from __future__ import annotations

import numpy as np

from biomech.mechanics.poses import Array, Pose, rotation_exp


def turn(torque: float, tip: float, rotation: float, side: int, jaw: int) -> Array:
    """Return the rotation vector (3,), rad, of a tooth (or of wire in a slot) that turns as named.

    `side` +1 on the patient's right, `jaw` +1 in the upper jaw. The root of an upper tooth lies along +a3, so turning
    it buccally (towards +a2) is a negative rotation about a1.
    """
    return np.array([-jaw * torque, -jaw * side * tip, side * rotation])


def named(vector: Array, side: int, jaw: int) -> dict[str, float]:
    """Return a small rotation or moment vector (3,) in tooth axes by name: torque, tip, rotation (see `turn`)."""
    return {
        "torque": float(-jaw * vector[0]),
        "tip": float(-jaw * side * vector[1]),
        "rotation": float(side * vector[2]),
    }


def directions(vector: Array, side: int, jaw: int) -> dict[str, float]:
    """Return a vector (3,) in tooth axes by name: + mesial, + buccal, + occlusal."""
    return {"mesial": float(side * vector[0]), "buccal": float(vector[1]), "occlusal": float(-jaw * vector[2])}


def vector(mesial: float, buccal: float, occlusal: float, side: int, jaw: int) -> Array:
    """Return the vector (3,) in tooth axes of amounts + mesial, + buccal, + occlusal."""
    return np.array([side * mesial, buccal, -jaw * occlusal])


def malposition(
    torque: float, tip: float, rotation: float, out: float, occlusal: float, side: int, jaw: int
) -> Pose:
    """Return the pose of a slot relative to the passive one, from how it stands (rad and mm, signs as in `turn`).

    A slot that stands as on a tooth with its crown tipped mesially has the passive wire tip the tooth back distally.
    """
    return Pose(rotation_exp(turn(torque, tip, rotation, side, jaw)), vector(0.0, out, occlusal, side, jaw))
