"""Build the network of a scenario: number the frames along the arch, join them, set the start."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from biomech.appliance.holds import bonded_offsets, hold_links
from biomech.appliance.loads import tooth_loads
from biomech.appliance.parts import Appliance, HoldPart, ToothPart, WirePart
from biomech.appliance.rods import rod_of
from biomech.appliance.teeth import TeethSetUp, number_teeth, set_up_teeth
from biomech.appliance.wires import Layout, lay_out
from biomech.mechanics.links import Linear, Links
from biomech.mechanics.network import Network
from biomech.mechanics.poses import Pose, identity
from biomech.scenario import Scenario
from biomech.tooth.support import RootBed
from biomech.wire.fibre_rod import FibreRod


def build(scenario: Scenario, *, refine: int = 1) -> Appliance:
    """Return the appliance of a scenario; `refine` multiplies the number of elements of every wire.

    Raises InputError where the scenario's parts do not go together (overlapping teeth, bends that do not fit).
    """
    prepared = set_up_teeth(scenario)
    layouts = [lay_out(name, scenario, prepared.curve, prepared.placed, refine) for name in scenario.wire]
    numbering = _Numbering(prepared, layouts)
    teeth = number_teeth(prepared, numbering.tooth_frames, numbering.sockets, scenario.bracket)
    groups: list[Links] = []
    wires: dict[str, WirePart] = {}
    holds: list[HoldPart] = []
    for layout, frames in zip(layouts, numbering.wire_frames, strict=True):
        wire, rods = _wire(layout, frames, teeth, len(groups))
        wires[layout.name] = wire
        groups += rods
        links, parts = hold_links(layout, scenario, teeth, wire.frames, len(groups))
        groups += links
        holds += parts
        holds += [
            HoldPart(layout.name, g.tooth, "bonded", -1, np.array([], dtype=int))
            for g in layout.grips
            if g.model.by == "bonded"
        ]
    bed = _bed(teeth)
    if bed is not None:
        groups.append(bed)
    start = numbering.start(prepared, layouts)
    groups = [g.passive_at(start, g.law.resting(g.law.start())) for g in groups]
    network = Network(
        numbering.count, numbering.fixed(), groups, tooth_loads(scenario, teeth), numbering.labels(layouts)
    )
    warnings = [*prepared.warnings, *(w for layout in layouts for w in layout.alloy.warnings())]
    return Appliance(
        scenario, prepared.curve, network, start, teeth, wires, tuple(holds),
        len(groups) - 1 if bed is not None else -1, tuple(dict.fromkeys(warnings)),
    )


class _Numbering:
    """Frames numbered along the arch, so that the tangent's band is narrow; sockets, which are fixed, come last."""

    def __init__(self, prepared: TeethSetUp, layouts: Sequence[Layout]) -> None:
        self.prepared = prepared
        numbers = list(prepared.placed)
        curve = prepared.curve
        keys: list[tuple[float, str, int]] = [(prepared.placed[t].s, "tooth", t) for t in numbers]
        for k, layout in enumerate(layouts):
            bonded = {i for i in self._bonded(layout)}
            along = curve.nearest(layout.fitted.point(layout.line)) if layout.fitted is not curve else layout.line
            keys += [(float(s), f"wire {k}", i) for i, s in enumerate(along) if i not in bonded]
        keys.sort(key=lambda key: key[0])
        index = {(kind, i): at for at, (_, kind, i) in enumerate(keys)}
        self.tooth_frames = {t: index["tooth", t] for t in numbers}
        movable = [t for t in numbers if prepared.ligaments[t] is not None]
        self.sockets = {t: len(keys) + i for i, t in enumerate(movable)}
        self.count = len(keys) + len(movable)
        self.wire_frames: list[np.ndarray] = []
        for k, layout in enumerate(layouts):
            bonded_to = self._bonded(layout)
            frames = [
                self.tooth_frames[bonded_to[i]] if i in bonded_to else index[f"wire {k}", i]
                for i in range(len(layout.line))
            ]
            self.wire_frames.append(np.array(frames))

    @staticmethod
    def _bonded(layout: Layout) -> dict[int, int]:
        from biomech.appliance.stations import index_of

        return {index_of(layout.line, g.at[0]): g.tooth for g in layout.grips if g.model.by == "bonded"}

    def fixed(self) -> np.ndarray:
        """Return which frames are fixed: sockets and teeth held rigidly."""
        out = np.zeros(self.count, dtype=bool)
        out[list(self.sockets.values())] = True
        out[[f for t, f in self.tooth_frames.items() if t not in self.sockets]] = True
        return out

    def start(self, prepared: TeethSetUp, layouts: Sequence[Layout]) -> Pose:
        """Return the poses (1, frames): teeth where they stand, wires as laid in."""
        poses = identity(1, self.count)
        for layout, frames in zip(layouts, self.wire_frames, strict=True):
            fitted = layout.fitted_poses()
            poses.rotation[0, frames], poses.position[0, frames] = fitted
        for t, place in prepared.placed.items():
            for frame in (self.tooth_frames[t], self.sockets.get(t, -1)):
                if frame >= 0:
                    poses.rotation[0, frame], poses.position[0, frame] = place.pose
        return poses

    def labels(self, layouts: Sequence[Layout]) -> list[str]:
        """Return a name for every frame, for messages."""
        out = [""] * self.count
        for layout, frames in zip(layouts, self.wire_frames, strict=True):
            numbers = list(self.prepared.placed)
            at = np.array([self.prepared.placed[t].s for t in numbers])
            for i, frame in enumerate(frames):
                near = numbers[int(np.argmin(np.abs(at - layout.line[i])))]
                out[frame] = f"wire '{layout.name}' near tooth {near}"
        for t, frame in self.tooth_frames.items():
            out[frame] = f"tooth {t}"
        for t, frame in self.sockets.items():
            out[frame] = f"socket of tooth {t}"
        return out


