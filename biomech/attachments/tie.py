"""Tie between a wire point and a tooth point: pulls when the distance exceeds its slack, never pushes.

A tight tie (no slack) draws the wire point onto the tooth point from every side; it holds no rotation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.attachments import REGISTRY, Kind
from biomech.attachments.tube import radial
from biomech.mechanics.links import Law, Response
from biomech.mechanics.poses import Array

STIFFNESS = {"steel": 50.0, "elastomeric": 2.0}
"""N/mm of one tie. Assumed: common practice, no source; a twisted 0.25 mm steel ligature yields and beds in, an
elastomeric one stretches by about a millimetre under 2 N."""

REGISTRY.register("tie", Kind("tie", "ligature from a wire point to a tooth (or two teeth): pulls only, may be slack", 1))


@dataclass(frozen=True)
class Tie(Law):
    """Law of n ties: `slack` (..., n) mm and `stiffness` (..., n) N/mm."""

    slack: Array
    stiffness: Array

    def respond(self, strain: Array, state: None) -> Response:
        """See Law.respond."""
        _, force, slope, unit, over = radial(strain[..., :3], self.slack, self.stiffness)
        grad, hess = np.zeros(strain.shape), np.zeros((*strain.shape, 6))
        grad[..., :3] = force[..., None] * unit
        outer = unit[..., :, None] * unit[..., None, :]
        hess[..., :3, :3] = (slope - over)[..., None, None] * outer + over[..., None, None] * np.eye(3)
        return Response(grad, hess, None)

    def energy(self, strain: Array, state: None) -> Array:
        """Return the stored energy (..., n), N.mm."""
        return radial(strain[..., :3], self.slack, self.stiffness)[0]
