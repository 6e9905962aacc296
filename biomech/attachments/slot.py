"""Rectangular slot (bracket or rectangular tube) around a wire: the four corners of the section against its walls.

Vertical clearance, torque play h cos(t) + b sin(t) = S (with rounded corners (h - 2r) cos + (b - 2r) sin + 2r = S)
and their coupling come out of the one geometry; the play is not put in as a number. A bracket is two such
links, at its mesial and distal edge, which gives tip and rotation their two-point contact.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, NamedTuple

import numpy as np

from biomech.attachments import REGISTRY, Kind
from biomech.attachments._parts import CENTRING, Sliding
from biomech.mechanics.contact import ContactLaw, Rub
from biomech.mechanics.links import Response
from biomech.mechanics.poses import Array

LIGATURES = {
    "steel": (1.0, 100.0),
    "elastomeric": (1.5, 4.0),
    "clip": (0.0, 0.0),
    "none": (0.0, 0.0),
}
"""Seating force (N) and stiffness (N/mm) of a ligature, whole bracket. Assumed: common practice, no source; friction
studies seat wires with 2 to 3 N. "clip" closes the slot with a wall instead."""

FAR = 1e3
"""Distance of a wall that is not there, mm."""

_SIDES = (0, 4, 8, 12)
"""Where the four corners at the upper, lower, outer wall and base begin among the walls."""

REGISTRY.register("slot", Kind("slot", "rectangular bracket slot: edge contacts, clearance, torque play, ligature", 2))


_OUTWARD, _UPWARD = np.array([1.0, 1.0, -1.0, -1.0]), np.array([1.0, -1.0, 1.0, -1.0])
"""Signs of the four corners of the section."""


class _Corners(NamedTuple):
    """Outward (y) and vertical (z) positions (..., n, 4) of the corner centres in the slot; cos and sin of roll."""

    y: Array
    z: Array
    cosine: Array
    sine: Array


@dataclass(frozen=True)
class Slot(ContactLaw):
    """Law of n slot edges. All arrays (..., n); lengths mm, forces N.

    `slot_height` S; `closed` distance from slot base to the outer wall (FAR when open); `height`, `depth`, `bevel` of
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

    _last: ClassVar[list[tuple[Any, Any, Any]]] = [(None, None, None)]
    """Law, strain and corners when last asked: one tuple, so that threads cannot mix them up."""

    def start(self) -> Array:
        """Return the remembered sticking positions of a wire never moved, mm."""
        return np.zeros(np.shape(self.slot_height)[-1])

    def walls(self, strain: Array) -> tuple[Array, Array]:
        """See ContactLaw.walls: upper, lower, outer wall and base, four corners each."""
        y, z, _, _ = self._corners(strain)
        vertical, outer, base = (limit[..., None] for limit in self._limits())
        depth = np.concatenate([z - vertical, -z - vertical, y - outer, -y - base], axis=-1)
        return depth, np.broadcast_to(np.asarray(self.stiffness)[..., None], depth.shape)

    def depth_rate(self, strain: Array, rate: Array) -> Array:
        """See ContactLaw.depth_rate."""
        y, z, c, s = self._corners(strain)
        p2, p3, roll = rate[..., 1:2], rate[..., 2:3], rate[..., 3:4]
        dy = -c * p2 - s * p3 + z * roll
        dz = s * p2 - c * p3 - y * roll
        return np.concatenate([dz, -dz, dy, -dy], axis=-1)

    def combine(
        self, strain: Array, state: Array, force: Array, stiffness: Array, rub: Rub | None = None, flat: bool = False
    ) -> Response:
        """See ContactLaw.combine."""
        y, z, c, s = self._corners(strain)
        up, down, out, base = (force[..., i : i + 4] for i in _SIDES)
        kz = stiffness[..., 0:4] + stiffness[..., 4:8]
        ky = stiffness[..., 8:12] + stiffness[..., 12:16]
        fz, fy = up - down, out - base
        pull, slope = self._ligature(y)
        fy = fy + 0.25 * pull[..., None]
        grad, hess = np.zeros(strain.shape), np.zeros((*strain.shape, 6))
        gy, gz = np.empty((*y.shape, 3)), np.empty((*y.shape, 3))
        gy[..., 0], gy[..., 1], gy[..., 2] = -c, -s, z
        gz[..., 0], gz[..., 1], gz[..., 2] = s, -c, -y
        grad[..., 1:4] = (fy[..., None, :] @ gy + fz[..., None, :] @ gz)[..., 0, :]
        mean = 0.25 * gy.sum(axis=-2)
        hess[..., 1:4, 1:4] = (
            np.swapaxes(ky[..., None] * gy, -1, -2) @ gy
            + np.swapaxes(kz[..., None] * gz, -1, -2) @ gz
            + slope[..., None, None] * mean[..., :, None] * mean[..., None, :]
        )
        if not flat:
            sy, sz = fy.sum(axis=-1), fz.sum(axis=-1)
            c, s = c[..., 0], s[..., 0]
            cross2, cross3 = sy * s + sz * c, -sy * c + sz * s
            hess[..., 1, 3] += cross2
            hess[..., 3, 1] += cross2
            hess[..., 2, 3] += cross3
            hess[..., 3, 2] += cross3
            hess[..., 3, 3] -= (fy * y + fz * z).sum(axis=-1)
        grad[..., 2] += CENTRING * strain[..., 2]
        hess[..., 2, 2] += CENTRING
        drag = self.sliding.respond(strain[..., 0], force.sum(axis=-1) + pull, state, rub)
        grad[..., 0] += drag.force
        hess[..., 0, 0] += drag.stiffness
        if not drag.slides:
            return Response(grad, hess, drag.stuck)
        up, down, out, base = (stiffness[..., i : i + 4] for i in _SIDES)
        presses = np.zeros_like(grad)
        presses[..., 1:4] = ((up - down)[..., None, :] @ gz)[..., 0, :]
        presses[..., 1:4] += ((out - base + 0.25 * slope[..., None])[..., None, :] @ gy)[..., 0, :]
        return Response(grad, hess, drag.stuck, self.sliding.coupling(drag, presses))

    def friction(self) -> Array:
        """See ContactLaw.friction."""
        return np.asarray(self.sliding.friction)

    def normal(self, strain: Array, force: Array) -> Array:
        """See ContactLaw.normal: the walls and the ligature."""
        y, *_ = self._corners(strain)
        out: Array = force.sum(axis=-1) + self._ligature(y)[0]
        return out

    def smooth_energy(self, strain: Array, state: Array, normal: Array) -> Array:
        """See ContactLaw.smooth_energy."""
        y, *_ = self._corners(strain)
        pull, _ = self._ligature(y)
        safe = np.maximum(self.ligature_stiffness, 1e-12)
        tied = np.where(np.asarray(self.ligature_stiffness) > 0, 0.5 * pull * pull / safe, 0.0)
        out: Array = tied + 0.5 * CENTRING * strain[..., 2] ** 2
        return out + self.sliding.respond(strain[..., 0], normal + pull, state).energy

    def _limits(self) -> tuple[Array, Array, Array]:
        """Largest z, largest y and largest -y of the corner centres in the slot."""
        return (
            0.5 * self.slot_height - self.bevel,
            self.closed - 0.5 * self.depth - self.bevel,
            0.5 * self.depth - self.bevel,
        )

    def _corners(self, strain: Array) -> _Corners:
        """Return where the corners are; a search asks several times at one and the same strain."""
        law, at, known = self._last[0]
        found: _Corners = known if law is self and at is strain else self._located(strain)
        self._last[0] = self, strain, found
        return found

    def _located(self, strain: Array) -> _Corners:
        cy = (0.5 * self.depth - self.bevel)[..., None] * _OUTWARD
        cz = (0.5 * self.height - self.bevel)[..., None] * _UPWARD
        dy, dz = cy - strain[..., 1:2], cz - strain[..., 2:3]
        c, s = np.cos(strain[..., 3:4]), np.sin(strain[..., 3:4])
        return _Corners(c * dy + s * dz, c * dz - s * dy, c, s)

    def _ligature(self, y: Array) -> tuple[Array, Array]:
        """Pull (..., n) N of the ligature on the section's centre towards the base, and its slope."""
        pull = self.ligature_force + self.ligature_stiffness * y.mean(axis=-1)
        return np.maximum(pull, 0.0), np.where(pull > 0, self.ligature_stiffness, 0.0)
