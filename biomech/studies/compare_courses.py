"""Compare the courses of several scenarios, or of one with a key varied, side by side."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from biomech.errors import InputError
from biomech.studies.curves import Curves
from biomech.studies.parallel import run_all
from biomech.studies.rows import Row, rows
from biomech.studies.stops import Stop, check_reached, check_stops, read_stops, state_at, usual
from biomech.studies.variants import Variant

MIRRORED = 0.01
"""mm by which a tooth and its fellow on the other side may differ and still count as moving alike: steps err."""

ENDS_ALIKE, PULLED = 0.1, 0.5
"""Where teeth end within so many mm of each other, but forces differ by more N on the way, these are looked at too."""


@dataclass(frozen=True)
class CourseComparison:
    """Variants and their courses, the first being the reference of all differences.

    `keys` that were varied (none for a comparison of files); `teeth` in the foreground: those asked for, else those the
    keys name, else the one whose buccolingual movement differs most at the end, after the one with the largest force of
    those whose largest forces differ, where the ends hardly do; `stops` the times of the tables;
    `seconds` of all.
    """

    variants: tuple[Variant, ...]
    courses: tuple[Curves, ...]
    keys: tuple[str, ...]
    teeth: tuple[int, ...]
    stops: tuple[Stop, ...]
    seconds: float

    @property
    def labels(self) -> tuple[str, ...]:
        """What the variants are called."""
        return tuple(v.label for v in self.variants)

    @property
    def planned(self) -> tuple[float, ...]:
        """How many days each course was to last."""
        return tuple(duration(v) for v in self.variants)

    @property
    def last(self) -> float:
        """The last day that all courses reach."""
        return min(course.end for course in self.courses)

    @property
    def common(self) -> list[int]:
        """Teeth that all variants have."""
        return common_teeth(self.courses)

    @cached_property
    def tables(self) -> tuple[list[Row], ...]:
        """All results side by side, by stop."""
        return tuple(self.rows_at(stop) for stop in self.stops)

    @cached_property
    def _at_last(self) -> dict[str, Row]:
        return {r.path: r for r in self.rows_at(Stop("last", (self.last,) * len(self.courses)))}

    def rows_at(self, stop: Stop) -> list[Row]:
        """Return all results side by side at one stop."""
        return rows([state_at(course, day) for course, day in zip(self.courses, stop.days, strict=True)])

    def final(self, path: str) -> Row:
        """Return the row of a path such as "teeth.16.crown_mm.buccal" on the last day that all courses reach.

        InputError if there is none.
        """
        if path not in self._at_last:
            raise InputError(f"{path} is no result of these courses; see the paths in comparison.csv")
        return self._at_last[path]


def duration(variant: Variant) -> float:
    """Return how many days the course of a variant is to last."""
    assert variant.scenario.course is not None
    return variant.scenario.course.duration


def _visits(variant: Variant) -> int:
    assert variant.scenario.course is not None
    return len(variant.scenario.course.visit)


def compare_courses(
    variants: Sequence[Variant],
    *,
    keys: Sequence[str] = (),
    teeth: Sequence[int] | None = None,
    at: Sequence[str] | None = None,
    jobs: int = 1,
    folder: Path | str | None = None,
    progress: Callable[[str, float], None] | None = None,
) -> CourseComparison:
    """Return the comparison of the courses of at least two variants, the first being the reference.

    `keys` that `variants` differ in, if they come from `vary`; `teeth` to put in the foreground; `at` times of the
    tables, see stops.read_stops (unless given: the middle and the end); `jobs` and `folder` as in `run_all`. Raises
    InputError for fewer than two variants, labels that appear twice, variants without a course, teeth that not all
    have, and as `run_course`.
    """
    check(variants, teeth)
    check_stops(at or ())
    planned = [duration(v) for v in variants]
    check_reached(at or (), max(_visits(v) for v in variants), max(planned))
    begin = time.perf_counter()
    courses = run_all(variants, jobs=jobs, folder=folder, progress=progress)
    stops = usual(courses, planned) if at is None else read_stops(at, courses, planned)
    front = foreground(courses, keys, teeth)
    seconds = time.perf_counter() - begin
    return CourseComparison(tuple(variants), tuple(courses), tuple(keys), front, tuple(stops), seconds)


def have_courses(variants: Sequence[Variant]) -> bool:
    """Return whether the variants have courses; InputError when some have and some have not."""
    without = [v.label for v in variants if v.scenario.course is None]
    if without and len(without) < len(variants):
        rest = [v.label for v in variants if v.label not in without]
        raise InputError(
            f"a course cannot be compared with a single moment: {', '.join(rest)} with [course], {', '.join(without)} "
            "without. Compare the first moments of all instead: --first-moment"
        )
    return not without


def check(variants: Sequence[Variant], teeth: Sequence[int] | None = None) -> None:
    """Raise InputError for what cannot be compared, before anything is computed."""
    labels = [v.label for v in variants]
    if len(labels) < 2:
        raise InputError(f"at least two scenarios are needed for a comparison, got {len(labels)}")
    if len(set(labels)) < len(labels):
        twice = next(label for label in labels if labels.count(label) > 1)
        raise InputError(f"two scenarios are called '{twice}'; give each a label of its own")
    if not have_courses(variants):
        raise InputError("none of the scenarios has a [course]")
    common = [n for n in variants[0].scenario.arch.teeth if all(n in v.scenario.arch.teeth for v in variants)]
    if not common:
        raise InputError("the scenarios have no tooth in common, so there is nothing to compare")
    for number in teeth or ():
        if number not in common:
            raise InputError(f"tooth {number} is not in all scenarios; in all: {', '.join(map(str, common))}")


def common_teeth(courses: Sequence[Curves]) -> list[int]:
    """Return the teeth that all courses have, from the patient's right to the left."""
    return [n for n in courses[0].teeth if all(n in c.teeth for c in courses)]


