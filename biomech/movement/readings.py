"""What is read off an arch at one moment of a course: movement since the start, forces, widths, what wires hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from biomech.appliance import Appliance, WirePart
from biomech.appliance.inside import inside
from biomech.mechanics.links import Linear, State
from biomech.mechanics.poses import Array, Pose, rotation_log
from biomech.movement.march import Moment
from biomech.wire.rod import resultants

_CUSPS = ("palatal cusp", "lingual cusp")


@dataclass(frozen=True)
class WireLeft:
    """What a wire holds at one moment: `energy` N.mm stored in it, `utilisation` peak stress over elastic limit.

    `remembers`: past its limit it has yielded, instead of being computed as if it had not; then `reading` says what its
    fibres keep, "set" (strain) or "martensite" (share), and `largest` how much of it the worst of them; `given` what
    the worst kept when the wire was laid in, after it was opened by hand.
    """

    energy: float
    utilisation: float
    remembers: bool = False
    reading: str = ""
    largest: float = 0.0
    given: float = 0.0


@dataclass(frozen=True)
class Reading:
    """The arch at one moment. Movements count from the start of the course; teeth from the patient's right to left.

    By tooth: `crown`, `apex` (T, 3) mm: movement of the long axis at the depths of edge and apex, free of rotation
    about it; `edge`, `root_end`, `resistance` (T, 3) mm: of edge (buccal cusp), apex and centre of resistance; all +
    mesial, buccal, occlusal; `turn` (T, 3) deg: torque + buccal root, tip + mesial crown, rotation + mesial out;
    `cusp` (T,) mm: occlusal movement of the palatal (lingual) cusp, 0 where there is none (see `has_cusp`); `force`
    (T, 3) N and `moment` (T, 3) N.mm at the bracket by wires and loads, directions as above. Arch: `widths` and
    `apex_widths` mm between fellows' edges (buccal cusps) and apices, by place from the midline (3 canine, 6 first
    molar); `midline` mm to the patient's left; `perimeter` mm along the slots; `wires` by name; `unbalanced` N,
    `unbalanced_moment` N.mm and `throughput` N of the wires' forces on all teeth.
    """

    day: float
    teeth: tuple[int, ...]
    crown: Array
    apex: Array
    edge: Array
    root_end: Array
    resistance: Array
    turn: Array
    cusp: Array
    has_cusp: np.ndarray
    force: Array
    moment: Array
    widths: Mapping[int, float]
    apex_widths: Mapping[int, float]
    midline: float | None
    perimeter: float
    wires: Mapping[str, WireLeft]
    unbalanced: float
    unbalanced_moment: float
    throughput: float

    @property
    def lead(self) -> Array:
        """How far each crown leads its root buccally (T,), mm, both on the long axis: a turn about it is no lead."""
        out: Array = self.crown[:, 1] - self.apex[:, 1]
        return out

    def of(self, number: int) -> int:
        """Return the row of a tooth."""
        return self.teeth.index(number)


class Reader:
    """Reads moments of one appliance; `start` (T,) poses of its teeth when the course began."""

    def __init__(self, appliance: Appliance, start: Pose) -> None:
        parts = list(appliance.teeth.values())
        self.appliance, self.start = appliance, start
        self.numbers = tuple(p.number for p in parts)
        self.frames = np.array([p.frame for p in parts])
        self.side = np.array([float(p.tooth.side_sign) for p in parts])
        self.jaw = float(parts[0].tooth.jaw_sign)
        self.edge, self.apex = (np.stack([p.tooth.landmarks[k] for p in parts]) for k in ("edge", "apex"))
        self.slot = np.stack([p.slot_in_tooth.position for p in parts])
        cusps = [next((p.tooth.landmarks[c] for c in _CUSPS if c in p.tooth.landmarks), None) for p in parts]
        self.has_cusp = np.array([c is not None for c in cusps])
        self.cusp = np.stack([np.zeros(3) if c is None else c for c in cusps])
        resistance = np.stack([_resistance(appliance, number) for number in self.numbers])
        axis = {f"axis {k}": mark * [0.0, 0.0, 1.0] for k, mark in (("edge", self.edge), ("apex", self.apex))}
        first = appliance.network.start_states()
        self._given = {name: _kept(wire, first)[1] for name, wire in appliance.wires.items() if wire.past is not None}
        self._marks = {"edge": self.edge, "apex": self.apex, **axis, "resistance": resistance, "cusp": self.cusp}

    def read(self, moment: Moment) -> Reading:
        """Return the reading of one moment."""
        now = Pose(moment.poses.rotation[0, self.frames], moment.poses.position[0, self.frames])
        relative = self.start.inverse() @ now
        forces = self._wrenches(moment)
        at_slot = forces[:, 3:] - np.cross(self.slot, forces[:, :3])
        force, turn, total = self._balance(now, moment)
        moved = {k: self._words(relative.point(mark) - mark) for k, mark in self._marks.items()}
        return Reading(
            day=moment.time,
            teeth=self.numbers,
            crown=moved["axis edge"],
            apex=moved["axis apex"],
            edge=moved["edge"],
            root_end=moved["apex"],
            resistance=moved["resistance"],
            turn=np.degrees(self._turns(rotation_log(relative.rotation))),
            cusp=np.where(self.has_cusp, moved["cusp"][:, 2], 0.0),
            has_cusp=self.has_cusp,
            force=self._words(forces[:, :3]),
            moment=self._turns(at_slot),
            widths=self._spans(now, self.edge),
            apex_widths=self._spans(now, self.apex),
            midline=self._midline(now),
            perimeter=float(np.linalg.norm(np.diff(now.point(self.slot), axis=0), axis=-1).sum()),
            wires={
                name: _left(wire, self.appliance, moment, self._given.get(name, 0.0))
                for name, wire in self.appliance.wires.items()
            },
            unbalanced=force,
            unbalanced_moment=turn,
            throughput=total,
        )

    def _words(self, vectors: Array) -> Array:
        """Return vectors (T, 3) in tooth axes as mesial, buccal, occlusal, like appliance.words.directions."""
        return np.stack([self.side * vectors[:, 0], vectors[:, 1], -self.jaw * vectors[:, 2]], axis=-1)

    def _turns(self, vectors: Array) -> Array:
        """Return rotations or moments (T, 3) in tooth axes as torque, tip, rotation, like appliance.words.named."""
        return np.stack(
            [-self.jaw * vectors[:, 0], -self.jaw * self.side * vectors[:, 1], self.side * vectors[:, 2]], axis=-1
        )

    def _wrenches(self, moment: Moment, loads: bool = True) -> Array:
        """Return force and moment (T, 6) about each tooth's origin by wires (and applied loads), tooth axes."""
        network = self.appliance.network
        total = np.zeros((network.frames, 6))
        for i, group in enumerate(network.groups):
            if i != self.appliance.ligament_group:
                np.add.at(total, group.a, -moment.evaluation.forces[i][0, :, :6])
                np.add.at(total, group.b, -moment.evaluation.forces[i][0, :, 6:])
        if loads and len(network.loads):
            np.add.at(total, network.loads.frame, network.loads.wrenches(moment.poses)[0])
        out: Array = total[self.frames]
        return out

    def _balance(self, now: Pose, moment: Moment) -> tuple[float, float, float]:
        wrench = self._wrenches(moment, loads=False)
        force = np.einsum("tij,tj->ti", now.rotation, wrench[:, :3])
        turn = np.einsum("tij,tj->ti", now.rotation, wrench[:, 3:]) + np.cross(now.position, force)
        sizes = np.linalg.norm(force, axis=-1).sum()
        return float(np.linalg.norm(force.sum(axis=0))), float(np.linalg.norm(turn.sum(axis=0))), float(sizes)

    def _spans(self, now: Pose, mark: Array) -> dict[int, float]:
        points = dict(zip(self.numbers, now.point(mark), strict=True))
        right, left = (1, 2) if self.jaw > 0 else (4, 3)
        pairs = {k: (10 * right + k, 10 * left + k) for k in range(1, 8)}
        return {k: float(np.linalg.norm(points[a] - points[b])) for k, (a, b) in pairs.items() if {a, b} <= set(points)}

    def _midline(self, now: Pose) -> float | None:
        pair = next((p for p in ((11, 21), (41, 31)) if set(p) <= set(self.numbers)), None)
        if pair is None:
            return None
        rows = [self.numbers.index(n) for n in pair]
        moved = now.point(self.edge) - self.start.point(self.edge)
        return float(moved[rows, 0].mean())


