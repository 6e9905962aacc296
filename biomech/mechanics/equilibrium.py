"""Equilibrium of a network: continuation in the activation, stability, sensitivities."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from biomech.errors import SolveError
from biomech.mechanics import states as memory
from biomech.mechanics.banded import factor, is_definite, negative_pivots
from biomech.mechanics.batch import pick, pick_states
from biomech.mechanics.links import State
from biomech.mechanics.many import newton_many
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.newton import Run, Settings, newton, relative_error, variants
from biomech.mechanics.poses import Array, Pose, pose_exp, pose_log


@dataclass(frozen=True)
class Equilibrium:
    """Converged configurations of a batch of variants.

    `poses` (batch, frames); `evaluated` the links there (None: worked out on demand); `residual` (batch,)
    relative; `steps` (batch,) Newton steps taken in all;
    `negative` (batch,) negative pivots of the exact tangent at the solution: 0 = stable, -1 = cannot be judged, because
    loads without a potential (following ones, moments fixed in space) make the tangent unsymmetric; `left` (batch,)
    True where an unstable equilibrium was found first and left; `energy` (batch,) N.mm; `converged` (batch,);
    `history` one text line per remarkable event.
    """

    network: Network
    poses: Pose
    states: list[State]
    evaluated: Evaluation | None
    residual: Array
    steps: np.ndarray
    negative: np.ndarray
    left: np.ndarray
    energy: Array
    converged: np.ndarray
    history: tuple[str, ...] = ()

    @cached_property
    def evaluation(self) -> Evaluation:
        """The links at the solution; of a large batch only worked out when asked for."""
        return self.evaluated or self.network.evaluate(self.poses, self.states)

    def stress(self, group: int) -> Array:
        """Return the link stresses (batch, n, 6) of group number `group`."""
        return self.evaluation.responses[group].stress

    def frame_forces(self, group: int) -> Array:
        """Return B^T m (batch, n, 12): what the frames must supply to strain the links, body axes."""
        return self.evaluation.forces[group]

    def sensitivity(self, rate: Array, variant: int = 0) -> Array:
        """Return dq/dp = -K^-1 dg/dp as body twists (p, frames, 6).

        `rate` (p, unknowns) is the derivative of the residual at fixed configuration for p parameters; see
        `residual_rate`. Exact: one factorisation of the tangent at the solution and p back-substitutions.
        """
        exact = self.network.tangent(self.evaluation, self.poses, exact=True, coupled=True)[variant]
        skew = None
        if not self.network.has_potential(self.evaluation):
            skew = self.network.skew(self.evaluation, self.poses, exact=True, coupled=True)[variant]
        dq: Array = -factor(exact, skew).solve(np.atleast_2d(rate).T).T
        return self.network.frame_steps(dq)

    def residual_rate(self, stress_rates: dict[int, Array], variant: int = 0) -> Array:
        """Return dg/dp (unknowns,) when the links' stresses change at the given rates.

        `stress_rates` maps a group number to dm/dp (n, 6) at fixed strain: dK (e - rest) - K drest for a linear law.
        """
        forces = []
        for i, k in enumerate(self.evaluation.kinematics):
            rate = stress_rates.get(i)
            zero = np.zeros((1, *k.strain.shape[-2:]))
            one = replace(k, b=k.b[variant : variant + 1])  # type: ignore[type-var]
            forces.append(one.to_frames(zero if rate is None else np.asarray(rate)[None]))
        bare = Network(self.network.frames, self.network.fixed, self.network.groups)
        fake = replace(self.evaluation, forces=forces)
        out: Array = bare.residual(fake, _one(self.poses, variant))[0]
        return out


Progress = Callable[[str, float], None]


def equilibrium(
    network: Network,
    start: Pose,
    *,
    states: Sequence[State] | None = None,
    settings: Settings | None = None,
    target: Pose | None = None,
    progress: Progress | None = None,
) -> Equilibrium:
    """Return the equilibrium reached from the poses `start` (batch, frames).

    `target` gives fixed frames other poses, reached together with the activation. `states` are the links' states
    at the start. Raises SolveError for a single variant without a trustworthy answer; in a batch the failed
    ones carry converged = False.
    """
    settings = settings or Settings()
    states = list(states) if states is not None else network.start_states()
    batch = start.position.shape[0]
    if batch > BLOCK and settings.first_increment >= 1.0:
        return _in_blocks(network, start, states, settings, target)
    if settings.first_increment >= 1.0:
        begin = _prescribed(network, start, target, 1.0)
        if batch > 1:
            return _finish_batch(network, newton_many(network, begin, states, settings), states, settings)
        run = newton(network, begin, states, 1.0, settings)
        if run.ok[0]:
            return finished(network, run, states, settings, [])
    elif batch > 1:
        raise ValueError("small first increments are for one variant at a time")
    run, states, history = _continue(network, start, states, settings, target, progress)
    return finished(network, run, states, settings, history)


BLOCK = 128
"""Variants solved together; a block a processor for a few hundred (measured: larger blocks pay up to here)."""


def _in_blocks(
    network: Network, start: Pose, states: list[State], settings: Settings, target: Pose | None
) -> Equilibrium:
    """Solve a large batch block by block, on as many threads as there are processors (at most four)."""
    network.tangent_places()
    batch = start.position.shape[0]
    blocks = np.array_split(np.arange(batch), -(-batch // BLOCK))

    def one(which: np.ndarray) -> Equilibrium:
        there = None if target is None else variants(target, which)
        return equilibrium(
            pick(network, which), variants(start, which), states=pick_states(network, states, which), settings=settings,
            target=there,
        )  # fmt: skip

    with ThreadPoolExecutor(min(4, os.cpu_count() or 1)) as pool:
        parts = list(pool.map(one, blocks))
    poses = Pose(*(np.concatenate([p.poses[i] for p in parts]) for i in (0, 1)))
    fresh = network.start_states()
    ends = [memory.joined([p.states[i] for p in parts], one) for i, one in enumerate(fresh)]

    def joined(key: str) -> np.ndarray:
        return np.concatenate([getattr(p, key) for p in parts])

    return Equilibrium(
        network, poses, ends, None, joined("residual"), joined("steps"), joined("negative"),
        joined("left"), joined("energy"), joined("converged"),
    )  # fmt: skip


def _prescribed(network: Network, start: Pose, target: Pose | None, activation: float) -> Pose:
    """Move the fixed frames from their start to `activation` of the way to their target."""
    if target is None:
        return start
    way = np.where(network.fixed[None, :, None], pose_log(start.inverse() @ target), 0.0)
    return start @ pose_exp(activation * way)


def _continue(
    network: Network,
    start: Pose,
    states: list[State],
    settings: Settings,
    target: Pose | None,
    progress: Progress | None,
) -> tuple[Run, list[State], list[str]]:
    """Grow the activation from zero, halving the increment when Newton fails (one variant).

    Also returns the states from which the last step was made: those of laws that go by the path move on with it.
    """
    history: list[str] = []
    reached, increment, total = 0.0, min(0.5, settings.first_increment), 0
    poses = start
    while True:
        goal = min(1.0, reached + increment)
        here = poses if target is None else _with_fixed(network, poses, _prescribed(network, start, target, goal))
        run = newton(network, here, states, goal, settings)
        total += int(run.steps[0])
        if progress is not None:
            progress("activation", reached)
        if run.ok[0]:
            poses, reached = run.poses, goal
            if reached >= 1.0:
                run.steps[:] = total
                return run, states, history
            states = [
                r.state if g.law.goes_by_path else state
                for g, r, state in zip(network.groups, run.evaluation.responses, states, strict=True)
            ]
            increment = min(2 * increment, 1 - reached)
            continue
        history.append(f"no convergence at activation {goal:.4g}, residual {run.residual[0]:.1e}; increment halved")
        increment /= 2
        if increment < settings.smallest_increment:
            raise SolveError(_failure(network, run, reached, settings))


def _with_fixed(network: Network, poses: Pose, given: Pose) -> Pose:
    fixed = network.fixed
    rotation = np.where(fixed[None, :, None, None], given.rotation, poses.rotation)
    return Pose(rotation, np.where(fixed[None, :, None], given.position, poses.position))


def _failure(network: Network, run: Run, reached: float, settings: Settings) -> str:
    residual = network.residual(run.evaluation, run.poses)[0]
    lost = np.flatnonzero(~np.isfinite(residual))
    worst = int(lost[0] if len(lost) else np.argmax(np.abs(residual))) // 6
    where, what = network.labels[network.free[worst]], "no number" if len(lost) else "largest"
    return (
        f"no equilibrium: activation reached {reached:.4g} of 1; beyond it {settings.max_steps} Newton steps left a "
        f"relative residual of {run.residual[0]:.1e} (allowed {settings.tolerance:.0e}), {what} at {where}. "
        "Try a smaller activation (widening, torque or bend), a softer tie, more elements per span, or check that "
        "nothing can slide or spin freely."
    )


def _exact_tangent(network: Network, evaluation: Evaluation, poses: Pose) -> Array:
    return network.tangent(evaluation, poses, exact=True)


def finished(network: Network, run: Run, states: list[State], settings: Settings, history: list[str]) -> Equilibrium:
    """Return the equilibrium that a search of one variant ended with, coming from `states`.

    Its stability is checked; an unstable one is left for the lowest stable one found. Raises SolveError without one.
    """
    lower = _exact_tangent(network, run.evaluation, run.poses)
    negative, left = np.zeros(1, dtype=int), np.zeros(1, dtype=bool)
    if is_definite(lower[0]):
        pass
    elif not network.loads.has_potential:
        negative[:] = -1
        history = [*history, _NOT_JUDGED]
    else:
        from biomech.mechanics.stability import leave_unstable

        count = negative_pivots(lower[0])
        run, note = leave_unstable(network, run, states, settings, lower[0])
        history = [*history, f"unstable equilibrium ({count} negative pivot(s)) left: {note}"]
        left[:] = True
    return _result(network, run, states, negative, left, history)


_NOT_JUDGED = (
    "stability could not be judged: loads that turn with what they act on and moments fixed in space have no potential"
)


def _result(
    network: Network, run: Run, states: list[State], negative: np.ndarray, left: np.ndarray, history: list[str]
) -> Equilibrium:
    residual = relative_error(network.residual(run.evaluation, run.poses), run.evaluation)  # nothing forgiven
    return Equilibrium(
        network, run.poses, run.evaluation.states, run.evaluation, residual, run.steps, negative, left,
        network.energy(run.poses, states, 1.0, run.evaluation), run.ok, tuple(history),
    )


def _finish_batch(network: Network, run: Run, states: list[State], settings: Settings) -> Equilibrium:
    lower = _exact_tangent(network, run.evaluation, run.poses)
    judged = network.loads.has_potential
    negative = np.array([0 if is_definite(m) else negative_pivots(m) if judged else -1 for m in lower])
    run.ok = run.ok & (negative <= 0)
    return _result(network, run, states, negative, np.zeros(len(negative), dtype=bool), [])


def _one(poses: Pose, variant: int) -> Pose:
    return Pose(poses.rotation[variant : variant + 1], poses.position[variant : variant + 1])


__all__ = ["Equilibrium", "Settings", "equilibrium", "finished", "relative_error"]
