"""Tie between a wire point and a tooth point: pulls when the distance exceeds its slack, never pushes.

A tight tie (no slack) draws the wire point onto the tooth point from every side; it holds no rotation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.attachments import REGISTRY, Kind
from biomech.attachments._parts import CENTRING
from biomech.mechanics.contact import ContactLaw, Rub
from biomech.mechanics.links import Response
from biomech.mechanics.poses import Array

STIFFNESS = {"steel": 50.0, "elastomeric": 2.0}
"""N/mm of one tie. Assumed: common practice, no source; a twisted 0.25 mm steel ligature yields and beds in, an
elastomeric one stretches by about a millimetre under 2 N."""

_ROUND = 1e-2
"""Rounding of the distance near zero, mm, so that a slack tie has no corner at its centre."""

REGISTRY.register("tie", Kind("tie", "ligature from a wire point to a tooth (or two teeth): pulls only", 1))


@dataclass(frozen=True)
class Tie(ContactLaw):
    """Law of n ties: `slack` (..., n) mm and `stiffness` (..., n) N/mm."""

    slack: Array
    stiffness: Array

    def start(self) -> None:
        """A tie has no memory."""

    def walls(self, strain: Array) -> tuple[Array, Array]:
        """See ContactLaw.walls: one wall, the distance beyond the slack; a tight tie is a plain spring instead."""
        distance = np.sqrt((strain[..., :3] ** 2).sum(axis=-1) + _ROUND**2) - _ROUND
        depth = distance - np.where(self._is_tight(), 1e3, self.slack)
        return depth[..., None], np.broadcast_to(np.asarray(self.stiffness)[..., None], (*depth.shape, 1))

    def depth_rate(self, strain: Array, rate: Array) -> Array:
        """See ContactLaw.depth_rate."""
        unit, _ = self._direction(strain)
        out: Array = (unit * rate[..., :3]).sum(axis=-1, keepdims=True)
        return out

    def combine(
        self, strain: Array, state: None, force: Array, stiffness: Array, rub: Rub | None = None, flat: bool = False
    ) -> Response:
        """See ContactLaw.combine."""
        unit, radius = self._direction(strain)
        spring = np.where(self._is_tight(), self.stiffness, CENTRING)
        over = force[..., 0] / radius
        grad, hess = np.zeros(strain.shape), np.zeros((*strain.shape, 6))
        grad[..., :3] = force * unit + spring[..., None] * strain[..., :3]
        outer = unit[..., :, None] * unit[..., None, :]
        hess[..., :3, :3] = (stiffness[..., 0] - over)[..., None, None] * outer
        hess[..., :3, :3] += (over + spring)[..., None, None] * np.eye(3)
        return Response(grad, hess, None)

    def smooth_energy(self, strain: Array, state: None, normal: Array) -> Array:
        """See ContactLaw.smooth_energy."""
        spring = np.where(self._is_tight(), self.stiffness, CENTRING)
        out: Array = 0.5 * spring * (strain[..., :3] ** 2).sum(axis=-1)
        return out

    def _is_tight(self) -> np.ndarray:
        return np.asarray(self.slack) <= 0

    def _direction(self, strain: Array) -> tuple[Array, Array]:
        radius = np.sqrt((strain[..., :3] ** 2).sum(axis=-1) + _ROUND**2)
        return strain[..., :3] / radius[..., None], radius