def _wire(
    layout: Layout, frames: np.ndarray, teeth: Mapping[int, ToothPart], first_group: int
) -> tuple[WirePart, list[Links]]:
    """Return the wire and its rod links, bonded elements (with offsets) in a group of their own."""
    n = len(layout.line) - 1
    offsets = identity(n + 1)
    bonded = bonded_offsets(layout, teeth)
    for i, (_, pose) in bonded.items():
        offsets.rotation[i], offsets.position[i] = pose
    stiffness = layout.section.stiffness(layout.alloy.young, layout.alloy.poisson)
    whole, past = rod_of(layout, frames, offsets)
    riding = np.zeros(n + 1, dtype=bool)
    riding[list(bonded)] = True
    touched = riding[:-1] | riding[1:]
    groups: list[Links] = []
    elements = np.zeros((n, 2), dtype=int)
    for name, rows, keep in ((layout.name, ~touched, False), (f"{layout.name} (bonded)", touched, True)):
        where = np.flatnonzero(rows)
        if len(where):
            elements[where, 0], elements[where, 1] = first_group + len(groups), np.arange(len(where))
            groups.append(_part(whole, name, where, keep))
    length = np.linalg.norm(whole.law.rest[..., :3], axis=-1)  # type: ignore[attr-defined]
    part = WirePart(
        layout.name, layout.section, layout.alloy, layout.line, frames, offsets, elements, length,
        np.asarray(stiffness), past,
    )  # fmt: skip
    return part, groups


def _part(whole: Links, name: str, rows: np.ndarray, keep_offsets: bool) -> Links:
    law = whole.law
    assert isinstance(law, Linear | FibreRod) and whole.offset_a is not None and whole.offset_b is not None
    offset_a = whole.offset_a.take(rows) if keep_offsets else None
    offset_b = whole.offset_b.take(rows) if keep_offsets else None
    return Links(name, whole.a[rows], whole.b[rows], law.take(rows), "pose", offset_a, offset_b)


def _bed(teeth: Mapping[int, ToothPart]) -> Links | None:
    movable = [p for p in teeth.values() if p.ligament is not None]
    if not movable:
        return None
    law = RootBed(
        [p.tooth.surface for p in movable], [p.ligament for p in movable if p.ligament is not None],
        [None if p.support is None else p.support.stiffness for p in movable],
    )  # fmt: skip
    sockets, frames = np.array([p.socket for p in movable]), np.array([p.frame for p in movable])
    return Links("ligament", sockets, frames, law, "pose", labels=tuple(f"tooth {p.number}" for p in movable))
