"""March an appliance through time: adaptive steps, an equilibrium at every stage, warm from the last."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from biomech.appliance import Appliance
from biomech.errors import InputError, SolveError
from biomech.mechanics import states as memory
from biomech.mechanics.banded import factor
from biomech.mechanics.equilibrium import equilibrium
from biomech.mechanics.links import State
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.newton import Settings, relative_error
from biomech.mechanics.poses import Array, Pose, jacobian_inverse, pose_exp, pose_log
from biomech.mechanics.steps import moved, newton_step
from biomech.mechanics.touch import touching
from biomech.movement.contacts import LAST, settle
from biomech.movement.creep import Creep, rate_of
from biomech.movement.levers import Levers
from biomech.movement.scheme import Scheme, scheme
from biomech.rates import RateLaw
from biomech.tooth.support import RootBed

ARM = 10.0
"""mm by which rotations are weighed against translations in the error: about half a tooth's length."""
_SCHEME = scheme()
_GROWTH, _SAFETY, _WORST = 5.0, 0.85, 0.2
_POLISH = 8
_FEW = 2
"""Teeth up to which nothing is forgotten and little touches."""
_LOOSE = 1.0
"""Relative residual before the last step of Newton at a stage, over the tolerance of a step in time: at the courses'
default 15 % fewer evaluations than with LAST; after two years teeth are no further from those of fine steps. Wires with
memory gain nothing by it."""
_LOOSEST = 1e-3
"""The same at most, however coarse the steps."""


@dataclass(frozen=True)
class Control:
    """How steps in time are chosen.

    `tolerance`: error allowed in one step (of the worst tooth), relative to the largest elastic motion plus
    the way gone since the course began; `floor` mm added to that scale; `first`, `largest`, `smallest` step, days;
    `most_steps` before giving up; `fixed`: every step is `largest`, whatever the error.

    The default keeps one tooth against one spring within 1e-4 of the closed form. For an arch see `usual_tolerance`.
    """

    tolerance: float = 7e-5
    floor: float = 0.3
    first: float = 0.25
    largest: float = 90.0
    smallest: float = 1e-9
    most_steps: int = 20_000
    fixed: bool = False


def usual_tolerance(teeth: int) -> float:
    """Return the tolerance for a course of so many teeth.

    In an arch most errors die out, and contacts that open and close limit what small steps gain: two years with an
    overlay end within 0.0024 mm of steps a hundred times as accurate at 1e-3, within 0.001 mm at 1e-4, which takes 1.6
    times as long (measured).
    """
    return Control.tolerance if teeth <= _FEW else 1e-3


@dataclass(frozen=True)
class Moment:
    """The appliance at one time: days since the course began, poses (1, frames), sockets included, and links' states.

    `rate` (frames, 6) body twist rates, per day, by which the frames came here over the last `lasted` days: the next
    step starts its search from them; `ahead` days is a good next step, 0 when none is known. `error` mm: the estimated
    error of the step that came here, of the worst tooth; `gone` mm the way of the fastest sockets from step to
    step since the course began. `fresh`: `evaluation` began from these very `states`, so that evaluating again changes
    nothing.
    """

    time: float
    poses: Pose
    states: list[State]
    evaluation: Evaluation
    rate: Array
    lasted: float = 0.0
    ahead: float = 0.0
    error: float = 0.0
    gone: float = 0.0
    fresh: bool = False


class Mover:
    """An appliance with a rate law: what does not change while time passes."""

    def __init__(self, appliance: Appliance, law: RateLaw, settings: Settings) -> None:
        if appliance.ligament_group < 0:
            raise InputError("every tooth is held rigidly: nothing can move in time")
        self.appliance, self.law, self.settings = appliance, law, settings
        self.network = appliance.network
        self.group = self.network.groups[appliance.ligament_group]
        bed = self.group.law
        assert isinstance(bed, RootBed)
        self.bed = bed
        parts = [p for p in appliance.teeth.values() if p.ligament is not None]
        self.levers = Levers.of(bed.stiffness, [p.modulus for p in parts])
        self.sockets = self.group.a

    def moment(self, time: float, poses: Pose, states: list[State]) -> Moment:
        """Return the moment at given equilibrium poses."""
        evaluation = self.network.evaluate(poses, states)
        fresh = memory.same(states, evaluation.states)
        return Moment(time, poses, evaluation.states, evaluation, np.zeros((self.network.frames, 6)), fresh=fresh)

    def rates(self, moment: Moment) -> Array:
        """Return the twist rates (T, 6) of the sockets in their own axes, mm/day and rad/day."""
        i = self.appliance.ligament_group
        q, response = moment.evaluation.kinematics[i].strain, moment.evaluation.responses[i]
        flow = rate_of(self.law, self.levers, q, response.stress, np.broadcast_to(response.tangent, (*q.shape, 6)))
        out: Array = (flow.rate[..., None] * q)[0]
        return out

    def softened(self, weight: float) -> tuple[Network, Creep]:
        """Return the network whose ligaments yield over `weight` days."""
        law = Creep(self.bed, self.law, self.levers, weight)
        groups = list(self.network.groups)
        groups[self.appliance.ligament_group] = self.group.with_law(law)
        return self.network.replaced(groups), law

    def with_sockets(self, poses: Pose, sockets: Pose) -> Pose:
        """Return poses (1, frames) with the sockets at other poses (T,)."""
        rotation, position = poses.rotation.copy(), poses.position.copy()
        rotation[0, self.sockets], position[0, self.sockets] = sockets
        return Pose(rotation, position)

    def sockets_of(self, poses: Pose) -> Pose:
        """Return the poses (T,) of the sockets."""
        return Pose(poses.rotation[0, self.sockets], poses.position[0, self.sockets])


