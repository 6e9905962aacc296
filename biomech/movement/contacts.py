"""Equilibrium near a known one: contacts are kept as they were, and opened or closed once everything else is at rest.

Newton on all walls at once flips many of them at every step, since a wall's force changes by newtons over a thousandth
of a millimetre, and may flip them for ever. From one step in time to the next few contacts change; kept fixed, the
rest is smooth and converges in two or three steps, and then only the walls with the wrong sign are changed (an active
set method; Nocedal and Wright 2006, Numerical Optimization, ch. 16; from memory). Where that does not end, the search
of mechanics.newton from scratch takes over.
"""

from __future__ import annotations

import numpy as np

from biomech.mechanics.contact import ContactLaw
from biomech.mechanics.links import Law, Response, State
from biomech.mechanics.network import Network
from biomech.mechanics.newton import Run, Settings, limited, newton, relative_error
from biomech.mechanics.poses import Array, Pose
from biomech.mechanics.steps import extent, moved, solve_each, strain_step

Touching = dict[int, np.ndarray]
"""By group number: which walls (1, n, m) push."""
_AT_REST = 1e-3
_STEPS = 30


def touching(network: Network, poses: Pose) -> Touching:
    """Return which walls push at `poses` (1, frames)."""
    return {i: _depth(network, poses, i) > 0 for i, g in enumerate(network.groups) if isinstance(g.law, ContactLaw)}


def settle(
    network: Network, poses: Pose, states: list[State], settings: Settings, walls: Touching
) -> tuple[Run, Touching]:
    """Return the equilibrium near `poses` (1, frames), starting with the contacts `walls`, and the contacts there.

    `ok` of the run tells whether it was found.
    """
    run, found = _keep_and_change(network, poses, states, settings, walls)
    if not run.ok[0]:
        run = newton(network, poses, states, 1.0, settings)
        found = touching(network, run.poses)
    return run, found


def _keep_and_change(
    network: Network, poses: Pose, states: list[State], settings: Settings, walls: Touching
) -> tuple[Run, Touching]:
    predicted: list[Array] | None = None
    seen: set[bytes] = set()
    alive = np.ones(1, dtype=bool)
    for taken in range(_STEPS):
        evaluation = network.evaluate(poses, states, 1.0, _Kept(walls))
        residual = network.residual(evaluation, poses)
        error = relative_error(residual, evaluation, poses)
        if not np.isfinite(error).all():
            break
        if error[0] <= _AT_REST:
            now = touching(network, poses)
            same = all(np.array_equal(now[i], walls[i]) for i in walls)
            if same and error[0] <= settings.tolerance:
                return Run(poses, evaluation, error, np.array([taken]), error <= settings.tolerance), walls
            if not same:
                walls = _changed(network, poses, walls, now, seen)
                evaluation = network.evaluate(poses, states, 1.0, _Kept(walls))
                residual = network.residual(evaluation, poses)
        true = [r.stress for r in evaluation.responses]
        lower = network.tangent(evaluation, poses, predicted or true)
        step = network.frame_steps(limited(solve_each(lower, residual, alive, alive), settings, extent(poses)))
        if not alive.all():
            break
        poses = moved(poses, step)
        predicted = [
            r.stress + np.matmul(r.tangent, strain_step(g, k, step)[..., None])[..., 0]
            for g, k, r in zip(network.groups, evaluation.kinematics, evaluation.responses, strict=True)
        ]
    return Run(poses, evaluation, error, np.array([taken]), np.zeros(1, dtype=bool)), walls


def _changed(network: Network, poses: Pose, walls: Touching, now: Touching, seen: set[bytes]) -> Touching:
    """Return the contacts to try next: all that are wrong changed, or, when that was tried before, the worst ones."""
    whole = b"".join(np.packbits(now[i]).tobytes() for i in sorted(now))
    if whole not in seen:
        seen.add(whole)
        return now
    wrong = {i: np.where(now[i] != walls[i], np.abs(_depth(network, poses, i)), 0.0) for i in now}
    worst = max(float(w.max(initial=0.0)) for w in wrong.values())
    return {i: np.where(wrong[i] >= 0.5 * worst, now[i], walls[i]) for i in now}


def _depth(network: Network, poses: Pose, group: int) -> Array:
    links = network.groups[group]
    assert isinstance(links.law, ContactLaw)
    return links.law.walls(links.strain(poses))[0]


class _Kept:
    """Stands in for the contact laws' own response: the given walls push and pull, the others do neither."""

    def __init__(self, walls: Touching) -> None:
        self.walls = walls

    def __call__(self, number: int, law: Law, strain: Array, state: State) -> Response:
        if not isinstance(law, ContactLaw):
            return law.respond(strain, state)
        depth, stiffness = law.walls(strain)
        kept = np.where(self.walls[number], stiffness, 0.0)
        return law.combine(strain, state, kept * depth, kept)
