"""Leaving an unstable equilibrium: follow its softest mode both ways down to stable states."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from biomech.errors import SolveError
from biomech.mechanics.banded import factor, lowest_mode
from biomech.mechanics.links import State
from biomech.mechanics.network import Network
from biomech.mechanics.newton import Run, Settings, limited, moved, relative_error
from biomech.mechanics.poses import Array, Pose

_NUDGE = 0.2  # largest component of the first step along the mode, mm or rad
_DESCENT_STEPS = 400


def leave_unstable(
    network: Network, run: Run, states: list[State], settings: Settings, lower: Array
) -> tuple[Run, str]:
    """Return the stable state of lowest energy reached from an unstable one, and a note for the user.

    Both directions along the softest mode are followed downhill. Raises SolveError when none ends stable.
    """
    _, mode = lowest_mode(lower)
    mode = mode * (_NUDGE / np.abs(mode).max())
    found: list[tuple[float, Run]] = []
    for sign in (1.0, -1.0):
        poses = moved(run.poses, network.frame_steps(sign * mode[None]))
        end = _descend(network, poses, states, settings)
        if end is not None:
            found.append((float(network.energy(end.poses, states)[0]), end))
    if not found:
        raise SolveError(
            "the equilibrium found is unstable (the wire would snap away) and no stable one was reached from it; "
            "try a smaller widening, shorter spans between ties or a stiffer wire."
        )
    found.sort(key=lambda pair: pair[0])
    before = float(network.energy(run.poses, states)[0])
    energies = ", ".join(f"{e:.6g}" for e, _ in found)
    best = found[0][1]
    best.steps = best.steps + run.steps
    return best, f"energy {before:.6g} N.mm; stable states reached at {energies} N.mm; the lowest is reported"


def _descend(network: Network, poses: Pose, states: list[State], settings: Settings) -> Run | None:
    """Minimise the potential: shifted Newton steps with backtracking until the tangent is definite and at rest."""
    energy = float(network.energy(poses, states)[0])
    limits = replace(settings, largest_turn=0.2, largest_shift=2.0)
    for step_number in range(_DESCENT_STEPS):
        evaluation = network.evaluate(poses, states)
        residual = network.residual(evaluation, poses)
        error = relative_error(residual, evaluation, poses)
        lower = network.tangent(evaluation, poses, [r.stress for r in evaluation.responses])[0]
        dq, shifted = _shifted_step(lower, residual[0])
        if error[0] <= settings.tolerance:
            steps = np.array([step_number])
            return None if shifted else Run(poses, evaluation, error, steps, np.ones(1, dtype=bool))
        taken = _backtrack(network, poses, states, energy, dq, residual[0], limits)
        if taken is None:
            return None
        poses, energy = taken
    return None


def _shifted_step(lower: Array, residual: Array) -> tuple[Array, bool]:
    """Return the Newton step of the tangent made positive definite by scaling up its diagonal."""
    shift, diagonal = 0.0, np.abs(lower[:, 0])
    while True:
        trial = lower
        if shift:
            trial = lower.copy()
            trial[:, 0] += shift * diagonal
        f = factor(trial)
        if f.definite:
            return f.solve(-residual), shift > 0
        shift = max(4 * shift, 1e-6)


def _backtrack(
    network: Network, poses: Pose, states: list[State], energy: float, dq: Array, residual: Array, limits: Settings
) -> tuple[Pose, float] | None:
    dq = limited(dq[None], limits)[0]
    slope = float(residual @ dq)
    roundoff = 1e-12 * max(1.0, abs(energy))
    scale = 1.0
    for _ in range(40):
        trial = moved(poses, network.frame_steps(scale * dq[None]))
        value = float(network.energy(trial, states)[0])
        if value <= energy + 1e-4 * scale * slope + roundoff:
            return trial, value
        scale *= 0.5
    return None
