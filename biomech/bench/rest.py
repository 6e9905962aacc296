"""A wire lying on a round support on which it slides: the last piece of wire, of changing length, as one law.

From the last station the wire runs on, elastic and almost straight, to the support and beyond it, where it is free of
force. Frictionless contact carries no moment and pushes at right angles to the wire, so the piece is a cantilever of
length l (from the station to the support) with an end force N = w / f(l), f = l^3/(3 EI) + l/(k G A), w being how far
the support pushes the wire aside. Its energy w^2 / (2 f(l)) depends on the support's position in the station's axes
alone; the derivative in l is the pull that the inclined contact exerts along the wire. Exact to second order in the
slope of this piece, which the rig keeps small by starting it near the support. (Derived here; checked against the
elastica in the tests.)

The law pulls as well as it pushes, so that Newton meets no kink; a rig looks at the sign and stops where wire and
support part.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.mechanics.links import Law, Response
from biomech.mechanics.poses import Array

STICK = 2000.0
"""Stiffness of sticking friction along the wire, N/mm (numerical choice)."""


@dataclass(frozen=True)
class Rest(Law):
    """Law of n supports; the link runs from the wire's last station to the support's centre ("section" kinematics).

    `bending` EI (n,) N.mm^2 and `shear` k G A (n,) N of the wire; `reach` (n,) mm from the support's centre to the
    wire's axis when they touch; `across` the axis (1 or 2) along which the support pushes, and `side` +1 when it pushes
    the wire that way, -1 when against it; `friction` coefficient; `length` (n,) mm of the piece at the start.
    """

    bending: Array
    shear: Array
    reach: Array
    across: int
    side: float
    friction: float
    length: Array

    def start(self) -> Array:
        """Return where friction last let the wire stick: at the start."""
        return np.array(self.length, dtype=float)

    def push(self, strain: Array) -> Array:
        """Return the force N (..., n) between wire and support, N; negative where they would have parted."""
        flexibility, _, _ = self._flexibility(strain[..., 0])
        out: Array = self._aside(strain) / flexibility
        return out

    def root_moment(self, strain: Array) -> Array:
        """Return the bending moment (..., n), N.mm, at the station where the piece begins."""
        out: Array = self.push(strain) * strain[..., 0]
        return out

    def respond(self, strain: Array, state: Array) -> Response:
        """See Law.respond; the state is the length at which friction sticks."""
        f, slope, bend = self._flexibility(strain[..., 0])
        push = self.push(strain)
        stress, tangent = np.zeros(strain.shape), np.zeros((*strain.shape, 6))
        i = self.across
        stress[..., i] = self.side * push
        stress[..., 0] = -0.5 * push**2 * slope
        tangent[..., i, i] = 1 / f
        tangent[..., 0, i] = tangent[..., i, 0] = -self.side * push * slope / f
        tangent[..., 0, 0] = push**2 * (slope**2 / f - 0.5 * bend)
        if self.friction == 0.0:
            return Response(stress, tangent, state)
        return self._rubbing(strain, state, push, stress, tangent)

    def energy(self, strain: Array, state: Array) -> Array:
        """See Law.energy: stored in the piece, and spent by friction."""
        f, _, _ = self._flexibility(strain[..., 0])
        push = self.push(strain)
        out: Array = 0.5 * push**2 * f
        if self.friction == 0.0:
            return out
        bound, away = self.friction * np.abs(push), np.abs(strain[..., 0] - state)
        slips = STICK * away > bound
        return out + np.where(slips, bound * away - bound**2 / (2 * STICK), 0.5 * STICK * away**2)

    def _rubbing(self, strain: Array, state: Array, push: Array, stress: Array, tangent: Array) -> Response:
        """Add Coulomb friction along the wire to the response."""
        f, slope, _ = self._flexibility(strain[..., 0])
        bound = self.friction * np.abs(push)
        trial = STICK * (strain[..., 0] - state)
        slips = np.abs(trial) > bound
        drag = np.where(slips, np.sign(trial) * bound, trial)
        stress[..., 0] += drag
        tangent[..., 0, 0] += np.where(slips, 0.0, STICK)
        coupling = np.zeros_like(tangent)
        rate = np.where(slips, np.sign(trial * push) * self.friction, 0.0) / f
        coupling[..., 0, self.across] = self.side * rate
        coupling[..., 0, 0] = -rate * push * slope
        stuck = np.where(slips, strain[..., 0] - drag / STICK, state)
        return Response(stress, tangent, stuck, coupling)

    def _aside(self, strain: Array) -> Array:
        """Return how far (..., n), mm, the support pushes the wire aside; negative when they have parted."""
        out: Array = self.reach + self.side * strain[..., self.across]
        return out

    def _flexibility(self, length: Array) -> tuple[Array, Array, Array]:
        """Return f (..., n), mm/N, and its first and second derivatives in the length."""
        f = length**3 / (3 * self.bending) + length / self.shear
        return f, length**2 / self.bending + 1 / self.shear, 2 * length / self.bending
