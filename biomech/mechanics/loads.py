"""Forces and moments applied to frames: dead (fixed in space) and following (fixed in the frame)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from biomech.mechanics.poses import Array, Pose, apply, cross, hat


@dataclass(frozen=True)
class Loads:
    """n loads on frames.

    `frame` (n,) frame indices; `point` (n, 3) where the force acts, in the frame's axes, mm; `force` (..., n, 3) N
    and `moment` (..., n, 3) N.mm; `follows` (n,) True when both turn with the frame, False when they keep their
    direction in space. A moment fixed in space has no potential; its work is left out of `potential`.
    """

    frame: np.ndarray
    point: Array
    force: Array
    moment: Array
    follows: np.ndarray

    @staticmethod
    def none() -> Loads:
        """Return an empty set of loads."""
        z = np.zeros((0, 3))
        return Loads(np.zeros(0, dtype=int), z, z, z, np.zeros(0, dtype=bool))

    def __len__(self) -> int:
        return len(self.frame)

    def wrenches(self, poses: Pose) -> Array:
        """Return the generalised forces (..., n, 6) in body axes of the loaded frames."""
        if not len(self):
            return np.zeros((*poses.position.shape[:-2], 0, 6))
        force, moment = self._in_body(poses)
        return np.concatenate([force, moment + cross(self.point, force)], axis=-1)

    def tangent(self, poses: Pose) -> Array:
        """Return d(wrench)/dq (..., n, 6, 6): dead loads turn in body axes when the frame rotates."""
        if not len(self):
            return np.zeros((*poses.position.shape[:-2], 0, 6, 6))
        force, moment = self._in_body(poses)
        turning = np.where(self.follows, 0.0, 1.0)[..., None, None]
        turn = turning * hat(force)
        out = np.zeros((*force.shape[:-1], 6, 6))
        out[..., :3, 3:] = turn
        out[..., 3:, 3:] = turning * hat(moment) + hat(self.point) @ turn
        return out

    def potential(self, poses: Pose) -> Array:
        """Return the potential (...) of the dead forces, N.mm; following loads and moments have none."""
        held = poses.take(self.frame)
        work = np.einsum("...i,...i", self.force, held.point(np.broadcast_to(self.point, held.position.shape)))
        out: Array = -np.where(self.follows, 0.0, work).sum(axis=-1)
        return out

    @cached_property
    def has_potential(self) -> bool:
        """False when some load follows its frame or is a moment fixed in space: then the tangent is not symmetric."""
        moves = np.any(self.moment != 0, axis=-1) | (self.follows & np.any(self.force != 0, axis=-1))
        return not bool(np.any(moves))

    def _in_body(self, poses: Pose) -> tuple[Array, Array]:
        back = np.swapaxes(poses.rotation[..., self.frame, :, :], -1, -2)
        force = np.where(self.follows[:, None], self.force, apply(back, self.force))
        moment = np.where(self.follows[:, None], self.moment, apply(back, self.moment))
        return force, moment
