"""One stretch of a course, from a visit to the next: moments kept as plain arrays, so that they can be stored."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from biomech.appliance import Appliance
from biomech.mechanics import states as memory
from biomech.mechanics.equilibrium import Equilibrium
from biomech.mechanics.links import State
from biomech.mechanics.newton import relative_error
from biomech.mechanics.poses import Array, Pose
from biomech.movement.march import Control, Moment, Mover, march

Stop = Callable[[Moment], bool]
WITHIN = 0.5
"""Days within which the moment is found at which a leg stops: steps under a steady load may be months long."""


@dataclass(frozen=True)
class Track:
    """Moments of a leg: `times` (n,) days, poses as `rotation` (n, frames, 3, 3) and `position` (n, frames, 3) mm, and
    by link group the `memory` of its links: their states, every array with n moments in front; of the last moment also
    how it was reached: `rate` (frames, 6), `lasted`, `ahead` and `gone`, see Moment. `errors` (n,) mm: of the step to
    each.
    """

    times: Array
    rotation: Array
    position: Array
    memory: tuple[State, ...]
    rate: Array
    lasted: float
    ahead: float
    errors: Array
    gone: float

    def __len__(self) -> int:
        return len(self.times)


def leg(
    mover: Mover, start: Moment, end: float, lag: float, control: Control, stop: Stop = lambda _: False
) -> list[Moment]:
    """Return the moments from `start` to the time `end`, or to the first at which `stop` says so, within WITHIN days.

    Teeth rest for `lag` days first. `stop` is asked at growing times; where it said yes, again at earlier ones.
    """
    moments = [replace(start, error=0.0)]
    stopped = stop(start)
    if lag > 0.0 and not stopped:
        moments.append(replace(start, time=min(start.time + lag, end), error=0.0))
    if stopped or moments[-1].time >= end:
        return moments
    for moment in march(mover, moments[-1], end, control):
        if stop(moment):
            return [*moments, *_first(mover, moments[-1], moment, control, stop)]
        moments.append(moment)
    return moments


def _first(mover: Mover, before: Moment, passed: Moment, control: Control, stop: Stop) -> list[Moment]:
    """Return the moments after `before` up to the first at which `stop` says so, as it does at `passed`."""
    found: list[Moment] = []
    while passed.time - before.time > WITHIN:
        for moment in march(mover, before, 0.5 * (before.time + passed.time), control):
            if stop(moment):
                passed = moment
                break
            found.append(moment)
            before = moment
    return [*found, passed]


def track_of(moments: Sequence[Moment]) -> Track:
    """Return the moments of a leg as plain arrays."""
    kept = tuple(
        memory.mapped(lambda *arrays: np.stack(arrays), *(m.states[i] for m in moments))
        for i in range(len(moments[0].states))
    )
    return Track(
        np.array([m.time for m in moments]),
        np.concatenate([m.poses.rotation for m in moments]),
        np.concatenate([m.poses.position for m in moments]),
        kept,
        moments[-1].rate,
        moments[-1].lasted,
        moments[-1].ahead,
        np.array([m.error for m in moments]),
        moments[-1].gone,
    )


def moment_at(mover: Mover, track: Track, i: int) -> Moment:
    """Return moment number `i` of a track, evaluated again."""
    poses = Pose(track.rotation[i : i + 1], track.position[i : i + 1])
    states: list[State] = [memory.mapped(lambda a: a[i], m) for m in track.memory]
    moment = mover.moment(float(track.times[i]), poses, states)
    if i % len(track) == len(track) - 1:
        return replace(
            moment, states=states, rate=track.rate, lasted=track.lasted, ahead=track.ahead, gone=track.gone
        )
    return replace(moment, states=states)


def as_stored(mover: Mover, moments: Sequence[Moment], track: Track) -> list[Moment]:
    """Return what `moment_at` finds for the moments of a leg just computed, without evaluating those again in vain.

    Where links remember, an evaluation from the memory with which a moment ends may differ in the last digit from the
    one that led there: such moments are evaluated again, so that a course resumed is the same bit for bit.
    """
    return [m if m.fresh else moment_at(mover, track, i) for i, m in enumerate(moments)]


def equilibrium_of(mover: Mover, moment: Moment) -> Equilibrium:
    """Return a moment as an equilibrium, for everything that reads one."""
    network, evaluation = mover.network, moment.evaluation
    residual = relative_error(network.residual(evaluation, moment.poses), evaluation, moment.poses)
    none = np.zeros(1, dtype=int)
    return Equilibrium(
        network, moment.poses, moment.states, evaluation, residual, none, none, np.zeros(1, dtype=bool),
        network.energy(moment.poses, moment.states), residual <= 10 * mover.settings.tolerance,
    )  # fmt: skip


def standing(appliance: Appliance, poses: Pose) -> Appliance:
    """Return the appliance with its teeth where their sockets stand in `poses` (1, frames): motions start there."""
    teeth = {}
    for number, part in appliance.teeth.items():
        frame = part.socket if part.socket >= 0 else part.frame
        pose = Pose(poses.rotation[0, frame], poses.position[0, frame])
        slot = pose @ (part.pose.inverse() @ part.slot)
        teeth[number] = replace(part, pose=pose, slot=slot)
    return replace(appliance, teeth=teeth, start=poses)
