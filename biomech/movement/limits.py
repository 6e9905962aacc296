"""Limits of a course: what flags it, and may stop it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

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


WEEK = 7.0
"""Days over which the speed of a tooth is a mean: published speeds are means of weeks to months, and under a new wire a
tooth may go some tenths of a millimetre within hours."""
FURTHER = 1.05
"""Share of a limit from which it is told how far it was passed. A convention."""
SET = 1e-3
"""Plastic strain kept beyond that of opening by hand, from which a wire counts as yielded: half of the offset at which
yield strengths of wires are stated (ISO 15841, from memory)."""


@dataclass(frozen=True)
class Flag:
    """A limit passed: `kind` (a word of course.stop_at), `day`, `tooth` (None: the arch), and a sentence.

    `part`: the wire, or the side of the tooth, that the sentence is about.
    """

    kind: str
    day: float
    tooth: int | None
    text: str
    part: str = ""


class _Measure(NamedTuple):
    """What is watched: its `value` and `limit`, mm, on a `side` of a tooth; `beside`: where, or the neighbour."""

    kind: str
    tooth: int
    side: str
    value: float
    limit: float
    beside: str

    def text(self) -> str:
        if self.kind == "contact":
            return (
                f"teeth {self.tooth} and {self.beside} are {self.limit:.2f} mm closer than when they touched: "
                "they would be in contact"
            )
        return (
            f"the root of tooth {self.tooth} has moved through {self.limit:.2f} mm of bone to the {self.side} "
            f"{self.beside}"
        )


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
        yield from self.passed([moment])

    def passed(self, moments: Sequence[Moment]) -> Iterator[Flag]:
        """Yield what is passed over some time, each once, on a day read off the line between two moments."""
        days = [moment.time for moment in moments]
        for course in zip(*(self._measures(moment) for moment in moments), strict=True):
            values, limit = [one.value for one in course], course[0].limit
            i = next((i for i, value in enumerate(values) if value > limit), None)
            if i is None:
                continue
            share = (limit - values[i - 1]) / (values[i] - values[i - 1]) if i else 0.0
            day = days[i - 1] + share * (days[i] - days[i - 1]) if i else days[0]
            worst = max(range(len(values)), key=values.__getitem__)
            further = f" ({values[worst]:.2f} mm by day {days[worst]:.0f})" if values[worst] > FURTHER * limit else ""
            one = course[i]
            yield Flag(one.kind, day, one.tooth, one.text() + further, one.side)

    def _measures(self, moment: Moment) -> Iterator[_Measure]:
        now = Pose(moment.poses.rotation[0, self.frames], moment.poses.position[0, self.frames])
        for i, part in enumerate(self.parts):
            given = self.bone.get(part.number)
            if given is not None:
                yield from self._bone(i, given, now)
        closer = self.touch - self._gaps(now)
        for i, value in enumerate(closer.tolist()):
            yield _Measure("contact", self.parts[i].number, "", value, APPROACH, str(self.parts[i + 1].number))

    def _bone(self, row: int, given: Bone, now: Pose) -> Iterator[_Measure]:
        part = self.parts[row]
        points = part.tooth.surface.points
        start = self.start.take(row)
        out = (start.inverse() @ now.take(row)).point(points)[:, 1] - points[:, 1]
        for side, room, far in (("buccal", given.buccal, out), ("lingual", given.lingual, -out)):
            if room is not None:
                depth = abs(points[int(np.argmax(far)), 2]) - part.tooth.bone_level
                where = "near the crest" if depth < 0.5 * part.tooth.embedded_length else "near the apex"
                yield _Measure("bone", part.number, side, float(far.max()), room, where)

    def _gaps(self, poses: Pose) -> Array:
        """Return the distances (T - 1,) of facing contact points along the line between both, mm."""
        a = poses.take(slice(0, -1)).point(self.towards_left[:-1])
        b = poses.take(slice(1, None)).point(self.towards_right[1:])
        line = poses.position[1:] - poses.position[:-1]
        unit = line / np.linalg.norm(line, axis=-1, keepdims=True)
        return np.asarray(np.einsum("ti,ti->t", b - a, unit))


def wires_past(reading: Reading) -> Iterator[Flag]:
    """Yield wires past their elastic limit, and those with memory that keep more strain than when they were laid in."""
    for name, wire in reading.wires.items():
        kept = wire.largest - wire.given
        if wire.reading == "set" and kept > SET:
            text = f"wire '{name}' has yielded: at its worst it keeps a strain of {100 * wire.largest:.2f} %"
            text += f", {100 * kept:.2f} % of it since it was laid in" if wire.given else ""
            yield Flag("wire", reading.day, None, text, name)
        elif wire.utilisation > 1.0 and wire.reading != "martensite":
            share = 100 * wire.utilisation
            does = "has taken a set" if wire.remembers else "would take a set, and its forces be less than computed"
            text = f"wire '{name}' is past its elastic limit ({share:.0f} % of it): it {does}"
            yield Flag("wire", reading.day, None, text, name)


def pressures_past(appliance: Appliance, moments: Sequence[Moment]) -> Iterator[Flag]:
    """Yield teeth whose mean ligament pressure lies above the published band, when it first does."""
    strain = np.stack([m.evaluation.kinematics[appliance.ligament_group].strain[0] for m in moments])
    for part in appliance.teeth.values():
        found = part.pressures(strain[:, part.bed])
        if found is None:
            continue
        normal = 1e3 * found.normal
        squeezed = np.where(normal > 0, part.bearing.weights, 0.0)
        mean = (normal * squeezed).sum(axis=-1) / np.maximum(squeezed.sum(axis=-1), 1e-12)
        past = np.flatnonzero(mean > PRESSURE.high)
        if len(past):
            i, most = int(past[0]), float(mean.max())
            text = f"mean ligament pressure {most:.1f} kPa at tooth {part.number}, above {PRESSURE.high:g} kPa"
            yield Flag("pressure", moments[i].time, part.number, text)


def weekly_speeds(readings: Sequence[Reading], short: bool = False) -> tuple[Array, Array, float]:
    """Return mean speeds (k, T) of teeth, mm a month at the centre of resistance, over spans that end on days (k,).

    The weeks that begin or end with a reading, movement between readings being even; also how many days a span has.
    Before a week is over there is none, but with `short` that of all the time, if it is a day at least.
    """
    days, places = np.array([r.day for r in readings]), np.stack([r.resistance for r in readings])
    whole = days[-1] - days[0]
    if whole < (1.0 if short else WEEK - 1e-9):
        return np.zeros(0), np.zeros((0, places.shape[1])), WEEK
    span = min(WEEK, whole)
    ends = np.concatenate([days[days >= days[0] + span - 1e-9], days[days <= days[-1] - span + 1e-9] + span])
    ends = np.unique(np.clip(ends, days[0] + span, days[-1]))
    moved = _at(ends, days, places) - _at(ends - span, days, places)
    return ends, MONTH / span * np.linalg.norm(moved, axis=-1), span


def _at(when: Array, days: Array, places: Array) -> Array:
    """Return places (n, T, 3) on days (n,) as they were on other days (k,); of two on one day the later counts."""
    right = np.clip(np.searchsorted(days, when, side="right"), 1, len(days) - 1)
    gap = days[right] - days[right - 1]
    share = np.clip(np.where(gap > 0, (when - days[right - 1]) / np.where(gap > 0, gap, 1.0), 1.0), 0.0, 1.0)
    return np.asarray(places[right - 1] + share[:, None, None] * (places[right] - places[right - 1]))


def speeds_past(
    readings: Sequence[Reading],
    most: float | None = None,
    *,
    since: float | None = None,
    rest: float = 0.0,
    short: bool = True,
) -> Iterator[Flag]:
    """Yield teeth whose mean speed over a week lies above the published band, at the end of the first such week.

    All of them, when none reaches the band in any week: of those, weeks in which teeth rest (up to the day `rest`) do
    not count, and where the scenario itself bounds the speed (`most`, mm/day) below the band, slow teeth are no news.
    Only weeks that end after the day `since` are judged; `short`: where there is no week yet, all the time is.
    """
    first = readings[0]
    ends, speeds, span = weekly_speeds(readings, short)
    late = ends > (first.day if since is None else since) + 1e-9
    ends, speeds = ends[late], speeds[late]
    if not len(ends):
        return
    over = "over a week" if span >= WEEK else f"over {span:.3g} days"
    for row, number in enumerate(first.teeth):
        past = np.flatnonzero(speeds[:, row] > FASTEST)
        if len(past):
            fastest = float(speeds[:, row].max())
            text = f"tooth {number} moved {fastest:.3g} mm a month {over} (centre of resistance), above {FASTEST:g}"
            yield Flag("rate", float(ends[past[0]]), number, text)
    free = speeds[ends - span >= rest - 1e-9]
    if len(free) and free.max() < SLOWEST and (most is None or MONTH * most >= SLOWEST):
        when = "in any week" if span >= WEEK else over
        text = f"no tooth moved faster than {free.max():.3g} mm a month {when}, below {SLOWEST:g}"
        yield Flag("rate", readings[-1].day, None, text)
