"""What a film shows of a course, as plain arrays: where teeth and wires are at any time, and what is read off them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array, Pose, rotation_exp, rotation_log
from biomech.tooth.meshes import Mesh

if TYPE_CHECKING:
    from biomech.studies.course import Course


_LEGIBLE = 130  # letters that a reader takes in while a visit is shown
_WHY = re.compile(r"crowns? leads? [^:]*\): ")  # why a rule acted
_NOW = re.compile(r" \(now [^()]*\)")  # what an action comes to
_FINE = 160  # points of a wire's line


@dataclass(frozen=True)
class Note:
    """One visit: its number, its day and what was done, in words."""

    number: int
    day: float
    done: str


@dataclass(frozen=True)
class Stretch:
    """The time between two visits: days (n,), poses of the T teeth (n, T), lines (n, m, 3) and radius of wires."""

    days: Array
    poses: Pose
    wires: dict[str, Array]
    radii: dict[str, float]


@dataclass(frozen=True)
class CourseData:
    """A course as a film shows it, with the `caution` it needs. `numbers` of the T teeth, `start` their poses unloaded,
    `meshes` crown and root of each in its own axes, `sealed` where these two meet without a gap; `edge` and `apex`
    (T, 3) in those axes; `days` (n,) and `turn` (n, T) deg, + buccal crown.
    """

    title: str
    note: str
    caution: str
    jaw: int
    numbers: tuple[int, ...]
    start: Pose
    meshes: list[tuple[Mesh, Mesh]]
    sealed: list[bool]
    edge: Array
    apex: Array
    days: Array
    turn: Array
    visits: tuple[Note, ...]
    stretches: tuple[Stretch, ...]
    stopped: str | None

    @property
    def end(self) -> float:
        """The last day."""
        return float(self.days[-1])

    def stretch_at(self, day: float) -> Stretch:
        """Return the stretch of a day; at a visit the one that begins there."""
        return next((s for s in reversed(self.stretches) if s.days[0] <= day + 1e-9), self.stretches[0])

    def poses_at(self, day: float) -> Pose:
        """Return the poses (T,) of the teeth at a time, between two moments along the shortest way."""
        stretch = self.stretch_at(day)
        i, share = _place(stretch.days, day)
        j = min(i + 1, len(stretch.days) - 1)
        a, b = (Pose(stretch.poses.rotation[k], stretch.poses.position[k]) for k in (i, j))
        turn = rotation_log(np.swapaxes(a.rotation, -1, -2) @ b.rotation)
        position = (1.0 - share) * a.position + share * b.position
        return Pose(a.rotation @ rotation_exp(share * turn), position)

    def wires_at(self, day: float) -> dict[str, Array]:
        """Return the lines (m, 3) of the wires at a time."""
        stretch = self.stretch_at(day)
        i, share = _place(stretch.days, day)
        j = min(i + 1, len(stretch.days) - 1)
        return {name: (1.0 - share) * line[i] + share * line[j] for name, line in stretch.wires.items()}

    def tip_at(self, day: float, row: int) -> float:
        """Return the buccal crown tip of a tooth since the start, degrees."""
        return float(np.interp(day, self.days, self.turn[:, row]))

    def note_at(self, day: float) -> Note:
        """Return the last visit not after a day."""
        return next(v for v in reversed(self.visits) if v.day <= day + 1e-9)


def _place(days: Array, day: float) -> tuple[int, float]:
    """Return the moment before a time and the share of the step gone."""
    i = int(np.clip(np.searchsorted(days, day, side="right") - 1, 0, len(days) - 1))
    if i + 1 >= len(days) or days[i + 1] <= days[i]:
        return i, 0.0
    return i, float(np.clip((day - days[i]) / (days[i + 1] - days[i]), 0.0, 1.0))


def course_data(course: Course) -> CourseData:
    """Return what a film shows of a course."""
    from biomech.studies.solve import CAUTION

    first = course.legs[0].appliance
    parts = list(first.teeth.values())
    readings = course.readings
    return CourseData(
        title=course.scenario.title,
        note=course.scenario.note,
        caution=CAUTION,
        jaw=parts[0].tooth.jaw_sign,
        numbers=tuple(p.number for p in parts),
        start=Pose(np.stack([p.pose.rotation for p in parts]), np.stack([p.pose.position for p in parts])),
        meshes=[(p.tooth.crown_surface(32), p.tooth.root_surface(20)) for p in parts],
        sealed=[p.tooth.shape is None for p in parts],  # halves of a surface file are thinned each for itself
        edge=np.stack([p.tooth.landmarks["edge"] for p in parts]),
        apex=np.stack([p.tooth.landmarks["apex"] for p in parts]),
        days=course.times,
        turn=np.stack([-r.turn[:, 0] for r in readings]),
        visits=tuple(Note(v.number, v.day, _done(v.actions, v.rules, v.note)) for v in course.visits),
        stretches=tuple(_stretch(course, i) for i in range(len(course.legs))),
        stopped=course.stopped,
    )


def _done(actions: tuple[str, ...], rules: tuple[str, ...], note: str) -> str:
    """Return what was done at a visit.

    Where that is too long to read in a film: what the visit says of itself; with rules, without why and what it comes
    to, which the course's table says.
    """
    obeyed = [f"by rule: {line.removeprefix('rule: ')}" for line in rules]
    whole = "; ".join([*actions, *obeyed, *([note] if note else [])])
    if len(whole) <= _LEGIBLE:
        return whole
    if note and not rules:
        return note
    whole = _WHY.sub("", whole)
    return whole if len(whole) <= _LEGIBLE else _NOW.sub("", whole)


def _stretch(course: Course, i: int) -> Stretch:
    track, appliance = course.legs[i].track, course.legs[i].appliance
    frames = np.array([p.frame for p in appliance.teeth.values()])
    poses = Pose(track.rotation, track.position)
    return Stretch(
        track.times,
        Pose(track.rotation[:, frames], track.position[:, frames]),
        {n: np.stack([_smooth(at) for at in w.stations(poses).position]) for n, w in appliance.wires.items()},
        {name: 0.25 * (w.section.height + w.section.depth) for name, w in appliance.wires.items()},
    )


def _smooth(points: Array) -> Array:
    """Return a smooth line (_FINE, 3) through points (m, 3)."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    fine = np.linspace(0.0, along[-1], _FINE)
    if len(points) < 3:
        return np.column_stack([np.interp(fine, along, points[:, k]) for k in range(3)])
    from scipy.interpolate import Akima1DInterpolator

    return np.asarray(Akima1DInterpolator(along, points, method="makima")(fine))


def pair_of(datas: list[CourseData], tooth: int | None) -> tuple[int, ...]:
    """Return the tooth to look at and its fellow on the other side, from the patient's right; the tooth alone if it
    has none. Without `tooth` the first molars, or the fellows furthest back that all courses have.
    """
    common = [n for n in datas[0].numbers if all(n in d.numbers for d in datas)]
    if tooth is not None:
        for data in datas:
            if tooth not in data.numbers:
                present = ", ".join(str(n) for n in data.numbers)
                raise InputError(f"tooth {tooth} is not in the arch of '{data.title}'; present: {present}")
    wanted = [tooth] if tooth is not None else [16, 46, 17, 47, 15, 45, 14, 44, 13, 43, 12, 42, 11, 41, *common]
    number = next((n for n in wanted if n in common), None)
    if number is None:
        raise InputError("the courses have no tooth in common; animate them one by one")
    fellow = {1: 20, 2: 10, 3: 40, 4: 30}[number // 10] + number % 10
    pair = sorted({number, fellow} & set(common), key=datas[0].numbers.index)
    return tuple(pair)
