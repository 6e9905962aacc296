"""Newton at one activation: the mixed scheme for smooth links, an interior-point search when there are contacts.

The geometric part of the tangent uses the link stress predicted by the previous step, m + K B dq, instead of
the stress evaluated at the new configuration (mixed integration point scheme; Magisano, Leonetti and Garcea
2017, Comput. Methods Appl. Mech. Eng. 313; from memory). The residual is untouched, so the solution is the same,
but stiff thin wires converge in a few steps where plain Newton diverges.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace

import numpy as np

from biomech.mechanics.batch import pick, pick_states
from biomech.mechanics.contact import Barrier, ContactLaw, largest_step
from biomech.mechanics.links import Law, Response, State
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.poses import Array, Pose
from biomech.mechanics.steps import extent, moved, newton_step, predict, strain_step

_ROUNDING = 8 * np.finfo(float).eps


@dataclass(frozen=True)
class Settings:
    """How an equilibrium is sought.

    `tolerance`: largest residual, relative to the largest internal force (floor 1 N or N.mm). `max_steps`: Newton steps
    per activation. `largest_turn` (rad) and `largest_shift` (as a part of the model's largest extent) bound one step.
    `smallest_increment` of the activation before giving up. `mixed`: use the predicted stress in the tangent.
    `first_increment` of the activation (1 = all at once). `contact_tolerance`: mean force times slack (N.mm) at which
    the contact search ends.
    """

    tolerance: float = 1e-9
    max_steps: int = 40
    largest_turn: float = 1.0
    largest_shift: float = 1.0
    smallest_increment: float = 1 / 256
    mixed: bool = True
    first_increment: float = 1.0
    contact_tolerance: float = 1e-11


@dataclass
class Run:
    """Where a batch of searches ended: poses, links there, relative residual, steps taken, converged or not."""

    poses: Pose
    evaluation: Evaluation
    residual: Array
    steps: np.ndarray
    ok: np.ndarray


def newton(network: Network, poses: Pose, states: list[State], activation: float, settings: Settings) -> Run:
    """Seek equilibrium of all variants (batch) at one activation, from `poses`."""
    if not any(isinstance(g.law, ContactLaw) for g in network.groups):
        return iterate(network, poses, states, activation, settings)
    poses, taken = search_contacts(network, poses, states, activation, settings)
    run = iterate(network, poses, states, activation, settings)
    run.steps += taken
    return run


def iterate(
    network: Network,
    poses: Pose,
    states: list[State],
    activation: float,
    settings: Settings,
    predicted: list[Array] | None = None,
) -> Run:
    """Mixed Newton: iterate all variants together until each is converged or hopeless.

    `predicted` are the link stresses for the geometric part of the first tangent; the true ones when left out.
    """
    batch, size = poses.position.shape[0], extent(poses)
    steps = np.zeros(batch, dtype=int)
    alive = np.ones(batch, dtype=bool)
    for taken in range(settings.max_steps + 1):
        evaluation = network.evaluate(poses, states, activation)
        residual = network.residual(evaluation, poses, activation)
        error = relative_error(residual, evaluation, poses)
        alive &= np.isfinite(error)
        ok = alive & (error <= settings.tolerance)
        todo = alive & ~ok
        if not todo.any():
            break
        if _few(todo):
            return _rest_alone(network, poses, states, activation, settings, todo, steps, predicted, taken)
        stresses = predicted if settings.mixed else None
        dq = newton_step(network, evaluation, poses, residual, stresses, activation, todo, alive)
        step = network.frame_steps(limited(dq, settings, size))
        poses = moved(poses, step)
        predicted = predict(network, evaluation, step)
        steps[todo] += 1
    return Run(poses, evaluation, error, steps, ok)


def _few(todo: np.ndarray) -> bool:
    """Whether so many variants are done that going on with the others alone pays."""
    return len(todo) >= 8 and 3 * int(todo.sum()) <= 2 * len(todo)


def _rest_alone(
    network: Network,
    poses: Pose,
    states: list[State],
    activation: float,
    settings: Settings,
    todo: np.ndarray,
    steps: np.ndarray,
    predicted: list[Array] | None,
    taken: int,
) -> Run:
    """Iterate the variants in `todo` without the others and put all together again."""
    which = np.flatnonzero(todo)
    ahead = None if predicted is None else [p[which] if p.shape[0] == len(todo) else p for p in predicted]
    shorter = replace(settings, max_steps=settings.max_steps - taken)
    some = variants(poses, which)
    part = iterate(pick(network, which), some, pick_states(states, which), activation, shorter, ahead)
    steps[which] += part.steps
    poses = _merged(poses, part.poses, which)
    evaluation = network.evaluate(poses, states, activation)
    error = relative_error(network.residual(evaluation, poses, activation), evaluation, poses)
    return Run(poses, evaluation, error, steps, np.isfinite(error) & (error <= settings.tolerance))


def variants(poses: Pose, which: np.ndarray) -> Pose:
    """Return the poses of some of the variants."""
    return Pose(poses.rotation[which], poses.position[which])


def _merged(poses: Pose, some: Pose, which: np.ndarray) -> Pose:
    rotation, position = poses.rotation.copy(), poses.position.copy()
    rotation[which], position[which] = some
    return Pose(rotation, position)


def search_contacts(
    network: Network,
    poses: Pose,
    states: list[State],
    activation: float,
    settings: Settings,
    search: _Search | None = None,
    predicted: list[Array] | None = None,
) -> tuple[Pose, np.ndarray]:
    """Return poses (and steps taken) near equilibrium, with every wall clearly open or closed.

    Interior-point search, see mechanics.contact, together with the mixed scheme for everything else.
    """
    search = search or _Search(network, poses, activation)
    batch, size = poses.position.shape[0], extent(poses)
    steps = np.zeros(batch, dtype=int)
    alive = np.ones(batch, dtype=bool)
    for count in range(settings.max_steps):
        evaluation = network.evaluate(poses, states, activation, search.respond)
        residual = network.residual(evaluation, poses, activation)
        alive &= np.isfinite(residual).all(axis=-1)
        todo = alive & ~search.done(relative_error(residual, evaluation), settings)
        if not todo.any():
            break
        if _few(todo) and predicted is not None:
            which = np.flatnonzero(todo)
            shorter = replace(settings, max_steps=settings.max_steps - count)
            sub, some = pick(network, which), variants(poses, which)
            ahead = [p[which] if p.shape[0] == batch else p for p in predicted]
            some, more = search_contacts(
                sub, some, pick_states(states, which), activation, shorter, search.pick(sub, which), ahead
            )
            steps[which] += more
            return _merged(poses, some, which), steps
        dq = newton_step(network, evaluation, poses, residual, predicted, activation, todo, alive)
        dq = limited(dq, settings, size)
        taken = search.advance(evaluation, network.frame_steps(dq), todo)
        step = network.frame_steps(taken[:, None] * dq)
        poses = moved(poses, step)
        predicted = predict(network, evaluation, step)
        steps[todo] += 1
    return poses, steps


class _Search:
    """The contact forces and slacks of all groups during an interior-point search."""

    def __init__(self, network: Network, poses: Pose, activation: float) -> None:
        self.network, self.activation = network, activation
        self.barriers: dict[int, Barrier] = {}
        for i, g in enumerate(network.groups):
            if isinstance(g.law, ContactLaw):
                self.barriers[i] = Barrier.start(g.law, g.effective(g.strain(poses), activation))
        self.mu = 0.1 * self._worst()
        self.batch = poses.position.shape[0]

    def pick(self, network: Network, which: np.ndarray) -> _Search:
        """Return the search of some variants, `network` being theirs."""
        out = copy(self)
        out.network, out.mu, out.batch = network, self.mu[which], len(which)
        out.barriers = {i: Barrier(b.force[which], b.slack[which]) for i, b in self.barriers.items()}
        return out

    def _worst(self) -> Array:
        worst: Array = np.max([b.complementarity() for b in self.barriers.values()], axis=0)
        return worst

    def respond(self, number: int, law: Law, strain: Array, state: State) -> Response:
        """Stand in for the contact laws' own response."""
        if isinstance(law, ContactLaw):
            return self.barriers[number].respond(law, strain, state, self.mu)
        return law.respond(strain, state)

    def done(self, error: Array, settings: Settings) -> np.ndarray:
        """Return which variants (batch,) have contacts clearly open or closed and are near equilibrium."""
        return (self._worst() < settings.contact_tolerance) & (error < 1e-5)

    def advance(self, evaluation: Evaluation, step: Array, todo: np.ndarray) -> Array:
        """Move forces and slacks along with the frames; return the part (batch,) of the step that is taken."""
        numbers, barriers = list(self.barriers), list(self.barriers.values())
        changes = []
        for i, barrier in zip(numbers, barriers, strict=True):
            g, k = self.network.groups[i], evaluation.kinematics[i]
            law = g.law
            assert isinstance(law, ContactLaw)
            strain = g.effective(k.strain, self.activation)
            changes.append(barrier.step(law, strain, strain_step(g, k, step), self.mu))
        part = np.where(todo, largest_step(barriers, changes, self.batch), 0.0)
        for barrier, (df, ds) in zip(barriers, changes, strict=True):
            barrier.force = barrier.force + part[:, None, None] * df
            barrier.slack = barrier.slack + part[:, None, None] * ds
        shrink = np.where(part > 0.9, 0.03, np.where(part > 0.5, 0.2, 1.0))
        self.mu = np.where(todo, shrink * self._worst(), self.mu)
        return part


def relative_error(residual: Array, evaluation: Evaluation, poses: Pose | None = None) -> Array:
    """Return the largest residual of every variant over its largest internal force (at least 1).

    With `poses`, what rounding of their coordinates alone makes of the residual (eps times largest stiffness times
    largest coordinate) is forgiven: a stiff fine wire under a few hundredths of a newton gets no nearer.
    """
    scale = np.ones(residual.shape[0])
    stiffest = 0.0
    for force, response in zip(evaluation.forces, evaluation.responses, strict=True):
        if force.shape[-2]:
            scale = np.maximum(scale, np.abs(force).max(axis=(-1, -2)))
            stiffest = max(stiffest, float(np.abs(response.tangent).max()))
    largest = np.abs(residual).max(axis=-1, initial=0.0)
    if poses is not None:
        rounding = _ROUNDING * stiffest * np.abs(poses.position).max(axis=(-1, -2), initial=1.0)
        largest = np.where(largest <= rounding, 0.0, largest)  # this way round a NaN stays one
    out: Array = largest / scale
    return out


def limited(dq: Array, settings: Settings, size: Array) -> Array:
    """Return the steps (batch, unknowns) cut to the largest turn and shift allowed in a model of `size` (batch,)."""
    parts = np.abs(dq.reshape(dq.shape[0], -1, 6))
    turn = parts[..., 3:].max(axis=(-1, -2), initial=0.0) / settings.largest_turn
    shift = parts[..., :3].max(axis=(-1, -2), initial=0.0) / (settings.largest_shift * size)
    out: Array = dq / np.maximum(1.0, np.maximum(turn, shift))[:, None]
    return out
