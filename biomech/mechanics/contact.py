"""Links with one-sided walls, and the interior-point search that finds which walls carry force.

Wall number j of a link has a depth d_j(e) of penetration (mm, negative = gap) and pushes with f_j = k_j max(d_j, 0).
Newton on that kink jumps between open and closed for ever when a wire lies loosely in many slots. The search
below keeps force f > 0 and slack s = f / k - d > 0 apart as unknowns with f s = mu and drives mu to zero (primal-dual
interior point; Nocedal and Wright 2006, Numerical Optimization, ch. 14 and 16; from memory): the number of steps
hardly depends on how many contacts there are. A few exact Newton steps then finish.
"""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import dataclass

import numpy as np

from biomech.mechanics.links import Law, Response, State
from biomech.mechanics.poses import Array

FIRST_PRODUCT = 0.5
"""Force times slack of every wall when the search starts, N.mm: 2.5 N at the least slack."""
FIRST_SLACK = 0.2
"""Least slack of every wall when the search starts, mm."""


class ContactLaw(Law):
    """A law with m one-sided walls per link, besides a smooth part."""

    @abstractmethod
    def walls(self, strain: Array) -> tuple[Array, Array]:
        """Return depths (..., n, m) mm and stiffnesses (..., n, m) N/mm of the walls."""

    @abstractmethod
    def combine(self, strain: Array, state: State, force: Array, stiffness: Array) -> Response:
        """Return the smooth part plus walls that push with `force` (..., n, m) and have tangent `stiffness`."""

    @abstractmethod
    def depth_rate(self, strain: Array, rate: Array) -> Array:
        """Return the change (..., n, m) of the depths for a change `rate` (..., n, 6) of the strain."""

    @abstractmethod
    def smooth_energy(self, strain: Array, state: State, normal: Array) -> Array:
        """Return the energy (..., n) of the smooth part; `normal` (..., n) N is the sum of the wall forces."""

    def respond(self, strain: Array, state: State) -> Response:
        """See Law.respond."""
        depth, stiffness = self.walls(strain)
        touching = np.where(depth > 0, stiffness, 0.0)
        return self.combine(strain, state, touching * depth, touching)

    def energy(self, strain: Array, state: State) -> Array:
        """See Law.energy."""
        depth, stiffness = self.walls(strain)
        deep = np.maximum(depth, 0.0)
        out: Array = 0.5 * (stiffness * deep * deep).sum(axis=-1)
        return out + self.smooth_energy(strain, state, (stiffness * deep).sum(axis=-1))


@dataclass
class Barrier:
    """Forces f and slacks s (batch, n, m) of the walls of one group of links during the search."""

    force: Array
    slack: Array

    @classmethod
    def start(cls, law: ContactLaw, strain: Array) -> Barrier:
        """Return strictly positive forces and slacks for the given strain."""
        depth, _ = law.walls(strain)
        slack = np.maximum(-depth, FIRST_SLACK)
        return cls(FIRST_PRODUCT / slack, slack)

    def respond(self, law: ContactLaw, strain: Array, state: State, mu: Array) -> Response:
        """Return the response whose Newton step is that of the whole system with f and s eliminated."""
        depth, stiffness = law.walls(strain)
        below = self.slack + self.force / stiffness
        ahead = (mu[:, None, None] + self.force * (self.slack + depth)) / below
        return law.combine(strain, state, ahead, self.force / below)

    def step(self, law: ContactLaw, strain: Array, rate: Array, mu: Array) -> tuple[Array, Array]:
        """Return the changes of f and s that go with the strain step `rate`."""
        depth, stiffness = law.walls(strain)
        below = self.slack + self.force / stiffness
        change = law.depth_rate(strain, rate)
        df = (mu[:, None, None] + self.force * (self.slack + depth + change)) / below - self.force
        ds = (self.force + df) / stiffness - depth - change - self.slack
        return df, ds

    def complementarity(self) -> Array:
        """Return the mean of f s (batch,), N.mm: the distance from true contact."""
        out: Array = (self.force * self.slack).mean(axis=(-1, -2))
        return out


def largest_step(barriers: list[Barrier], steps: list[tuple[Array, Array]], batch: int) -> Array:
    """Return the part (batch,) of the steps that keeps every force and slack positive."""
    worst = np.full(batch, 1e-300)
    for barrier, (df, ds) in zip(barriers, steps, strict=True):
        worst = np.maximum(worst, (-df / barrier.force).max(axis=(-1, -2), initial=0.0))
        worst = np.maximum(worst, (-ds / barrier.slack).max(axis=(-1, -2), initial=0.0))
    return np.minimum(1.0, 0.95 / worst)
