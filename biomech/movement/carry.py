"""From one appliance to the next at a visit: teeth, sockets and wires that stay keep their place and memory."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from biomech.appliance import Appliance
from biomech.errors import SolveError
from biomech.mechanics import states as memory
from biomech.mechanics.equilibrium import Equilibrium, Settings, equilibrium
from biomech.mechanics.links import State
from biomech.mechanics.poses import Array, Pose, apply, rotation_exp, rotation_log
from biomech.movement.contacts import settled_near
from biomech.movement.march import Moment

_KIND = ("section", "size", "bevel", "alloy", "young")
"""What a wire is bought by."""


def carried(old: Appliance, now: Moment, new: Appliance) -> tuple[Pose, list[State]]:
    """Return poses (1, frames) and link states with which the search for the new appliance's equilibrium starts.

    Both appliances have the same teeth. A wire that was there with the same stations lies where it lay; any other,
    and a new piece under an old name, is laid in along the teeth where they stand now.
    """
    rotation, position = new.start.rotation.copy(), new.start.position.copy()

    def put(frames: np.ndarray | int, pose: Pose) -> None:
        rotation[0, frames], position[0, frames] = pose

    before = Pose(now.poses.rotation[0], now.poses.position[0])
    for number, part in new.teeth.items():
        was = old.teeth[number]
        put(part.frame, before.take(was.frame))
        if part.socket >= 0 and was.socket >= 0:
            put(part.socket, before.take(was.socket))
    shift = _Shift(new, Pose(rotation[0], position[0]))
    riding = {part.frame for part in new.teeth.values()}
    for name, wire in new.wires.items():
        was_wire = old.wires.get(name)
        free = np.array([i for i, frame in enumerate(wire.frames) if frame not in riding], dtype=int)
        stays = was_wire is not None and not _other_piece(old, new, name)
        if stays and was_wire is not None and _same_stations(was_wire.s, wire.s):
            put(wire.frames[free], before.take(was_wire.frames[free]))
        else:
            laid = Pose(new.start.rotation[0], new.start.position[0]).take(wire.frames[free])
            put(wire.frames[free], shift.of(wire.s[free], laid))
    return Pose(rotation, position), _states(old, now, new)


def _states(old: Appliance, now: Moment, new: Appliance) -> list[State]:
    """Return the memory of links that stay, by the name and size of their group; that of new links is blank.

    A wire opened by hand anew begins with what that left in it; of another wire its holds remember nothing either.
    """
    states = new.network.start_states()
    known = {g.name: (g, state) for g, state in zip(old.network.groups, now.states, strict=True)}
    other = {name for name in new.wires if _other_piece(old, new, name) or _other_kind(old, new, name)}
    bent = {name for name in new.wires if name in other or _opened_anew(old, new, name)}
    anew = {int(g) for name in bent for g in new.wires[name].elements[:, 0]}
    anew |= {hold.group for hold in new.holds if hold.wire in other}
    for i, group in enumerate(new.network.groups):
        if i in anew:
            continue
        was, state = known.get(group.name, (None, None))
        if was is None or len(was) != len(group) or not group.law.keeps_memory_of(was.law):
            continue
        if memory.alike(states[i], state):
            states[i] = state
    return states


def _opened_anew(old: Appliance, new: Appliance, wire: str) -> bool:
    before = old.scenario.wire.get(wire)
    return before is not None and before.opening != new.scenario.wire[wire].opening


def _other_piece(old: Appliance, new: Appliance, wire: str) -> bool:
    before = old.scenario.wire.get(wire)
    return before is not None and before.piece != new.scenario.wire[wire].piece


def _other_kind(old: Appliance, new: Appliance, wire: str) -> bool:
    """Return whether a wire of other section, size or alloy lies in its place: nobody can make one of the other."""
    before, after = old.scenario.wire.get(wire), new.scenario.wire[wire]
    return before is not None and any(getattr(before, key) != getattr(after, key) for key in _KIND)


def _same_stations(old: Array, new: Array) -> bool:
    return old.shape == new.shape and bool(np.allclose(old, new, atol=1e-6))


class _Shift:
    """How the teeth have moved since the start, interpolated along the arch."""

    def __init__(self, appliance: Appliance, poses: Pose) -> None:
        parts = sorted(appliance.teeth.values(), key=lambda p: p.s)
        self.s = np.array([p.s for p in parts])
        frames = np.array([p.frame for p in parts])
        at = np.stack([p.slot.position for p in parts])
        now = poses.take(frames)
        was = Pose(np.stack([p.pose.rotation for p in parts]), np.stack([p.pose.position for p in parts]))
        moves = now @ was.inverse()
        self.turn, self.move = rotation_log(moves.rotation), moves.point(at) - at
        self.at = at

    def of(self, s: Array, laid: Pose) -> Pose:
        """Return the poses `laid` (n,) at s (n,) moved along with the teeth."""

        def between(values: Array) -> Array:
            return np.stack([np.interp(s, self.s, values[:, i]) for i in range(3)], axis=-1)

        turn = rotation_exp(between(self.turn))
        arm = laid.position - between(self.at)
        return Pose(turn @ laid.rotation, between(self.at) + between(self.move) + apply(turn, arm))


def settled(
    appliance: Appliance, poses: Pose, states: list[State], settings: Settings, *, near: bool = False
) -> Equilibrium:
    """Return the equilibrium reached from `poses`; where one leap fails, the wires are loaded little by little.

    `near`: an equilibrium of these teeth and much of these wires is known at `poses`. Without it the search is that
    of `solve`, to the last digit. Raises SolveError when nothing arrives.
    """
    try:
        found = settled_near(appliance.network, poses, states, settings) if near else None
        return found or equilibrium(appliance.network, poses, states=states, settings=settings)
    except SolveError:
        groups = list(appliance.network.groups)
        for i, g in enumerate(groups):
            if i != appliance.ligament_group:
                groups[i] = g.passive_at(poses, g.law.resting(states[i]))
        slow = replace(settings, first_increment=0.125)
        return equilibrium(appliance.network.replaced(groups), poses, states=states, settings=slow)
