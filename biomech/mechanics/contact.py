"""Links with one-sided walls, and the interior-point search that finds which walls carry force.

Wall number j of a link has a depth d_j(e) of penetration (mm, negative = gap) and pushes with f_j = k_j max(d_j, 0).
Newton on that kink jumps between open and closed for ever when a wire lies loosely in many slots. The search
below keeps force f > 0 and slack s = f / k - d > 0 apart as unknowns with f s = mu and drives mu to zero (primal-dual
interior point; Nocedal and Wright 2006, Numerical Optimization, ch. 14 and 16; from memory): the number of steps
hardly depends on how many contacts there are. A few exact Newton steps then finish.

Friction along the wire is searched for in the same way, see `Slider`: a friction force within its bound and the slips
either way are kept apart, and slip times what is left to the bound goes to zero together with the walls.
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
STICK = 2000.0
"""Stiffness of sticking friction along the wire, N/mm: stiff beside ligament and wire (numerical choice)."""
_LEAST_BOUND = 1e-9
_FULL = 1 - 1e-13
"""Share of its bound that friction uses at most during the search."""

Rub = tuple[Array, Array]
"""Friction force (..., n) N along the wire and its stiffness (..., n) N/mm."""


class ContactLaw(Law):
    """A law with m one-sided walls per link, besides a smooth part."""

    @abstractmethod
    def walls(self, strain: Array) -> tuple[Array, Array]:
        """Return depths (..., n, m) mm and stiffnesses (..., n, m) N/mm of the walls."""

    @abstractmethod
    def combine(
        self, strain: Array, state: State, force: Array, stiffness: Array, rub: Rub | None = None, flat: bool = False
    ) -> Response:
        """Return the smooth part plus walls that push with `force` (..., n, m) and have tangent `stiffness`.

        `rub` replaces the law's own friction. `flat` leaves the curvature of the walls out of the tangent, which then
        is never negative (Gauss-Newton).
        """

    def friction(self) -> Array | None:
        """Return the friction coefficients (..., n) along strain component 0; None when nothing rubs."""
        return None

    def normal(self, strain: Array, force: Array) -> Array:
        """Return the sum (..., n) N of what presses wire and holder together when the walls push with `force`."""
        out: Array = force.sum(axis=-1)
        return out

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

    def respond(
        self, law: ContactLaw, strain: Array, state: State, mu: Array, rub: Rub | None = None, flat: bool = True
    ) -> Response:
        """Return the response whose Newton step is that of the whole system with f and s eliminated."""
        depth, stiffness = law.walls(strain)
        below = self.slack + self.force / stiffness
        ahead = (mu[:, None, None] + self.force * (self.slack + depth)) / below
        return law.combine(strain, state, ahead, self.force / below, rub, flat)

    def step(self, law: ContactLaw, strain: Array, rate: Array, mu: Array) -> tuple[Array, Array]:
        """Return the changes of f and s that go with the strain step `rate`."""
        depth, stiffness = law.walls(strain)
        below = self.slack + self.force / stiffness
        change = law.depth_rate(strain, rate)
        df = (mu[:, None, None] + self.force * (self.slack + depth + change)) / below - self.force
        ds = (self.force + df) / stiffness - depth - change - self.slack
        return df, ds

    def move(self, change: tuple[Array, Array], part: Array) -> None:
        """Take `part` (batch,) of the changes of f and s."""
        df, ds = change
        self.force = self.force + part[:, None, None] * df
        self.slack = self.slack + part[:, None, None] * ds

    def complementarity(self) -> Array:
        """Return the mean of f s (batch,), N.mm: the distance from true contact."""
        out: Array = (self.force * self.slack).mean(axis=(-1, -2))
        return out

    def fastest(self, change: tuple[Array, Array]) -> Array:
        """Return by how much (batch,) the change overruns zero: 1 just reaches it."""
        df, ds = change
        worst = (-df / self.force).max(axis=(-1, -2), initial=0.0)
        out: Array = np.maximum(worst, (-ds / self.slack).max(axis=(-1, -2), initial=0.0))
        return out


@dataclass
class Slider:
    """Coulomb friction of a group's rubbing links during the search.

    A spring of stiffness STICK in series with a slider: position u = f / STICK + z1 - z2 with the friction force f
    within -b and b and the slips z1, z2 > 0, where z1 (b - f) = z2 (b + f) = mu. `rows` (r,) are the links that rub;
    `share` (batch, r) is f / b, `ahead` and `back` (batch, r) are z1 and z2, mm. The bound b, coefficient times what
    presses the parts together, is taken as it was one step ago: friction has no potential, and the tangent stays
    symmetric.
    """

    rows: np.ndarray
    share: Array
    ahead: Array
    back: Array
    bound: Array

    @classmethod
    def start(cls, law: ContactLaw, strain: Array, barrier: Barrier) -> Slider | None:
        """Return sliders at rest; None when nothing rubs."""
        coefficient = law.friction()
        if coefficient is None or not np.any(coefficient > 0):
            return None
        rows = np.flatnonzero(coefficient.reshape(-1, coefficient.shape[-1]).max(axis=0) > 0)
        zero = np.zeros((strain.shape[0], len(rows)))
        out = cls(rows, zero, zero, zero, zero)
        out.set_bound(law, strain, barrier)
        slip = FIRST_PRODUCT / np.maximum(out.bound, 1.0)
        return cls(rows, zero, slip, slip, out.bound)

    def set_bound(self, law: ContactLaw, strain: Array, barrier: Barrier) -> None:
        """Take over half of the change of the bound that goes with the walls' present forces.

        Half, since friction can turn a wire so that it presses less: taken over whole, the bound would swing.
        """
        coefficient = law.friction()
        assert coefficient is not None
        bound = (coefficient * law.normal(strain, barrier.force))[..., self.rows]
        known = self.bound > 0
        self.bound = np.maximum(np.where(known, 0.5 * (bound + self.bound), bound), _LEAST_BOUND)

    def _solved(self, position: Array, mu: Array) -> Rub:
        """Return friction force (batch, r) after the Newton step at fixed position, and its stiffness."""
        f, left, right = self.share * self.bound, self._left(), self._right()
        compliance = 1 / STICK + self.ahead / left + self.back / right
        miss = position - f / STICK - mu[:, None] / left + mu[:, None] / right
        return f + miss / compliance, 1 / compliance

    def respond(self, strain: Array, stuck: Array, mu: Array) -> Rub:
        """Return friction forces and stiffnesses (batch, n) of all links, zero where nothing rubs."""
        force, stiffness = np.zeros(strain.shape[:-1]), np.zeros(strain.shape[:-1])
        force[:, self.rows], stiffness[:, self.rows] = self._solved(self._position(strain, stuck), mu)
        return force, stiffness

    def step(self, strain: Array, stuck: Array, rate: Array, mu: Array) -> tuple[Array, Array, Array]:
        """Return the changes of f, z1 and z2 that go with the strain step `rate`."""
        left, right, m = self._left(), self._right(), mu[:, None]
        after, _ = self._solved(self._position(strain, stuck) + rate[..., self.rows, 0], mu)
        df = after - self.share * self.bound
        ahead = m / left - self.ahead + self.ahead / left * df
        back = m / right - self.back - self.back / right * df
        return df, ahead, back

    def move(self, change: tuple[Array, Array, Array], part: Array) -> None:
        """Take `part` (batch,) of the changes of f, z1 and z2."""
        df, ahead, back = (part[:, None] * c for c in change)
        self.share = np.clip(self.share + df / self.bound, -_FULL, _FULL)
        self.ahead, self.back = self.ahead + ahead, self.back + back

    def complementarity(self) -> Array:
        """Return the mean of slip times what is left to the bound (batch,), N.mm."""
        out: Array = 0.5 * (self.ahead * self._left() + self.back * self._right()).mean(axis=-1)
        return out

    def fastest(self, change: tuple[Array, Array, Array]) -> Array:
        """Return by how much (batch,) the change overruns a bound or a slip of zero: 1 just reaches it."""
        df, ahead, back = change
        rates = [df / self._left(), -df / self._right(), -ahead / self.ahead, -back / self.back]
        return np.asarray(np.concatenate(rates, axis=-1).max(axis=-1, initial=0.0))

    def pick(self, which: np.ndarray) -> Slider:
        """Return the sliders of some of the variants."""
        return Slider(self.rows, *(a[which] for a in (self.share, self.ahead, self.back, self.bound)))

    def _position(self, strain: Array, stuck: Array) -> Array:
        out: Array = (strain[..., 0] - stuck)[..., self.rows]
        return out

    def _left(self) -> Array:
        return self.bound * (1 - self.share)

    def _right(self) -> Array:
        return self.bound * (1 + self.share)


def largest_step(overruns: list[Array], batch: int) -> Array:
    """Return the part (batch,) of the steps that keeps everything positive, from the `fastest` of all groups."""
    worst = np.max([np.full(batch, 1e-300), *overruns], axis=0)
    return np.asarray(np.minimum(1.0, 0.95 / worst))