def foreground(courses: Sequence[Curves], keys: Sequence[str], teeth: Sequence[int] | None) -> tuple[int, ...]:
    """Return the teeth that stand in the foreground, see CourseComparison; `teeth` those asked for."""
    if teeth:
        return tuple(dict.fromkeys(teeth))
    common = common_teeth(courses)
    named = [int(step) for key in keys for step in key.split(".") if re.fullmatch(r"[1-4][1-7]", step)]
    named = [n for n in dict.fromkeys(named) if n in common]
    if not named:
        amount = {n: buccal_spread(courses, n) for n in common}
        # a fellow that does the same up to the errors of the steps must not win by them
        named = [next(n for n in common if amount[n] >= max(amount.values()) - MIRRORED)]
        peaks = {n: peaks_of(courses, n) for n in common}
        pulled = [n for n in common if float(np.ptp(peaks[n])) > PULLED]
        if pulled and max(amount.values()) < ENDS_ALIKE:
            named = list(dict.fromkeys([max(pulled, key=lambda n: max(peaks[n])), *named]))
    return tuple(n for i, n in enumerate(named) if not any(alike(courses, n, m) for m in named[:i]))


def peaks_of(courses: Sequence[Curves], number: int) -> list[float]:
    """Return the largest force on a tooth in each course, N, whatever its direction."""
    return [float(max(np.linalg.norm(r.force[r.of(number)]) for r in c.readings)) for c in courses]


def movement_spread(courses: Sequence[Curves], number: int) -> float:
    """Return by how much, mm, crown or apex of a tooth differ on the last day all reach: the largest over all pairs."""
    last = min(course.end for course in courses)
    places = np.array([moved(course, number, last) for course in courses])
    return float(np.linalg.norm(places[:, None] - places[None], axis=-1).max())


def buccal_spread(courses: Sequence[Curves], number: int) -> float:
    """Return by how much, mm, crown or apex of a tooth differ buccolingually on the last day all reach."""
    last = min(course.end for course in courses)
    return float(np.ptp([moved(course, number, last)[:, 1] for course in courses], axis=0).max())


def moved(course: Curves, number: int, day: float) -> np.ndarray:
    """Return the movement (2, 3) of crown and apex, on the long axis, up to a day, + mesial, buccal, occlusal, mm."""
    tooth: dict[str, Any] = state_at(course, day)["teeth"][str(number)]
    return np.array([list(tooth[at].values()) for at in ("axis_crown_mm", "axis_apex_mm")])


def alike(courses: Sequence[Curves], one: int, other: int) -> bool:
    """Return whether two teeth are fellows on both sides of the arch that move as mirror images in every course."""
    if one % 10 != other % 10:
        return False
    last = min(course.end for course in courses)
    return all(float(np.abs(moved(c, one, last) - moved(c, other, last)).max()) < MIRRORED for c in courses)


def fellow(found: CourseComparison, number: int) -> int | None:
    """Return the tooth on the other side that moves as this one does, None if there is none."""
    other = 10 * {1: 2, 2: 1, 3: 4, 4: 3}[number // 10] + number % 10
    return other if other in found.common and alike(found.courses, number, other) else None
