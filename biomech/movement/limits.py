"""Limits of a course: what flags it, and may stop it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from biomech.appliance import Appliance
from biomech.mechanics.poses import Array, Pose
from biomech.movement.march import Moment
from biomech.movement.readings import Reading
from biomech.outputs.limits import PRESSURE
from biomech.scenario import Bone
from biomech.scenario.course import MONTH

SLOWEST, FASTEST = 0.5, 1.9
"""mm a month: published band of adult tooth movement (reviews and trials of translation, abstracts only)."""
APPROACH = 0.3
"""mm by which touching neighbours may come closer (the model has no contact between teeth): contact points wear and
yield by a few tenths. Assumed."""
SPACE = 0.7
"""mm of distance at the start from which neighbours have space between them: where the arch bends most, at the canine,
contact points of touching teeth look 0.5 mm apart along the line between both teeth (measured on the set-up arch)."""


@dataclass(frozen=True)
class Flag:
    """A limit passed: `kind` (a word of course.stop_at), `day`, `tooth` (None: the arch), and a sentence."""

    kind: str
    day: float
    tooth: int | None
    text: str


class Watch:
    """Watches one appliance; `start` (T,) poses of the teeth when the course began."""

    def __init__(self, appliance: Appliance, start: Pose, bone: Mapping[int, Bone]) -> None:
        self.parts = list(appliance.teeth.values())
        self.start, self.bone = start, bone
        self.frames = np.array([p.frame for p in self.parts])
        half = np.array([0.5 * p.tooth.width for p in self.parts])
        height = np.stack([0.6 * p.tooth.landmarks["edge"] for p in self.parts])
        height[:, :2] = 0.0
        along = half[:, None] * np.array([1.0, 0.0, 0.0])
        self.towards_left, self.towards_right = height + along, height - along
        gap = self._gaps(start)
        self.touch = np.where(gap < SPACE, gap, 0.0)  # teeth with space between them touch when it is used up

    def look(self, moment: Moment) -> Iterator[Flag]:
        """Yield what is passed at one moment: root out of the bone, neighbours in contact."""
        now = Pose(moment.poses.rotation[0, self.frames], moment.poses.position[0, self.frames])
        for i, part in enumerate(self.parts):
            given = self.bone.get(part.number)
            if given is not None:
                yield from self._bone(i, given, now, moment.time)
        closer = self.touch - self._gaps(now)
        for i in np.flatnonzero(closer > APPROACH).tolist():
            a, b = self.parts[i].number, self.parts[i + 1].number
            text = f"teeth {a} and {b} are {closer[i]:.2f} mm closer than when they touched: they would be in contact"
            yield Flag("contact", moment.time, a, text)

    def _bone(self, row: int, given: Bone, now: Pose, day: float) -> Iterator[Flag]:
        part = self.parts[row]
        points = part.tooth.surface.points
        start = self.start.take(row)
        out = (start.inverse() @ now.take(row)).point(points)[:, 1] - points[:, 1]
        for side, room, far in (("buccal", given.buccal, out), ("lingual", given.lingual, -out)):
            if room is not None and far.max() > room:
                depth = abs(points[int(np.argmax(far)), 2]) - part.tooth.bone_level
                where = "near the crest" if depth < 0.5 * part.tooth.embedded_length else "near the apex"
                text = (
                    f"the root of tooth {part.number} has moved {far.max():.2f} mm to the {side} {where}, "
                    f"through {room:.2f} mm of bone"
                )
                yield Flag("bone", day, part.number, text)

    def _gaps(self, poses: Pose) -> Array:
        """Return the distances (T - 1,) of facing contact points along the line between both, mm."""
        a = poses.take(slice(0, -1)).point(self.towards_left[:-1])
        b = poses.take(slice(1, None)).point(self.towards_right[1:])
        line = poses.position[1:] - poses.position[:-1]
        unit = line / np.linalg.norm(line, axis=-1, keepdims=True)
        return np.asarray(np.einsum("ti,ti->t", b - a, unit))


def wires_past(reading: Reading) -> Iterator[Flag]:
    """Yield wires past their elastic limit."""
    for name, wire in reading.wires.items():
        if wire.utilisation > 1.0:
            share = 100 * wire.utilisation
            does = "has taken a set" if wire.remembers else "would take a set"
            text = f"wire '{name}' is past its elastic limit ({share:.0f} % of it): it {does}"
            yield Flag("wire", reading.day, None, text)


def pressures_past(appliance: Appliance, moment: Moment) -> Iterator[Flag]:
    """Yield teeth whose mean ligament pressure lies above the published band."""
    strain = moment.evaluation.kinematics[appliance.ligament_group].strain[0]
    for part in appliance.teeth.values():
        found = part.pressures(strain[part.bed])
        if found is None:
            continue
        normal = 1e3 * found.normal
        squeezed = np.where(normal > 0, part.bearing.weights, 0.0)
        mean = float((normal * squeezed).sum() / max(squeezed.sum(), 1e-12))
        if mean > PRESSURE.high:
            text = f"mean ligament pressure {mean:.1f} kPa at tooth {part.number}, above {PRESSURE.high:g} kPa"
            yield Flag("pressure", moment.time, part.number, text)


def speeds_past(readings: Sequence[Reading], most: float | None = None) -> Iterator[Flag]:
    """Yield teeth whose mean speed over the readings lies above the published band; all, when none reaches it.

    Where the scenario itself bounds the speed (`most`, mm/day) below the band, slow teeth are no news.
    """
    first, last = readings[0], readings[-1]
    days = last.day - first.day
    if days < 1.0:
        return
    speed = MONTH / days * np.linalg.norm(last.resistance - first.resistance, axis=-1)
    for number, value in zip(first.teeth, speed, strict=True):
        if value > FASTEST:
            text = f"tooth {number} moved {value:.2f} mm a month (centre of resistance), above {FASTEST:g}"
            yield Flag("rate", last.day, number, text)
    if speed.max() < SLOWEST and (most is None or MONTH * most >= SLOWEST):
        text = f"no tooth moved faster than {speed.max():.2f} mm a month, below {SLOWEST:g}"
        yield Flag("rate", last.day, None, text)