@dataclass(frozen=True)
class _Trial:
    poses: Pose
    error: Array  # (T, 6): estimated error of the sockets' twist over the step


def step(mover: Mover, now: Moment, h: float, rule: Scheme = _SCHEME, last: float = LAST) -> _Trial | None:
    """Return where a step of `h` days leads, with an error estimate; None when a stage has no equilibrium.

    `last`: how near to it the stages' search ends, see contacts.LAST.
    """
    network, law = mover.softened(rule.stages[1, 1] * h)
    start = mover.sockets_of(now.poses)
    slopes = [mover.rates(now)]
    poses, walls = now.poses, touching(network, now.poses)
    stresses = [r.stress for r in now.evaluation.responses]
    # twists of all frames from here, at nodes of this step; the step before, run backwards, is one of them
    known_at, known_twists = [0.0], [np.zeros_like(now.rate)]
    if now.lasted > 0.0:
        known_at.append(-now.lasted / h)
        known_twists.append(-now.lasted * now.rate)
    for i in range(1, len(rule.nodes)):
        known = h * sum(w * k for w, k in zip(rule.stages[i, :i], slopes, strict=True))
        ahead = _ahead(slopes, rule.nodes[:i], rule.nodes[i])
        # B of the creep law: such that with the expected rate the whole twist adds up in the chart
        whole = known + rule.stages[i, i] * h * ahead
        body = np.linalg.solve(jacobian_inverse(whole)[0], ahead[..., None])[..., 0]
        base = start @ pose_exp(whole) @ pose_exp(-rule.stages[i, i] * h * body)
        guess = now.poses @ pose_exp(_interpolated(known_at, known_twists, rule.nodes[i]))
        begin = mover.with_sockets(guess, base)
        run, walls = settle(network, begin, now.states, mover.settings, walls, stresses, last)
        if not run.ok[0]:
            return None
        stresses = [r.stress for r in run.evaluation.responses]
        strain = mover.group.strain(run.poses)
        grown = strain - law.motion(strain)
        sockets = base @ pose_exp(grown[0])
        twist = pose_log(start.inverse() @ sockets)
        # of the twist in the chart at the step's start; exact, so that the error of `base` enters one order higher
        rate = grown[0] / (rule.stages[i, i] * h)
        slopes.append(np.einsum("tij,tj->ti", jacobian_inverse(twist)[0], rate))
        poses = mover.with_sockets(run.poses, sockets)
        known_at.append(rule.nodes[i])
        known_twists.append(pose_log(now.poses.inverse() @ poses)[0])
    # the weights are those of the last stage; summing up leaves out the small error of its `base`
    whole = h * sum(w * k for w, k in zip(rule.stages[-1], slopes, strict=True))
    error = h * sum(w * k for w, k in zip(rule.error, slopes, strict=True))
    # whole, though teeth that relax faster than the step forget much of it: with what they forget taken off, contacts
    # that open late in a step went by unseen (measured: errors ten times the tolerance, for a fifth fewer steps)
    return _Trial(mover.with_sockets(poses, start @ pose_exp(np.asarray(whole))), np.asarray(error))


def _ahead(slopes: list[Array], nodes: Array, node: float) -> Array:
    """Return the rates expected at `node` from those of the stages before."""
    return _interpolated(nodes, slopes, node)


def _interpolated(nodes: Sequence[float] | Array, values: Sequence[Array], node: float) -> Array:
    """Return the value at `node` of the parabola through the three values at the nodes nearest to it."""
    near = np.argsort(np.abs(np.asarray(nodes) - node))[:3]
    out = np.zeros_like(values[0])
    for i in near:
        others = [j for j in near if j != i]
        out += np.prod([(node - nodes[j]) / (nodes[i] - nodes[j]) for j in others]) * values[i]
    return out


