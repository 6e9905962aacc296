"""The interior-point search that finds which walls carry force and which links slide, before Newton finishes.

The steps are those of Gauss-Newton: the geometric part of the tangent is left out. Far from equilibrium the forces in
the links are fictitious, laid-in wires being stretched on paper by hundreds of newtons, and a geometric part made of
them misleads: with it half of a family of random arches did not converge, without it nearly all do, in as many steps.
"""

from __future__ import annotations

from copy import copy
from typing import Any

import numpy as np

from biomech.mechanics.batch import pick, pick_states
from biomech.mechanics.contact import Barrier, ContactLaw, Slider, largest_step
from biomech.mechanics.foresight import Foresight
from biomech.mechanics.links import Law, Response, State
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.newton import Settings, few, limited, merged, relative_error, variants
from biomech.mechanics.poses import Array, Pose
from biomech.mechanics.steps import extent, moved, newton_step, solve_each, strain_step

_NEAR_PRODUCT = 1e-4
_NEAR_ERROR = 1e-2
"""Mean force times slack (N.mm) and relative residual below which the whole tangent is tried."""
_FAR_ENOUGH = 0.2
"""Part of a step that must have been possible for it."""
_AT_REST = 1e-7
"""Relative residual at which the search ends. At 1e-5, a wall all but touching and a wire all but free to spin can
still send Newton's exact steps astray."""


def search_contacts(
    network: Network,
    poses: Pose,
    states: list[State],
    activation: float,
    settings: Settings,
    search: Search | None = None,
    most_steps: int | None = None,
) -> tuple[Pose, np.ndarray]:
    """Return poses (and steps taken) near equilibrium, with every wall clearly open or closed.

    `search` goes on with one begun; `most_steps` is twice those of Newton unless given.
    """
    most = most_steps or 2 * settings.max_steps
    search = search or Search(network, poses, states, activation)
    batch, size = poses.position.shape[0], extent(poses)
    steps = np.zeros(batch, dtype=int)
    alive = np.ones(batch, dtype=bool)
    for count in range(most):
        evaluation = network.evaluate(poses, states, activation, search.respond)
        residual = network.residual(evaluation, poses, activation)
        alive &= np.isfinite(residual).all(axis=-1)
        error = relative_error(residual, evaluation)
        todo = alive & ~search.done(error, settings)
        if not todo.any():
            break
        if few(todo) and count:
            which = np.flatnonzero(todo)
            sub, some, theirs = pick(network, which), variants(poses, which), pick_states(network, states, which)
            begun = search.pick(sub, theirs, which)
            some, more = search_contacts(sub, some, theirs, activation, settings, begun, most - count)
            steps[which] += more
            return merged(poses, some, which), steps
        if search.flat:
            dq = solve_each(network.flat_tangent(evaluation, poses), residual, todo, alive)
        else:
            dq = newton_step(network, evaluation, poses, residual, None, activation, todo, alive)
        dq = limited(dq, settings, size)
        taken = search.advance(evaluation, network.frame_steps(dq), todo)
        step = network.frame_steps(taken[:, None] * dq)
        poses = moved(poses, step)
        search.ahead.look(evaluation, step, activation)
        search.flat = not (search.near(error) & (taken > _FAR_ENOUGH))[todo].all()
        steps[todo] += 1
    return poses, steps


class Search:
    """What the walls (and rubbing links) of all groups do during an interior-point search."""

    def __init__(self, network: Network, poses: Pose, states: list[State], activation: float) -> None:
        self.network, self.states, self.activation = network, states, activation
        self.barriers: dict[int, Barrier] = {}
        self.sliders: dict[int, Slider] = {}
        for i, g in enumerate(network.groups):
            if isinstance(g.law, ContactLaw):
                strain = g.effective(g.strain(poses), activation)
                self.barriers[i] = Barrier.start(g.law, strain)
                slider = Slider.start(g.law, strain, self.barriers[i])
                if slider is not None:
                    self.sliders[i] = slider
        self.mu = 0.1 * self._worst()
        self.flat = True
        self.batch = poses.position.shape[0]
        self.ahead = Foresight(network)

    def pick(self, network: Network, states: list[State], which: np.ndarray) -> Search:
        """Return the search of some variants, `network` and `states` being theirs."""
        out = copy(self)
        out.network, out.states, out.mu, out.batch = network, states, self.mu[which], len(which)
        out.barriers = {i: Barrier(b.force[which], b.slack[which]) for i, b in self.barriers.items()}
        out.sliders = {i: s.pick(which) for i, s in self.sliders.items()}
        out.ahead = Foresight(network)
        return out

    def _parts(self) -> list[tuple[int, Any]]:
        return [*self.barriers.items(), *self.sliders.items()]

    def _worst(self) -> Array:
        worst: Array = np.max([part.complementarity() for _, part in self._parts()], axis=0)
        return worst

    def respond(self, number: int, law: Law, strain: Array, state: State) -> Response:
        """Stand in for the contact laws' own response."""
        if not isinstance(law, ContactLaw):
            return self.ahead.respond(number, law, strain, state)
        barrier, slider = self.barriers[number], self.sliders.get(number)
        if slider is None:
            return barrier.respond(law, strain, state, self.mu, None, self.flat)
        slider.set_bound(law, strain, barrier)
        return barrier.respond(law, strain, state, self.mu, slider.respond(strain, state, self.mu), self.flat)

    def done(self, error: Array, settings: Settings) -> np.ndarray:
        """Return which variants (batch,) have contacts clearly open or closed and are near equilibrium."""
        return (self._worst() < settings.contact_tolerance) & (error < _AT_REST)

    def near(self, error: Array) -> np.ndarray:
        """Return which variants (batch,) are so near that the whole tangent leads further than the flat one."""
        return (self._worst() < _NEAR_PRODUCT) & (error < _NEAR_ERROR)

    def advance(self, evaluation: Evaluation, step: Array, todo: np.ndarray) -> Array:
        """Move everything along with the frames; return the part (batch,) of the step that is taken."""
        changes = [self._change(i, part, evaluation, step) for i, part in self._parts()]
        parts = [part for _, part in self._parts()]
        overruns = [part.fastest(change) for part, change in zip(parts, changes, strict=True)]
        taken = np.where(todo, largest_step(overruns, self.batch), 0.0)
        for part, change in zip(parts, changes, strict=True):
            part.move(change, taken)
        shrink = np.where(taken > 0.9, 0.03, np.where(taken > 0.5, 0.2, 1.0))
        self.mu = np.where(todo, shrink * self._worst(), self.mu)
        return taken

    def _change(self, number: int, part: Barrier | Slider, evaluation: Evaluation, step: Array) -> Any:
        g, k = self.network.groups[number], evaluation.kinematics[number]
        assert isinstance(g.law, ContactLaw)
        strain, rate = g.effective(k.strain, self.activation), strain_step(g, k, step)
        if isinstance(part, Slider):
            return part.step(strain, self.states[number], rate, self.mu)
        return part.step(g.law, strain, rate, self.mu)