def _resistance(appliance: Appliance, number: int) -> Array:
    from biomech.tooth.resistance import point_of_resistance

    part = appliance.teeth[number]
    return part.tooth.landmarks["crest"] if part.stiffness is None else point_of_resistance(part.stiffness)


def _kept(wire: WirePart, states: Sequence[State]) -> tuple[str, float]:
    """Return what the fibres of a wire with memory keep, and how much of it the worst of them."""
    name, values = next(iter(inside(wire, states).readings.items()))
    return name, float(values.max(initial=0.0))


def _left(wire: WirePart, appliance: Appliance, moment: Moment, given: float) -> WireLeft:
    if wire.past is not None:
        found = inside(wire, moment.states)
        share = float(found.stress.max(initial=0.0)) / wire.alloy.elastic_limit
        return WireLeft(found.energy, share, True, *_kept(wire, moment.states), given)
    energy, stress = 0.0, np.zeros((len(wire.length), 6))
    for group in np.unique(wire.elements[:, 0]):
        rows = wire.elements[:, 0] == group
        links, picked = appliance.network.groups[group], wire.elements[rows, 1]
        law = links.law
        carried = moment.evaluation.responses[group].stress[0, picked]
        strain = moment.evaluation.kinematics[group].strain[0, picked]
        assert isinstance(law, Linear)
        energy += 0.5 * float((carried * (strain - np.broadcast_to(law.rest, (len(links), 6))[picked])).sum())
        stress[rows] = carried
    peak = float(np.max(wire.section.peak_stress(resultants(stress, wire.length)), initial=0.0))
    return WireLeft(energy, peak / wire.alloy.elastic_limit)
