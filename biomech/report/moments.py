"""The moments of a course that reports show: the start, each visit as found and as left, and the end."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from biomech.movement.readings import Reading
    from biomech.studies import Solution
    from biomech.studies.course import Course


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
            yield Shown(first, 0.0, "day 0", "The wires have just been laid in; no tooth has moved in its socket yet.")
        else:
            name = f"visit {visit.number}, day {visit.day:g}"
            yield Shown(first - 1, visit.day, f"{name}, found", "The arch as found at the visit.")
            if visit.actions or visit.rules:
                yield Shown(first, visit.day, f"{name}, left", f"{done}.")
        first += len(leg.track)
    end = "The end of the course." if course.stopped is None else f"The course was stopped: {course.stopped}."
    last = float(times[-1])
    yield Shown(first - 1, last, f"day {last:.0f}, end", end)


def solved(course: Course) -> list[tuple[float, Solution]]:
    """Return day and solution of every moment shown."""
    return [(shown.day, course.solution_at(shown.i)) for shown in moments(course)]


def worst_balance(course: Course) -> Reading:
    """Return the moment at which most is left over of the forces of all wires, against their sizes (at least 1 N)."""
    return max(course.readings, key=lambda r: r.unbalanced / max(r.throughput, 1.0))
