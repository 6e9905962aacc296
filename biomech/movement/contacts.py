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
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.newton import Run, Settings, limited, newton, relative_error
from biomech.mechanics.poses import Array, Pose
from biomech.mechanics.steps import extent, moved, newton_step, predict

Touching = dict[int, np.ndarray]
"""By group number: which walls (1, n, m) push."""
_AT_REST = 1e-3
_STEPS = 30
LAST = 3e-5
"""Relative residual below which one more step of Newton is the last, unchecked: it leaves some 1e-6, far below the
error of the time rule. The moment that a step ends with is brought to the full tolerance."""


def touching(network: Network, poses: Pose) -> Touching:
    """Return which walls push at `poses` (1, frames)."""
    laws = ((i, g, g.law) for i, g in enumerate(network.groups))
    return {i: law.walls(g.strain(poses))[0] > 0 for i, g, law in laws if isinstance(law, ContactLaw)}


def _touching(network: Network, evaluation: Evaluation) -> Touching:
    laws = ((i, g.law) for i, g in enumerate(network.groups))
    strains = [k.strain for k in evaluation.kinematics]
    return {i: law.walls(strains[i])[0] > 0 for i, law in laws if isinstance(law, ContactLaw)}


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
    last = False
    for taken in range(_STEPS):
        evaluation = network.evaluate(poses, states, 1.0, _Kept(walls))
        residual = network.residual(evaluation, poses)
        error = relative_error(residual, evaluation, poses)
        if not np.isfinite(error).all():
            break
        if error[0] <= _AT_REST:
            now = _touching(network, evaluation)
            same = all(np.array_equal(now[i], walls[i]) for i in walls)
            last = same and error[0] <= min(LAST, 3e4 * settings.tolerance)
            if not same:
                walls = _changed(network, evaluation, walls, now, seen)
                evaluation = network.evaluate(poses, states, 1.0, _Kept(walls))
                residual = network.residual(evaluation, poses)
        dq = newton_step(network, evaluation, poses, residual, predicted, 1.0, alive.copy(), alive)
        if not alive.all():
            break
        step = network.frame_steps(limited(dq, settings, extent(poses)))
        poses = moved(poses, step)
        if last:
            return Run(poses, evaluation, error, np.array([taken]), np.ones(1, dtype=bool)), walls
        predicted = predict(network, evaluation, step)
    return Run(poses, evaluation, error, np.array([taken]), np.zeros(1, dtype=bool)), walls


def _changed(
    network: Network, evaluation: Evaluation, walls: Touching, now: Touching, seen: set[bytes]
) -> Touching:
    """Return the contacts to try next: all that are wrong changed, or, when that was tried before, the worst ones."""
    whole = b"".join(np.packbits(now[i]).tobytes() for i in sorted(now))
    if whole not in seen:
        seen.add(whole)
        return now
    wrong = {i: np.where(now[i] != walls[i], np.abs(_depth(network, evaluation, i)), 0.0) for i in now}
    worst = max(float(w.max(initial=0.0)) for w in wrong.values())
    return {i: np.where(wrong[i] >= 0.5 * worst, now[i], walls[i]) for i in now}


def _depth(network: Network, evaluation: Evaluation, group: int) -> Array:
    law = network.groups[group].law
    assert isinstance(law, ContactLaw)
    return law.walls(evaluation.kinematics[group].strain)[0]


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
