"""Rectangular slot (bracket or rectangular tube) around a wire: the four corners of the section against its walls.

Vertical clearance, torque play h cos(t) + b sin(t) = S (with rounded corners (h - 2r) cos + (b - 2r) sin + 2r = S)
and their coupling come out of the one geometry; the play is not put in as a number. A bracket is two such
links, at its mesial and distal edge, which gives tip and rotation their two-point contact.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.attachments import REGISTRY, Kind
from biomech.attachments._contact import push
from biomech.attachments._sliding import Sliding
from biomech.mechanics.links import Law, Response
from biomech.mechanics.poses import Array

LIGATURES = {
    "steel": (1.0, 100.0),
    "elastomeric": (1.5, 4.0),
    "clip": (0.0, 0.0),
    "none": (0.0, 0.0),
}
"""Seating force (N) and stiffness (N/mm) of a ligature, whole bracket. Assumed: common practice, no source; friction
studies seat wires with 2 to 3 N. "clip" closes the slot with a wall instead."""

REGISTRY.register("slot", Kind("slot", "rectangular bracket slot: edge contacts, clearance, torque play, ligature", 2))


@dataclass(frozen=True)
class Slot(Law):
    """Law of n slot edges. All arrays (..., n); lengths mm, forces N.

    `slot_height` S; `closed` distance from slot base to the outer wall (inf when open); `height`, `depth`, `bevel` of
    the wire section; `stiffness` N/mm of one corner contact; `ligature_force`, `ligature_stiffness` towards the base;
    `sliding` along the wire. The holder's origin is where the centre of the seated wire lies, its axes are the slot's.
    """

    slot_height: Array
    closed: Array
    height: Array
    depth: Array
    bevel: Array
    stiffness: Array
    ligature_force: Array
    ligature_stiffness: Array
    sliding: Sliding

    def start(self) -> Array:
        """Return the remembered sticking positions of a wire never moved, mm."""
        return np.zeros(np.shape(self.slot_height)[-1])

    def respond(self, strain: Array, state: Array) -> Response:
        """See Law.respond."""
        g = self._corners(strain)
        grad = np.zeros(strain.shape)
        hess = np.zeros((*strain.shape, 6))
        normal = np.zeros(strain.shape[:-1])
        for sense, coordinate, limit in self._walls():
            position, first, second = g[coordinate]
            hit = push(sense * position - limit[..., None], self.stiffness[..., None])
            force = sense * hit.force
            normal += hit.force.sum(axis=-1)
            _accumulate(grad, hess, force, hit.stiffness, first, second)
        normal += self._ligature(g, grad, hess)
        drag = self.sliding.respond(strain[..., 0], normal, state)
        grad[..., 0] += drag.force
        hess[..., 0, 0] += drag.stiffness
        return Response(grad, hess, drag.stuck)

    def energy(self, strain: Array, state: Array) -> Array:
        """Return contact, ligature and sliding energy (..., n), N.mm."""
        g = self._corners(strain)
        total = np.zeros(strain.shape[:-1])
        normal = np.zeros(strain.shape[:-1])
        for sense, coordinate, limit in self._walls():
            hit = push(sense * g[coordinate][0] - limit[..., None], self.stiffness[..., None])
            total += hit.energy.sum(axis=-1)
            normal += hit.force.sum(axis=-1)
        pull = self._pull(g)
        total += pull[0]
        out: Array = total + self.sliding.respond(strain[..., 0], normal + pull[1], state).energy
        return out

    def _walls(self) -> tuple[tuple[float, int, Array], ...]:
        """(sense, coordinate, limit): upper and lower wall on z, outer wall and base on y, for corner centres."""
        vertical = 0.5 * self.slot_height - self.bevel
        outer = self.closed - 0.5 * self.depth - self.bevel
        base = 0.5 * self.depth - self.bevel
        return (1.0, 1, vertical), (-1.0, 1, vertical), (1.0, 0, outer), (-1.0, 0, base)

    def _corners(self, strain: Array) -> tuple[tuple[Array, Array, Array], tuple[Array, Array, Array]]:
        """Outward (y) and vertical (z) position of the corner centres in the slot, with derivatives.

        Returns for each coordinate: value (..., n, 4), first derivatives (..., n, 4, 3) and second derivatives
        (..., n, 4, 3), the latter as the last row of the 3x3 Hessian, by (p2, p3, w1).
        """
        cy = (0.5 * self.depth - self.bevel)[..., None] * np.array([1.0, 1.0, -1.0, -1.0])
        cz = (0.5 * self.height - self.bevel)[..., None] * np.array([1.0, -1.0, 1.0, -1.0])
        dy, dz = cy - strain[..., 1:2], cz - strain[..., 2:3]
        c, s = np.cos(strain[..., 3:4]), np.sin(strain[..., 3:4])
        y, z = c * dy + s * dz, c * dz - s * dy
        c, s = np.broadcast_to(c, y.shape), np.broadcast_to(s, y.shape)
        return (
            (y, np.stack([-c, -s, z], axis=-1), np.stack([s, -c, -y], axis=-1)),
            (z, np.stack([s, -c, -y], axis=-1), np.stack([c, s, -z], axis=-1)),
        )

    def _pull(self, g: tuple[tuple[Array, Array, Array], tuple[Array, Array, Array]]) -> tuple[Array, Array, Array]:
        """Energy, force and stiffness of the ligature drawing the section's centre to the base."""
        centre = g[0][0].mean(axis=-1)
        slack_at = np.where(
            self.ligature_stiffness > 0, self.ligature_force / np.maximum(self.ligature_stiffness, 1e-12), 0.0
        )
        hit = push(centre + slack_at, self.ligature_stiffness)
        return hit.energy, hit.force, hit.stiffness

    def _ligature(self, g, grad: Array, hess: Array) -> Array:  # type: ignore[no-untyped-def]
        _, force, stiffness = self._pull(g)
        first, second = g[0][1].mean(axis=-2, keepdims=True), g[0][2].mean(axis=-2, keepdims=True)
        _accumulate(grad, hess, force[..., None], stiffness[..., None], first, second)
        return force


def _accumulate(grad: Array, hess: Array, force: Array, slope: Array, first: Array, second: Array) -> None:
    """Add sum over corners of force * g' and slope * g' g'^T + force * g'' for g(p2, p3, w1)."""
    grad[..., 1:4] += np.einsum("...k,...ki->...i", force, first)
    hess[..., 1:4, 1:4] += np.einsum("...k,...ki,...kj->...ij", slope, first, first)
    bend = np.einsum("...k,...ki->...i", force, second)
    hess[..., 3, 1:4] += bend
    hess[..., 1:3, 3] += bend[..., :2]
