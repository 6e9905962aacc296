"""Leaving an unstable equilibrium: follow its softest mode both ways down to stable states.

Two ways down. The fast one is the mixed Newton scheme in which the modes of negative stiffness are walked downhill
instead of uphill; it starts from the stresses predicted for the first nudge, so that a stiff wire does not stretch on
paper. Where it gets lost, and with contacts, the wire is let go slowly: it hangs on soft springs that hold it where it
is, finds its equilibrium with them, the springs are moved there, and so on, ever softer (proximal point method, that is
implicit steps along the path of a heavily damped wire; Rockafellar 1976, SIAM J. Control Optim. 14:877; from memory).
Every such step lowers the energy.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from biomech.errors import SolveError
from biomech.mechanics.banded import factor, is_definite, negative_modes
from biomech.mechanics.contact import ContactLaw
from biomech.mechanics.links import Linear, Links, State
from biomech.mechanics.network import Network
from biomech.mechanics.newton import Run, Settings, iterate, limited, newton, relative_error
from biomech.mechanics.poses import Array, Pose
from biomech.mechanics.steps import extent, moved, predict

_NUDGE = 0.2
"""Largest component of the first step along the mode, mm or rad."""
_NUDGES = (_NUDGE, 0.02, 0.002)
"""The same with contacts, tried in turn: a wire may be unstable within the play of its slots, and no further."""
_FLIP_STEPS = 15
_HELD_STEPS = 100
_SHORT = 12  # Newton steps allowed close to equilibrium, before contacts are searched for anew
_EASY = 5  # Newton steps up to which the springs may be softer next time
_STIFFEST = 4.0**12  # of the springs, over their first stiffness
_ROUNDING = 1e-12  # of the energy
_SLOW, _AT_REST = 1e-3, 1e-6  # relative residual from which plain Newton is tried; at which nothing moves any more


def leave_unstable(
    network: Network, run: Run, states: list[State], settings: Settings, lower: Array
) -> tuple[Run, str]:
    """Return the stable state of lowest energy reached from an unstable one, and a note for the user.

    `lower` is the exact tangent there. Both directions along the softest mode are followed downhill. Raises SolveError
    when none ends stable.
    """
    softness, mode = _softest(lower)
    before = float(network.energy(run.poses, states)[0])
    found: list[tuple[float, Run]] = []
    for sign in (1.0, -1.0):
        for end in _ways_down(network, run, states, settings, sign * mode, softness):
            energy = float(network.energy(end.poses, states)[0])
            if energy < before and _is_stable(network, end):
                found.append((energy, end))
                break
    if not found:
        raise SolveError(
            "the equilibrium found is unstable (the wire would snap away) and no stable one was reached from it; "
            "try a smaller widening, shorter spans between ties or a stiffer wire."
        )
    found.sort(key=lambda pair: pair[0])
    energies = ", ".join(f"{e:.6g}" for e, _ in found)
    best = found[0][1]
    best.steps = best.steps + run.steps
    return best, f"energy {before:.6g} N.mm; stable states reached at {energies} N.mm; the lowest is reported"


def _softest(lower: Array) -> tuple[float, Array]:
    """Return minus the lowest eigenvalue of a tangent and its mode (unknowns,), the largest component 1."""
    values, modes = negative_modes(lower)
    if not len(values):
        raise SolveError("the equilibrium found is neutral: something can slide or spin without any resistance.")
    return -float(values[0]), modes[:, 0] / np.abs(modes[:, 0]).max()


def _is_stable(network: Network, run: Run) -> bool:
    return bool(run.ok[0]) and is_definite(network.tangent(run.evaluation, run.poses, exact=True)[0])


def _has_contacts(network: Network) -> bool:
    return any(isinstance(g.law, ContactLaw) for g in network.groups)


def _ways_down(
    network: Network, run: Run, states: list[State], settings: Settings, mode: Array, softness: float
) -> Iterator[Run]:
    """Yield where the ways down end, the fastest first; an end may be no equilibrium at all."""
    if not _has_contacts(network):
        yield _flip_down(network, run, _NUDGE * mode, states, settings)
        yield _let_go(network, run, mode, states, settings, softness)
    else:
        for size in _NUDGES:
            yield _let_go(network, run, mode, states, settings, softness, size)


def _flip_down(network: Network, run: Run, nudge: Array, states: list[State], settings: Settings) -> Run:
    """Follow the mixed Newton scheme with the negative modes turned round."""
    turn, shift = min(settings.largest_turn, 0.3), min(settings.largest_shift, 0.1)
    limits = replace(settings, largest_turn=turn, largest_shift=shift)
    evaluation, poses, size, taken = run.evaluation, run.poses, extent(run.poses), 0
    step = network.frame_steps(nudge[None])
    while taken < _FLIP_STEPS:
        taken += 1
        poses, predicted = moved(poses, step), predict(network, evaluation, step)
        evaluation = network.evaluate(poses, states)
        residual = network.residual(evaluation, poses)
        error = relative_error(residual, evaluation, poses)
        if not error[0] > settings.tolerance:
            break
        lower = network.tangent(evaluation, poses, predicted)[0]
        step = network.frame_steps(limited(_downhill(lower, residual[0])[None], limits, size))
    return Run(poses, evaluation, error, np.array([taken]), error <= settings.tolerance)


def _downhill(lower: Array, residual: Array) -> Array:
    """Return the Newton step (unknowns,), turned round along the modes of negative stiffness."""
    f = factor(lower)
    step: Array = f.solve(-residual)
    if not f.definite:
        values, modes = negative_modes(lower, f)
        step = step + modes @ (2 * (modes.T @ residual) / values)
    return step


def _let_go(
    network: Network,
    run: Run,
    mode: Array,
    states: list[State],
    settings: Settings,
    softness: float,
    size: float = _NUDGE,
) -> Run:
    """Let the wire down on ever softer springs; return the last state, stable or not."""
    held = _Held(network, states, settings)
    stiffness = first = 4 * softness
    end, poses, energy, steps = run, run.poses, float(network.energy(run.poses, states)[0]), 0
    anchors = moved(poses, network.frame_steps(size * mode[None]))
    for _ in range(_HELD_STEPS):
        trial = held.settle(poses, anchors, stiffness)
        steps += int(trial.steps[0])
        lower = float(network.energy(trial.poses, states)[0])
        if not trial.ok[0] or not lower <= energy + _ROUNDING * abs(energy):
            stiffness *= 4
            if stiffness > _STIFFEST * first:
                break
            continue
        poses, anchors, energy = trial.poses, trial.poses, lower
        stiffness /= 3 if trial.steps[0] <= _EASY else 1
        speed, tangent = _motion(network, poses, states)
        if speed < _SLOW and is_definite(tangent):
            end = _near(network, poses, states, settings)
            steps += int(end.steps[0])
            if _is_stable(network, end):
                break
        elif speed < _AT_REST:  # another unstable state: on along its own mode
            softness, mode = _softest(tangent)
            stiffness = first = 4 * softness
            anchors = moved(poses, network.frame_steps(size * mode[None]))
    end.steps = np.array([steps])
    return end


def _near(network: Network, poses: Pose, states: list[State], settings: Settings) -> Run:
    """Seek equilibrium close by; where that fails with contacts, search for those that touch from scratch."""
    run = iterate(network, poses, states, 1.0, replace(settings, max_steps=_SHORT))
    if not run.ok[0] and _has_contacts(network):
        run = newton(network, poses, states, 1.0, settings)
    return run


def _motion(network: Network, poses: Pose, states: list[State]) -> tuple[float, Array]:
    """Return the relative residual at `poses` and the exact tangent (unknowns, band + 1)."""
    evaluation = network.evaluate(poses, states)
    error = relative_error(network.residual(evaluation, poses), evaluation, poses)
    return float(error[0]), network.tangent(evaluation, poses, exact=True)[0]


class _Held:
    """A network with springs from anchors to all its free frames, N/mm and N.mm/rad alike."""

    def __init__(self, network: Network, states: list[State], settings: Settings) -> None:
        free = network.free
        self.frames, self.free, self.states = network.frames, free, [*states, None]
        self.springs = Links("springs", network.frames + np.arange(len(free)), free, Linear(np.eye(6)), "section")
        fixed = np.concatenate([network.fixed, np.ones(len(free), dtype=bool)])
        self.network = Network(len(fixed), fixed, [*network.groups, self.springs], network.loads)
        self.settings = settings

    def settle(self, poses: Pose, anchors: Pose, stiffness: float) -> Run:
        """Return the equilibrium on springs of this stiffness to `anchors`, sought from `poses`."""
        springs = self.springs.with_law(Linear(np.broadcast_to(stiffness * np.eye(6), (len(self.free), 6, 6))))
        network = self.network.replaced([*self.network.groups[:-1], springs])
        both = [np.concatenate([x, y[:, self.free]], axis=1) for x, y in zip(poses, anchors, strict=True)]
        run = _near(network, Pose(both[0], both[1]), self.states, self.settings)
        run.poses = run.poses.take(slice(0, self.frames))
        return run