def march(mover: Mover, start: Moment, end: float, control: Control) -> Iterator[Moment]:
    """Yield the moments after `start` up to the time `end`, one a step.

    Raises SolveError when no equilibrium is found however short the step.
    """
    now, h, taken = start, control.largest if control.fixed else start.ahead or control.first, 0
    path = any(g.law.goes_by_path for g in mover.network.groups)
    last = LAST if path else max(LAST, min(_LOOSE * control.tolerance, _LOOSEST))
    scale = _largest(_elastic(mover, start)) + start.gone + control.floor
    while end - now.time > 1e-9 * max(1.0, abs(end)):
        left, wish = end - now.time, h
        h = left if h > 0.999 * left else min(h, 0.5 * left) if h > 0.5 * left and not control.fixed else h
        trial = step(mover, now, h, last=last)
        if trial is None:
            h *= 0.25
        else:
            slip = _farthest(trial.error)
            error = slip / (control.tolerance * scale)
            new = h * min(_GROWTH, max(_WORST, _SAFETY * error ** (-1 / _SCHEME.order))) if error > 0 else _GROWTH * h
            new = control.largest if control.fixed else min(new, control.largest)
            if control.fixed or error <= 1.0:
                if h < wish and new >= _GROWTH * h:  # cut short by the end only
                    new = max(new, wish)
                until = now.time + h if h < left else end
                try:
                    now = replace(_accept(mover, now, trial, until, new), error=slip)
                except SolveError as error_there:
                    raise SolveError(f"on day {until:.4g} {error_there}") from None
                scale = _largest(_elastic(mover, now)) + now.gone + control.floor
                yield now
            h = new
        taken += 1
        if h < control.smallest or taken > control.most_steps:
            raise SolveError(
                f"the course does not get beyond day {now.time:.4g}: steps of {h:.1e} days find no equilibrium that "
                "is accurate enough. Activate less, or look at what snaps or slips there"
            )


def _accept(mover: Mover, now: Moment, trial: _Trial, time: float, ahead: float) -> Moment:
    """Return the moment after a step; where the wire has become unstable, let it snap."""
    poses, evaluation = _polished(mover, trial.poses, now.states)
    rate = pose_log(now.poses.inverse() @ poses)[0] / (time - now.time)
    gone = now.gone + _largest(pose_log(mover.sockets_of(now.poses).inverse() @ mover.sockets_of(poses)))
    fresh = memory.same(now.states, evaluation.states)
    return Moment(time, poses, evaluation.states, evaluation, rate, time - now.time, ahead, gone=gone, fresh=fresh)


def _polished(mover: Mover, poses: Pose, states: list[State]) -> tuple[Pose, Evaluation]:
    """Return the exact equilibrium near `poses`, sockets where they are, and all links there."""
    network = mover.network
    for _ in range(_POLISH):
        evaluation = network.evaluate(poses, states)
        residual = network.residual(evaluation, poses)
        lower = network.tangent(evaluation, poses, [r.stress for r in evaluation.responses])[0]
        try:
            factored = factor(lower)
        except np.linalg.LinAlgError:
            break
        if not factored.definite:
            break
        if relative_error(residual, evaluation, poses)[0] <= mover.settings.tolerance:
            return poses, evaluation
        if network.has_potential(evaluation):
            dq = factored.solve(-residual[0])[None]
        else:
            one = np.ones(1, dtype=bool)
            dq = newton_step(network, evaluation, poses, residual, None, 1.0, one, one)
        poses = moved(poses, network.frame_steps(dq))
    found = equilibrium(network, poses, states=states, settings=mover.settings)
    return found.poses, found.evaluation


def _elastic(mover: Mover, moment: Moment) -> Array:
    return np.asarray(moment.evaluation.kinematics[mover.appliance.ligament_group].strain[0])


def _farthest(twists: Array) -> float:
    """Return the length of the longest of twists (T, 6), rotations weighed by ARM, mm."""
    square = (twists[:, :3] ** 2).sum(axis=-1) + ARM**2 * (twists[:, 3:] ** 2).sum(axis=-1)
    return float(np.sqrt(square.max()))


def _largest(twists: Array) -> float:
    """Return the largest of twists (T, 6), rotations weighed by ARM, mm."""
    return float(max(np.abs(twists[:, :3]).max(initial=0.0), ARM * np.abs(twists[:, 3:]).max(initial=0.0)))


__all__ = ["Control", "Moment", "Mover", "march", "step", "usual_tolerance"]
