"""How a prescription turns the slots: so that a straight, level, engaged wire brings each crown to its angles.

A prescription speaks of the facial axis of the crown, a tooth here of its long axis. The angle between the two,
`facial`, is taken so that teeth with the usual long axes show the angles of prescription A, which is the mean of
untreated arches (from memory): usual long axis less A. For the upper central it is published: with 7 degrees of
bracket torque the axis meets the bisected occlusal plane at 90 - 7 - 24.6 + 1.7 - 3.6 = 56.5 degrees (J Orofac Orthop
2018, coordinating bracket torque and incisor inclination, part 3, abstract), against 58.3 by the other way.

Sign, as of `slot_torque` and `slot_tip`: the slot of a crown that is to lean more buccally stands as with the root
buccal, and the level wire turns it the other way, crown out. The slot of a crown that is to lean more mesially stands
as with the crown distal.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from biomech.mechanics.poses import Array, Pose, rotation_exp
from biomech.prescriptions import REGISTRY
from biomech.tooth.anatomy import anatomy
from biomech.tooth.axes import long_axis
from biomech.tooth.setup import Placement

NORM = "A"
"""The prescription taken as the mean of untreated arches."""
UPPER_CENTRAL = 24.6 - 1.7 + 3.6
"""Inclination of the upper central's long axis less its bracket torque, degrees (source: this module's docstring)."""


class Axis(NamedTuple):
    """Inclination (buccal crown) and angulation (mesial crown) of a long axis, rad."""

    inclination: float
    angulation: float


def facial(number: int) -> Axis:
    """Return long axis less facial axis of the crown of a tooth: what to add to a prescription's angles, rad."""
    usual, norm = long_axis(number), REGISTRY.get(NORM).teeth[anatomy(number).kind]
    lean = UPPER_CENTRAL if anatomy(number).kind == "U1" else usual.inclination - norm.torque
    return Axis(float(np.radians(lean)), float(np.radians(usual.angulation - norm.tip)))


def target(prescription: str, number: int) -> Axis:
    """Return the long axis to which a level wire without play brings a tooth; InputError for unknown names."""
    angles, offset = REGISTRY.get(prescription).teeth[anatomy(number).kind], facial(number)
    return Axis(
        float(np.radians(angles.torque)) + offset.inclination, float(np.radians(angles.tip)) + offset.angulation
    )


def prescribed(prescription: str | None, place: Placement, *, tip: bool = True) -> Pose:
    """Return the pose of a tooth's slot relative to the passive one; the identity without a prescription.

    Turns about the slot's centre only: in the tooth, the slot lies as it would if the tooth stood at its target.
    Without `tip` the target keeps the tooth's own angulation.
    """
    if prescription is None:
        return Pose(np.eye(3), np.zeros(3))
    now = place.slot.rotation.T @ place.pose.rotation
    side, jaw = place.tooth.side_sign, place.tooth.jaw_sign
    wanted = target(prescription, place.number)
    if not tip:
        wanted = wanted._replace(angulation=standing(now, side, jaw).angulation)
    return Pose(now @ _turned(wanted, side, jaw).T, np.zeros(3))


def standing(rotation: Array, side: int, jaw: int) -> Axis:
    """Return inclination and angulation of a tooth whose axes in a level slot are the columns of `rotation` (3, 3)."""
    apical = jaw * rotation[:, 2]
    return Axis(float(np.arcsin(-apical[1])), float(np.arctan2(-side * apical[0], jaw * apical[2])))


def _turned(axis: Axis, side: int, jaw: int) -> Array:
    """Return the rotation of a tooth in a level slot; the inclination is seen in the plane of the angulated axis."""
    tilt = rotation_exp(np.array([0.0, -side * jaw * axis.angulation, 0.0]))
    out: Array = tilt @ rotation_exp(np.array([jaw * axis.inclination, 0.0, 0.0]))
    return out
