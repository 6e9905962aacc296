"""What a reader of a course must know before anything else: what ended it, limits passed, bands left, doubts."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from biomech.report.worst import above_lines, by_day, wires_of, worst_of
from biomech.studies.strains import course_warnings

if TYPE_CHECKING:
    from biomech.movement.limits import Flag
    from biomech.movement.readings import Reading
    from biomech.studies import Solution
    from biomech.studies.course import Course

ORDER = ("bone", "wire", "pressure", "contact", "rate")
"""Limits in the order in which they are told; others follow."""
_NUMBER = re.compile(r"\d+(?:\.\d+)?(?:[ ,()]*(?:deg|mm|N|kPa|%)?[ ,()]+\d+(?:\.\d+)?)*")
"""A number, or several with their units in a row: sentences that differ only there say the same thing again."""
_TOLD_BY_WORST = (" above its published band of ", " is past its elastic limit")
"""Warnings of single moments that the worst of the course says better."""


def alarms(course: Course, judged: Sequence[tuple[float, Solution]]) -> list[str]:
    """Return in words what to know of a course: what stopped it, limits it passed and when, bands that teeth left.

    `judged` are the moments held against bands, with their days. Every limit is told once, by the day it was first
    passed; then what was warned of on the way. Empty when there is nothing.
    """
    out = limit_lines(course)
    out += above_lines(worst_of(judged), days=True)
    out += course_warnings(course)
    return list(dict.fromkeys([*out, *_of_moments(judged, set(out))]))


def _of_moments(judged: Sequence[tuple[float, Solution]], told: set[str]) -> Iterator[str]:
    """Yield what single moments warn of and is not told yet: once, with the days on which its figures differed."""
    first: dict[str, tuple[float, str]] = {}
    other: dict[str, list[float]] = {}
    for day, solution in judged:
        for text in solution.warnings:
            if text in told or any(words in text for words in _TOLD_BY_WORST):
                continue
            was = first.setdefault(_shape(text), (day, text))
            if was[1] != text:
                other.setdefault(_shape(text), []).append(day)
    for shape, (day, text) in first.items():
        later = f" (other figures {_days(other[shape])})" if shape in other else ""
        yield f"day {day:.0f}: {text}{later}"


def _shape(text: str) -> str:
    return _NUMBER.sub("#", text)


def limit_lines(course: Course) -> list[str]:
    """Return what stopped a course, and the limits it passed."""
    stopped = [f"STOPPED by a limit, {course.stopped}"] if course.stopped else []
    rest = [flag for flag in course.flags if course.stopped is None or not course.stopped.endswith(flag.text)]
    return [*stopped, *flag_lines(rest, course.readings)]


def flag_lines(flags: Sequence[Flag], readings: Sequence[Reading] = ()) -> Iterator[str]:
    """Yield one line for every sentence among the flags: when it was first so, and for which other teeth and days.

    With the `readings` of a course also how far a wire went at its worst.
    """
    groups: dict[tuple[str, str], list[Flag]] = {}
    for flag in sorted(flags, key=lambda f: f.day):
        groups.setdefault((flag.kind, _shape(flag.text)), []).append(flag)
    for (kind, _), found in sorted(groups.items(), key=lambda item: _rank(item[0][0])):
        first, *rest = found
        told = [first.text, *(_worst(first, readings) if kind == "wire" else ())]
        teeth = {f.tooth: f.day for f in reversed(rest) if f.tooth is not None and f.tooth != first.tooth}
        if teeth:
            told.append(f"likewise at tooth {by_day([(str(n), day) for n, day in teeth.items()])}")
        again = sorted({f.day for f in rest if f.tooth == first.tooth and f.day > first.day})
        if again:
            told.append(f"again {_days(again)}")
        yield f"day {first.day:.0f}: {'; '.join(told)}"


def _rank(kind: str) -> int:
    return ORDER.index(kind) if kind in ORDER else len(ORDER)


def _days(days: Sequence[float]) -> str:
    listed = list(dict.fromkeys(f"{day:.0f}" for day in days))
    if len(listed) > 3:
        return f"at {len(listed)} later moments, the last on day {listed[-1]}"
    return f"on day {', '.join(listed)}"


def _worst(flag: Flag, readings: Sequence[Reading]) -> Iterator[str]:
    """Yield how far the wire a flag names went at its worst, when that is later."""
    for wire in wires_of(readings):
        if f"'{wire.name}'" in flag.text and wire.share > 1.0 and wire.day > flag.day:
            yield f"at its worst {100 * wire.share:.0f} % on day {wire.day:.0f}"
