"""Teeth splinted to one rigid unit: its support and what it does to each member.

The unit's frame has the global axes (x to the patient's left, y forward, z up) and any origin; each tooth is
a pose in it, whose rotation has the tooth axes as columns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array, Pose, adjoint
from biomech.tooth.resistance import CentreOfResistance, centre_of_resistance


def moved_support(stiffness: Array, pose: Pose) -> Array:
    """Return a support (..., 6, 6) of frames at `pose` (...) as seen in their parent, about its origin."""
    back = adjoint(pose.inverse())
    return np.asarray(np.swapaxes(back, -1, -2) @ stiffness @ back)


@dataclass(frozen=True, eq=False)
class Group:
    """A splinted unit of n teeth: `stiffnesses` (n, 6, 6) in tooth axes, `poses` (n) of the teeth, mm.

    Build it with `splint`.
    """

    stiffnesses: Array
    poses: Pose

    @property
    def stiffness(self) -> Array:
        """Stiffness (6, 6) about the unit's origin: the sum of the members', each moved there."""
        return np.asarray(moved_support(self.stiffnesses, self.poses).sum(axis=0))

    @property
    def centre(self) -> CentreOfResistance:
        """Centre of resistance of the unit; its plane "buccolingual" is the sagittal plane, "mesiodistal" the
        frontal one.
        """
        return centre_of_resistance(self.stiffness)

    def motions(self, q: Array) -> Array:
        """Return the motions (n, 6), each in its tooth's axes, for a motion q (6,) of the unit's origin."""
        return np.asarray(adjoint(self.poses.inverse()) @ np.asarray(q, dtype=np.float64))

    def shares(self, q: Array) -> Array:
        """Return the wrenches (n, 6) that hold the members, about tooth origins and in tooth axes."""
        return np.asarray((self.stiffnesses @ self.motions(q)[..., None])[..., 0])


def splint(stiffnesses: Sequence[Array] | Array, poses: Pose) -> Group:
    """Return the unit of n teeth with `stiffnesses` (n, 6, 6), each in its tooth's axes, at `poses` (n), mm.

    Raises InputError for disagreeing shapes, no tooth, numbers not finite and rotations that are none.
    """
    k = np.asarray(stiffnesses, dtype=np.float64)
    r, x = (np.asarray(a, dtype=np.float64) for a in poses)
    n = len(k) if k.ndim else 0
    if n == 0 or k.shape != (n, 6, 6) or r.shape != (n, 3, 3) or x.shape != (n, 3):
        raise InputError(f"splinted teeth: stiffnesses {k.shape}, rotations {r.shape}, positions {x.shape}; "
                         "must be (n, 6, 6), (n, 3, 3), (n, 3) with n at least 1")  # fmt: skip
    if not (np.isfinite(k).all() and np.isfinite(r).all() and np.isfinite(x).all()):
        raise InputError("splinted teeth: stiffnesses, rotations and positions must be finite")
    if np.abs(np.swapaxes(r, 1, 2) @ r - np.eye(3)).max() > 1e-6 or np.linalg.det(r).min() < 0.0:
        raise InputError("splinted teeth: rotations must be rotation matrices")
    return Group(k, Pose(r, x))


def group_support(stiffnesses: Sequence[Array] | Array, poses: Pose) -> Array:
    """Return the support (6, 6) of splinted teeth about the origin of their `poses`; as `splint`."""
    return splint(stiffnesses, poses).stiffness
