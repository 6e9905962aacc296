"""What a wire went through before it is tied in: formed, opened by hand, let go.

A wire lies free while it is opened: held at its middle, its ends pulled apart, free to turn and to move otherwise. Let
go, no section carries anything, so every element goes to the strain at which its force and moment vanish; what differs
from the formed shape then is the set.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np

from biomech.errors import InputError, SolveError
from biomech.mechanics.equilibrium import Settings, equilibrium
from biomech.mechanics.links import Linear, Links
from biomech.mechanics.network import Network
from biomech.mechanics.poses import Array, Pose, pose_exp
from biomech.mechanics.states import mapped
from biomech.wire.balance import STEADY, Search
from biomech.wire.fibre_rod import FibreRod, Memory

_GRIP = 1e3
"""Stiffness of the hands across the arch, N/mm: stiff beside any wire (numerical choice)."""
_STEPS = 60
_FREE = 1e-9
_TRIES, _DOUBLINGS = 60, 10
_SETTINGS = Settings(largest_turn=0.5, largest_shift=0.2)


_M = TypeVar("_M")


@dataclass(frozen=True)
class Held:
    """A wire in the hands: `poses` (n + 1,) of its stations, its memory, how far each end was moved out, mm, and the
    `force` of either hand, N.
    """

    poses: Pose
    memory: Memory
    outward: tuple[float, float]
    force: float


@dataclass(frozen=True)
class Opening:
    """A wire after it was opened by hand: `law` remembers, let go; `held` its memory in the hands and `force` that of
    either hand, N, None where it was bent all along.
    """

    law: FibreRod
    held: Memory
    force: float | None


def let_go(law: FibreRod, state: Memory) -> tuple[Array, Memory]:
    """Return strains (..., n, 6) and memory of the elements of a wire that is let go from `state`.

    Raises SolveError when no strain without force and moment is found.
    """

    def respond(strain: Array) -> tuple[Array, Array, Memory]:
        now = law.respond(strain, state)
        return now.stress, now.tangent, now.state

    return _released(respond, law.rest + state.strain, np.asarray(law.section.elastic))


def _released(respond: Callable[[Array], tuple[Array, Array, _M]], strain: Array, elastic: Array) -> tuple[Array, _M]:
    """Return where stress vanishes, sought from `strain` (..., 6), and the state there: the stored energy is least."""
    search, shape = Search(strain.reshape(-1, 6), elastic), strain.shape
    for _ in range(_STEPS):
        stress, tangent, state = respond(strain)
        unit = np.sqrt(np.einsum("...ii->...i", tangent) + STEADY * elastic)
        left = ~(np.abs(stress / unit).max(axis=-1) <= _FREE).reshape(-1)
        if not left.any():
            return strain, state
        flat, which = strain.reshape(-1, 6).copy(), np.flatnonzero(left)
        flat[which] = search.next(
            which, flat[which], stress.reshape(-1, 6)[which], tangent.reshape(-1, 6, 6)[which]
        )
        strain = flat.reshape(shape)
    raise SolveError("the wire let go comes to no rest: its sections carry forces at every strain tried")


def laid_out(strain: Array, middle: int) -> Pose:
    """Return the poses (n + 1,) of the stations of a wire of element strains (n, 6), station `middle` at the origin."""
    relative = pose_exp(strain)
    poses = {middle: Pose(np.eye(3), np.zeros(3))}
    for i in range(middle, len(strain)):
        poses[i + 1] = poses[i] @ relative.take(i)
    for i in range(middle - 1, -1, -1):
        poses[i] = poses[i + 1] @ relative.take(i).inverse()
    ordered = [poses[i] for i in range(len(strain) + 1)]
    return Pose(np.stack([p.rotation for p in ordered]), np.stack([p.position for p in ordered]))


def outward(now: Pose, formed: Pose, ends: tuple[int, int], middle: int) -> tuple[float, float]:
    """Return how much further out the stations `ends` stand, right and left, than in the formed wire, mm.

    Outward is along the wire's own direction at station `middle`, away from it.
    """
    def across(poses: Pose) -> Array:
        there = poses.position[np.array(ends)] - poses.position[middle]
        return np.asarray(there @ poses.rotation[middle][:, 0])

    right, left = across(now) - across(formed)
    return float(-right), float(left)


def hold_open(
    law: FibreRod, ends: tuple[int, int], middle: int, by: float, step: float = 5.0
) -> Held:
    """Return the wire with its stations `ends` held `by` mm further out than formed, in steps of at most `step` mm.

    Raises InputError when the wire is too short, SolveError when it finds no equilibrium.
    """
    formed = laid_out(law.rest, middle)
    _long_enough(law, formed, ends, middle, by)
    count = len(formed.position)
    frames = count + 2
    here, parts = formed, int(np.ceil(abs(by) / step)) or 1
    hands = np.array(ends)
    grip = np.zeros((2, 6, 6))
    grip[:, 0, 0] = _GRIP
    # a hand's own axes are those of the wire's middle: the first of them lies across the arch
    anchors = Pose(np.broadcast_to(formed.rotation[middle], (2, 3, 3)), formed.position[hands])
    stations = np.arange(count)
    wire = Links("wire", stations[:-1], stations[1:], law)
    pull = Links("hands", count + np.arange(2), hands, Linear(grip), "section")
    fixed = np.zeros(frames, dtype=bool)
    fixed[[middle, count, count + 1]] = True
    labels = [f"station {i + 1} of the wire in the hands" for i in range(frames)]
    network = Network(frames, fixed, [wire, pull], labels=labels)
    states, there = network.start_states(), anchors
    for i in range(1, parts + 1):
        start = _beside(here, there)
        shift = by * i / parts * np.array([-1.0, 1.0])[:, None] * formed.rotation[middle][:, 0]
        there = Pose(anchors.rotation, anchors.position + shift)
        target = _beside(here, there)
        solved = equilibrium(network, start, states=states, settings=_SETTINGS, target=target)
        states, here = solved.states, Pose(solved.poses.rotation[0, :count], solved.poses.position[0, :count])
    force = float(np.abs(solved.stress(1)[0, :, 0]).mean())
    memory = mapped(lambda a, one: a.reshape(one.shape), states[0], law.start())
    return Held(here, memory, outward(here, formed, ends, middle), force)


def _long_enough(law: FibreRod, formed: Pose, ends: tuple[int, int], middle: int, by: float) -> None:
    """Raise InputError unless both halves of the wire, pulled straight, are longer than they must reach."""
    length = np.linalg.norm(law.rest[:, :3], axis=-1)
    halves = length[ends[0] : middle].sum(), length[middle : ends[1]].sum()
    there = (formed.position[np.array(ends)] - formed.position[middle]) @ formed.rotation[middle][:, 0]
    room = min(half - abs(float(x)) for half, x in zip(halves, there, strict=True))
    if by > 0.95 * room:
        raise InputError(f"each_side = {by:g} mm: pulled apart by {room:.3g} mm a side the wire would be straight")


def _beside(stations: Pose, hands: Pose) -> Pose:
    """Return poses (1, frames) of stations and hands."""
    return Pose(*(np.concatenate([a, b])[None] for a, b in zip(stations, hands, strict=True)))


def opened(law: FibreRod, ends: tuple[int, int], middle: int, by: float) -> Opening:
    """Return the wire after its ends were held `by` mm a side further out than formed and let go.

    Raises SolveError when the wire finds no equilibrium.
    """
    held = hold_open(law, ends, middle, by)
    _, memory = let_go(law, held.memory)
    return Opening(replace(law, begin=memory), held.memory, held.force)


def bent(law: FibreRod, wanted: Array) -> Opening:
    """Return the wire after it was bent all along, everywhere beyond until, let go, it kept what was wanted.

    `wanted` (n, 2, 6): strains that the sections at the Gauss points keep, twist and curvatures only. Every bit is bent
    by itself and evenly, as between finger and thumb, so that no hand's force is known. Raises InputError when a
    section keeps too little however far it is bent.
    """
    section = law.section
    size = np.sqrt(section.elastic / section.elastic[0])
    amount = np.linalg.norm(wanted * size, axis=-1)
    active = amount > _FREE
    way = np.where(active[..., None], wanted, 0.0) / np.where(active, amount, 1.0)[..., None]
    fresh = section.start(amount.shape)

    def tried(x: Array) -> tuple[Array, tuple[Array, Any], tuple[Array, Any]]:
        """Return what is missing (n, 2) after bending by x (n, 2), and strains and states bent and let go."""
        held = x[..., None] * way
        state = section.respond(held, fresh)[2]
        strain, after = _released(lambda e: section.respond(e, state), held, np.asarray(section.elastic))
        miss = np.where(active, (strain * size**2 * way).sum(axis=-1) - amount, 0.0)
        return miss, (held, state), (strain, after)

    low, below = amount, -amount
    high, above = _enough(tried, amount, active)
    for _ in range(_TRIES):
        x = np.where(active, low - below * (high - low) / np.where(active, above - below, 1.0), 0.0)
        miss, held, left = tried(x)
        if np.abs(miss).max() <= _FREE:
            after = replace(law, begin=law.remembering(*left))
            return Opening(after, law.remembering(*held), None)
        under = miss < 0
        # Illinois: the end that stays counts half, or it would never move
        above, below = np.where(under, 0.5 * above, miss), np.where(under, miss, 0.5 * below)
        low, high = np.where(under, x, low), np.where(under, high, x)
    raise SolveError("bending by hand: no bend found that keeps what is wanted when let go")


def _enough(tried: Callable[[Array], tuple[Array, Any, Any]], amount: Array, active: np.ndarray) -> tuple[Array, Array]:
    """Return bends (n, 2) after which every section keeps more than is wanted, and by how much more (n, 2)."""
    extra = amount + 1e-3
    for _ in range(_DOUBLINGS):
        miss = tried(amount + extra)[0]
        short = active & (miss <= 0)
        if not short.any():
            return amount + extra, miss
        extra = np.where(short, 2 * extra, extra)
    raise InputError("an opening by bending needs a wire that yields: this one comes back however far it is bent")


def relieved(law: FibreRod) -> FibreRod:
    """Return the wire after stress relief: free of stress in the shape in which it lies, without memory."""
    return FibreRod(law.section, law.resting(law.start()), None)
