"""Teeth splinted to one rigid body: the support of the group, about any frame."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array, Pose, adjoint


def moved_support(stiffness: Array, pose: Pose) -> Array:
    """Return a support (..., 6, 6) of frames at `pose` as seen in their parent frame, about its origin."""
    back = adjoint(pose.inverse())
    return np.asarray(np.swapaxes(back, -1, -2) @ stiffness @ back)


def group_support(stiffnesses: Sequence[Array] | Array, poses: Pose) -> Array:
    """Return the support (6, 6) of T splinted teeth in the common parent frame of their `poses` (T).

    `stiffnesses`: T supports (6, 6), each in its tooth's frame. Centre of resistance, sigma^2 and axes of the
    group follow from it as for one tooth. InputError when the counts differ.
    """
    k = np.asarray(stiffnesses, dtype=np.float64)
    if k.ndim != 3 or k.shape[1:] != (6, 6) or poses.position.shape != (len(k), 3) or len(k) == 0:
        raise InputError(f"supports {k.shape} and poses {poses.position.shape}: allowed are as many of both")
    return np.asarray(moved_support(k, poses).sum(axis=0))
