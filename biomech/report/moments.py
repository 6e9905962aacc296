"""The moments of a course that reports show: the start, each visit as found and as left, and the end."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from biomech.mechanics.poses import Array

if TYPE_CHECKING:
    from biomech.movement.readings import Reading
    from biomech.studies import Solution
    from biomech.studies.course import Course
    from biomech.studies.curves import Curves


NEAR = 0.01
"""Share by which a moment chosen for one tooth may fall short of another one's largest force or torque."""


class Shown(NamedTuple):
    """A moment that is shown: number `i` among all of the course, `day`, `label` of its step, a `note` in words."""

    i: int
    day: float
    label: str
    note: str


def moments(course: Course) -> Iterator[Shown]:
    """Yield the start, every visit as found, as left if anything was done, and the end, in time."""
    first, times = 0, course.times
    for visit, leg in zip(course.visits, course.legs, strict=True):
        done = "; ".join([*visit.actions, *visit.rules, visit.note]).strip("; ")
        if visit.number == 0:
            begun = "The wires have just been laid in" if visit.after.wires else "The loads have just begun to act"
            yield Shown(first, 0.0, "day 0", f"{begun}; no tooth has moved in its socket yet.")
        else:
            name = f"visit {visit.number}, day {visit.day:g}"
            yield Shown(first - 1, visit.day, f"{name}, found", "The arch as found at the visit.")
            if visit.actions or visit.rules:
                yield Shown(first, visit.day, f"{name}, left", f"{done}.")
        first += len(leg.track)
    end = "The end of the course." if course.stopped is None else f"The course was stopped: {course.stopped}."
    last = float(times[-1])
    yield Shown(first - 1, last, f"day {last:.0f}, end", end)


JUDGED = "the start, every visit as found and as left, the end, and whenever force or torque on a tooth is largest"
"""The moments at which a course is held against bands, in words."""


def judged(course: Course) -> list[tuple[float, Solution]]:
    """Return day and solution of every moment shown, and of those at which force or torque of some tooth is largest.

    Forces may be largest between visits: one wire takes over what another lets go.
    """
    readings = course.readings
    force = np.array([np.linalg.norm(r.force, axis=1) for r in readings])
    torque = np.array([np.abs(r.moment[:, 0]) for r in readings])
    found = {shown.i for shown in moments(course)} | set(_peaks(force)) | set(_peaks(torque))
    return [(float(course.times[i]), course.solution_at(i)) for i in sorted(found)]


def _peaks(values: Array) -> list[int]:
    """Return at which moments each column of `values` (moments, teeth) is largest, fellows that differ little once."""
    out: list[int] = []
    for column in values.T:
        if not out or column[out].max() < (1.0 - NEAR) * column.max():
            out.append(int(column.argmax()))
    return out


def worst_balance(course: Course | Curves) -> Reading:
    """Return the moment at which most is left over of the forces of all wires, against their sizes (at least 1 N)."""
    return max(course.readings, key=lambda r: r.unbalanced / max(r.throughput, 1.0))
