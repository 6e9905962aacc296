"""Newton at one activation: the mixed scheme for smooth links, an interior-point search when there are contacts.

The geometric part of the tangent uses the link stress predicted by the previous step, m + K B dq, instead of
the stress evaluated at the new configuration (mixed integration point scheme; Magisano, Leonetti and Garcea
2017, Comput. Methods Appl. Mech. Eng. 313; from memory). The residual is untouched, so the solution is the same,
but stiff thin wires converge in a few steps where plain Newton diverges.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from biomech.mechanics.batch import pick, pick_states
from biomech.mechanics.contact import ContactLaw
from biomech.mechanics.foresight import Foresight
from biomech.mechanics.links import State
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.poses import Array, Pose
from biomech.mechanics.steps import extent, moved, newton_step, predict

_ROUNDING = 8 * np.finfo(float).eps
_DOUBTED = 1e-4
"""Relative residual above which rounding cannot be what is left."""
_NEAR = 8
"""Newton steps that links with memory may take from where they were found in equilibrium while elastic."""


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
    """Seek equilibrium of all variants (batch) at one activation, from `poses`.

    Links with memory are elastic first: far from equilibrium they would yield, on paper, to what no wire ever meets.
    From that equilibrium it is mostly near to the true one.
    """
    stiff = elastic_network(network, states)
    if stiff is None:
        return _sought(network, poses, states, activation, settings)
    first = _sought(stiff, poses, states, activation, settings)
    if not first.ok.any():
        return _lost(network, first, states, activation)
    run = iterate(network, first.poses, states, activation, replace(settings, max_steps=_NEAR))
    run.steps += first.steps
    again = first.ok & ~run.ok & any(isinstance(g.law, ContactLaw) for g in network.groups)
    if not again.any():
        return run
    which = np.flatnonzero(again)
    some, theirs = variants(first.poses, which), pick_states(network, states, which)
    part = _sought(pick(network, which), some, theirs, activation, settings)
    return _put_together(network, states, activation, settings, run.poses, run.steps, part, which)


def _lost(network: Network, first: Run, states: list[State], activation: float) -> Run:
    """Return the end of a search that found no equilibrium even with elastic links, with all laws' own response."""
    evaluation = network.evaluate(first.poses, states, activation)
    return Run(first.poses, evaluation, first.residual, first.steps, first.ok)


def elastic_network(network: Network, states: list[State]) -> Network | None:
    """Return the network with all links elastic from `states` on; None when they are so anyway."""
    if not any(g.law.goes_by_path for g in network.groups):
        return None
    groups = [
        g.with_law(g.law.elastic_from(state)) if g.law.goes_by_path else g
        for g, state in zip(network.groups, states, strict=True)
    ]
    return network.replaced(groups)


def _sought(network: Network, poses: Pose, states: list[State], activation: float, settings: Settings) -> Run:
    if not any(isinstance(g.law, ContactLaw) for g in network.groups):
        return iterate(network, poses, states, activation, settings)
    from biomech.mechanics.search import search_contacts

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
    ahead = Foresight(network)
    for taken in range(settings.max_steps + 1):
        evaluation = network.evaluate(poses, states, activation, ahead.respond)
        residual = network.residual(evaluation, poses, activation)
        error = relative_error(residual, evaluation, poses)
        if not (np.isfinite(error) & (error > settings.tolerance)).any() and ahead.forget():
            evaluation = network.evaluate(poses, states, activation)
            residual = network.residual(evaluation, poses, activation)
            error = relative_error(residual, evaluation, poses)
        alive &= np.isfinite(error)
        ok = alive & (error <= settings.tolerance)
        todo = alive & ~ok
        if not todo.any():
            break
        if few(todo):
            return _rest_alone(network, poses, states, activation, settings, todo, steps, predicted, taken)
        stresses = predicted if settings.mixed else None
        dq = newton_step(network, evaluation, poses, residual, stresses, activation, todo, alive)
        step = network.frame_steps(limited(dq, settings, size))
        poses = moved(poses, step)
        predicted = predict(network, evaluation, step)
        ahead.look(evaluation, step, activation)
        steps[todo] += 1
    return Run(poses, evaluation, error, steps, ok)


def few(todo: np.ndarray) -> bool:
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
    part = iterate(pick(network, which), some, pick_states(network, states, which), activation, shorter, ahead)
    return _put_together(network, states, activation, settings, poses, steps, part, which)


def _put_together(
    network: Network,
    states: list[State],
    activation: float,
    settings: Settings,
    poses: Pose,
    steps: np.ndarray,
    part: Run,
    which: np.ndarray,
) -> Run:
    """Return where all variants ended, those of `part` being at the places `which` among `poses` and `steps`."""
    steps[which] += part.steps
    poses = merged(poses, part.poses, which)
    evaluation = network.evaluate(poses, states, activation)
    error = relative_error(network.residual(evaluation, poses, activation), evaluation, poses)
    return Run(poses, evaluation, error, steps, np.isfinite(error) & (error <= settings.tolerance))


def variants(poses: Pose, which: np.ndarray) -> Pose:
    """Return the poses of some of the variants."""
    return Pose(poses.rotation[which], poses.position[which])


def merged(poses: Pose, some: Pose, which: np.ndarray) -> Pose:
    """Return the poses with those of some variants replaced."""
    """Return all variants' poses with those of `some` put back in their places."""
    rotation, position = poses.rotation.copy(), poses.position.copy()
    rotation[which], position[which] = some
    return Pose(rotation, position)


def relative_error(residual: Array, evaluation: Evaluation, poses: Pose | None = None) -> Array:
    """Return the largest residual of every variant over its largest internal force (at least 1).

    With `poses`, what rounding of their coordinates alone makes of the residual (eps times largest stiffness times
    largest coordinate) is forgiven: a stiff fine wire under a few hundredths of a newton gets no nearer.
    """
    scale = np.ones(residual.shape[0])
    for force in evaluation.forces:
        if force.shape[-2]:
            scale = np.maximum(scale, np.abs(force).max(axis=(-1, -2)))
    largest = np.abs(residual).max(axis=-1, initial=0.0)
    if poses is not None and (largest <= _DOUBTED * scale).any():
        stiffest = max((np.abs(r.tangent).max() for r in evaluation.responses if r.stress.shape[-2]), default=0.0)
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
