"""The ligament over a stretch of time: it yields as its socket follows, by an implicit rule.

At the end of a time weight g (days) a socket that started at pose B stands at S = B exp(g r q), with r the rate and q
the tooth's elastic motion in S. Both twists are parallel, so the tooth stands at B exp(e) with e = (1 + g r) q. The
link from B to the tooth therefore sees the strain e and answers with the wrench of q: an ordinary law, softer than
the ligament, and the state at the end of a step is an ordinary equilibrium.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from biomech.errors import SolveError
from biomech.mechanics.links import Law, Response
from biomech.mechanics.poses import Array, apply, jacobian_inverse
from biomech.movement.levers import Levers
from biomech.rates import RateLaw
from biomech.tooth.support import Ray, RootBed

_SMALL = 1e-9  # mm: below this the ligament is linear and the direction of the motion does not matter
_ROUNDS = 60
_CLOSE, _CLOSER = 3e-5, 1e-6
"""Relative change of the share at which its search ends, what is left being about its square; with a least stress, near
which laws are strongly curved."""


class Flow(NamedTuple):
    """Elastic motion q (..., T, 6), its rate r (..., T) per day, and (..., T, 6) the gradient of r."""

    motion: Array
    rate: Array
    gradient: Array


class Creep(Law):
    """The law between the pose B of each socket and its tooth; `weight` is g in days."""

    def __init__(self, bed: RootBed, rate: RateLaw, levers: Levers, weight: float) -> None:
        self.bed, self.rate, self.levers, self.weight = bed, rate, levers, weight
        self._last: tuple[Array, Array, Array] | None = None  # where a search ended, see _guess: the next starts there

    def respond(self, strain: Array, state: Any) -> Response:
        """Return the wrench of the ligament as dual of the strain e (..., T, 6), its tangent, and the state."""
        ray = self.bed.along(strain)
        share = self._share(strain, ray)
        q = share[..., None] * strain
        wrench, stiffness = ray.respond(share)
        flow = rate_of(self.rate, self.levers, q, wrench, stiffness)
        grown = 1 + self.weight * flow.rate
        along = np.einsum("...i,...i", flow.gradient, q)
        lost = self.weight / (grown + self.weight * along)
        yields = np.eye(6) - lost[..., None, None] * q[..., :, None] * flow.gradient[..., None, :]
        tangent = (stiffness @ yields) / grown[..., None, None]
        return Response(_as_dual_of(strain, q, wrench), tangent, state)

    def energy(self, strain: Array, state: Any) -> Array:
        """A ligament that follows its socket dissipates: it has no energy to compare equilibria by."""
        raise SolveError(
            "the equilibrium lost its stability while teeth were moving, and a yielding ligament has no energy by "
            "which to choose another; activate less at this visit, or look at the wires with `biomech solve`"
        )

    def motion(self, strain: Array) -> Array:
        """Return the elastic motions q (..., T, 6) at strains e (..., T, 6)."""
        out: Array = self._share(strain, self.bed.along(strain))[..., None] * strain
        return out

    def _share(self, strain: Array, ray: Ray) -> Array:
        """Return s (..., T) with q = s e, 0 < s <= 1, from s + g v(s) / u(e) = 1: monotone, by guarded Newton."""
        size = np.maximum(self.levers.size(strain), _SMALL)
        tiny = size <= _SMALL
        some_tiny = bool(tiny.any())
        per_speed, per_work = self.weight / size, 1e3 / (size * self.levers.area)
        low, high = np.zeros_like(size), np.ones_like(size)
        share = self._guess(size)
        before, close = np.full_like(size, np.inf), _CLOSER if self.rate.least > 0.0 else _CLOSE
        for _ in range(_ROUNDS):
            done, slope = ray.work(share)
            if some_tiny:
                done = np.where(tiny, self.levers.stiffness * (share * size) ** 2, done)
                slope = np.where(tiny, 2 * self.levers.stiffness * share * size**2, slope)
            mean = done / share
            speed = self.rate.speed(share * size, per_work * mean)
            error = share + per_speed * speed.value - 1
            steepness = per_work * (slope - mean) / share
            rise = 1 + self.weight * speed.by_displacement + per_speed * speed.by_stress * steepness
            new = share - error / rise
            np.copyto(low, share, where=error < 0)
            np.copyto(high, share, where=error > 0)
            # steps that do not shrink go to and fro about a bend of the law, such as its least stress
            moved = np.abs(new - share)
            outside = (new < low) | (new > high) | ((moved > 0.5 * before) & (moved >= close * new))
            if outside.any():
                new = np.where(outside, 0.5 * (low + high), new)
            before = np.abs(new - share)
            if (before < close * new).all():
                self._last = size, new, rise
                return new
            share = new
        raise SolveError("the rate law has no solution for a step in time; check its parameters")

    def _guess(self, size: Array) -> Array:
        """Return the shares (..., T) expected for sizes u: s u grows by what u does over `rise`, 1 + g dv/d(s u)."""
        if self._last is None or self._last[0].shape != size.shape:
            return np.ones_like(size)
        before, share, rise = self._last
        return np.clip((share * before + (size - before) / rise) / size, 0.5 * share, 1.0)


def rate_of(law: RateLaw, levers: Levers, q: Array, wrench: Array, stiffness: Array) -> Flow:
    """Return how fast sockets follow: at twist rates r q, for motions q (..., T, 6) with wrench and tangent there."""
    size = levers.size(q)
    tiny = size < _SMALL
    u = np.where(tiny, _SMALL, size)
    work = np.where(tiny, levers.stiffness * u * u, np.einsum("...i,...i", q, wrench))
    stress = 1e3 * work / (u * levers.area)
    speed = law.speed(u, stress)
    by_size = apply(levers.metric, q) / u[..., None]
    by_work = wrench + apply(stiffness, q)
    by_stress = 1e3 * by_work / (u * levers.area)[..., None] - (stress / u)[..., None] * by_size
    rate = speed.value / u
    gradient = ((speed.by_displacement - rate) / u)[..., None] * by_size + (speed.by_stress / u)[..., None] * by_stress
    return Flow(q, rate, np.where(tiny[..., None], 0.0, gradient))


def _as_dual_of(e: Array, q: Array, wrench: Array) -> Array:
    """Return the dual of e (..., T, 6) that puts the same force on the tooth as the wrench, dual of the parallel q."""
    at_q, at_e = jacobian_inverse(np.stack([q, e]))[0]
    at_tooth = np.matmul(wrench[..., None, :], at_q)[..., 0, :]
    back: Array = np.linalg.solve(np.swapaxes(at_e, -1, -2), at_tooth[..., None])[..., 0]
    return back
