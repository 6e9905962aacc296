"""Chosen days of courses, and the arch on them as data."""

from __future__ import annotations

import bisect
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from biomech.errors import InputError
from biomech.scenario.course import MONTH
from biomech.studies.course_files import reading_record
from biomech.studies.curves import Curves
from biomech.studies.phrases import crown_leads
from biomech.units import read

WORDS = ("start", "middle", "end", "visits")
SPENT = 0.01
"""N.mm of energy from which shares of it are formed. A convention."""
SAME_DAY = 1e-6
"""Days within which two moments are the same."""


class Stop(NamedTuple):
    """A time at which courses are compared: its name and, for each of them, the day; None where it has no such time."""

    name: str
    days: tuple[float | None, ...]


def read_stops(texts: Sequence[str], courses: Sequence[Curves], planned: Sequence[float]) -> list[Stop]:
    """Return the times that `texts` name; `planned`: how many days each course was to last.

    "start", "middle" (half of the shortest), "end" (of each), "visits" (each of them, as found), "visit 3", or a time
    since the start, "6 months". In order; InputError for anything else, and for a time that no course reaches.
    """
    out: list[Stop] = []
    for text in texts:
        out += [stop for stop in _stops(text.strip(), courses, planned) if stop not in out]
    return sorted(out, key=lambda stop: min(day for day in stop.days if day is not None))


def usual(courses: Sequence[Curves], planned: Sequence[float]) -> list[Stop]:
    """Return the middle, the last day that all courses reach where they differ, and the end."""
    last = min(course.end for course in courses)
    stops = [*_stops("middle", courses, planned), *_stops("end", courses, planned)]
    if any(course.end - last > SAME_DAY for course in courses):
        stops.insert(1, Stop("end of the shortest", (last,) * len(courses)))
    return [stop for i, stop in enumerate(stops) if stop.days not in [s.days for s in stops[:i]]]


def _stops(text: str, courses: Sequence[Curves], planned: Sequence[float]) -> Iterator[Stop]:
    if text == "visits":
        for number in range(1, max(len(course.visits) for course in courses)):
            yield from _stops(f"visit {number}", courses, planned)
        return
    days = tuple(_day(text, course, 0.5 * min(planned)) for course in courses)
    if all(day is None for day in days):
        most = max(len(c.visits) for c in courses) - 1
        reached = max(course.end for course in courses)
        raise _unreached(text, most, reached)
    yield Stop(text, days)


def check_stops(texts: Sequence[str]) -> None:
    """Raise InputError for texts that name no time of any course, before courses are run."""
    for text in texts:
        if text.strip() not in WORDS and _visit(text.strip()) is None:
            _time(text.strip())


def check_reached(texts: Sequence[str], visits: int, last: float) -> None:
    """Raise InputError for times after the last of `visits` and days that any course has, before courses are run."""
    for text in (t.strip() for t in texts):
        number = _visit(text)
        late = text not in WORDS and _time(text) > last + SAME_DAY if number is None else not 1 <= number <= visits
        if late:
            raise _unreached(text, visits, last)


def _unreached(text: str, visits: int, last: float) -> InputError:
    return InputError(f'"{text}": no course gets there; visits: {visits}, last day: {last:.4g}')


def _visit(text: str) -> int | None:
    """Return the number in "visit 3", None for another text."""
    word, _, number = text.partition(" ")
    return int(number) if word == "visit" and number.isdigit() else None


def _time(text: str) -> float:
    try:
        day = read("time", text)
    except InputError:
        known = ", ".join(f'"{w}"' for w in WORDS)
        raise InputError(f'"{text}" is no time of a course; allowed: {known}, "visit 2", "6 months"') from None
    if day < 0.0:
        raise InputError(f'"{text}" lies before the start of the course')
    return day


def _day(text: str, course: Curves, middle: float) -> float | None:
    number = _visit(text)
    if number is not None:
        return next((v.day for v in course.visits if v.number == number > 0), None)
    if text == "end":
        return course.end
    day = {"start": 0.0, "middle": middle}[text] if text in ("start", "middle") else _time(text)
    return day if day <= course.end + SAME_DAY else None


def name_of(day: float) -> str:
    """Return a time in words: "12 months" where it is close to whole or half months, else "45 days"."""
    months = day / MONTH
    near = round(2 * months) / 2
    if near >= 1 and abs(months - near) < 0.02 * near:
        return f"{near:g} month{'' if near == 1 else 's'}"
    return f"{day:.4g} day{'' if day == 1 else 's'}"


def state_at(course: Curves, day: float | None) -> dict[str, Any]:
    """Return the arch of a course on one day, as in course.json, with ratios, means and what is left of each wire.

    On the day of a visit it is the arch as found, at the start as the wires were laid in. Between the moments that were
    computed a monotone cubic of each quantity is read (Fritsch and Carlson 1980 SIAM J Numer Anal 17:238; from memory).
    Without a day there is nothing.
    """
    if day is None:
        return {"teeth": {}, "arch": {}, "wires": {}}
    ends = [leg[-1].day for leg in course.legs]
    k = min(bisect.bisect_left(ends, day - SAME_DAY), len(ends) - 1)
    records = [reading_record(reading, course.before) for reading in course.legs[k]]
    state = _between(records, [r["day"] for r in records], day)
    _derive(state, course.visits[k].after.wires, day)
    return state


def _between(records: Sequence[dict[str, Any]], times: Sequence[float], day: float) -> dict[str, Any]:
    from scipy.interpolate import PchipInterpolator

    # the last of those on the day: a leg without length has two
    there = [r for r, t in zip(records, times, strict=True) if abs(t - day) <= SAME_DAY]
    if there:
        return there[-1]
    values = np.array([list(_leaves(record)) for record in records])
    found = iter(PchipInterpolator(np.array(times), values)(day).tolist())
    out: dict[str, Any] = _refill(records[0], found)
    return out


def _leaves(record: Any) -> Iterator[float]:
    if isinstance(record, Mapping):
        for value in record.values():
            yield from _leaves(value)
    elif isinstance(record, int | float):
        yield float(record)


def _refill(record: Any, found: Iterator[float]) -> Any:
    """Return a record of the same shape with other numbers."""
    if isinstance(record, Mapping):
        return {key: _refill(value, found) for key, value in record.items()}
    return next(found) if isinstance(record, int | float) else record


def _derive(state: dict[str, Any], left: Mapping[str, Any], day: float) -> None:
    """Add what follows from a record: ratios of teeth, widths a month, the incisors, shares of wires' energy."""
    for tooth in state["teeth"].values():
        crown, apex = tooth["axis_crown_mm"]["buccal"], tooth["axis_apex_mm"]["buccal"]
        tip = -tooth["turn_deg"]["torque"]
        moves = crown_leads(crown, apex)
        tooth["apex_to_crown"] = apex / crown if moves else None
        tooth["buccal_tip_deg"] = tip
        tooth["tip_deg_per_mm"] = tip / crown if moves else None
    arch = state["arch"]
    months = day / MONTH
    arch["width_mm_per_month"] = {
        place: at["crown"] / months if months > 0 else None for place, at in arch["width_change_mm"].items()
    }
    front = [t["crown_mm"]["buccal"] for n, t in state["teeth"].items() if n in ("11", "21", "31", "41")]
    arch["incisors_forward_mm"] = float(np.mean(front)) if front else None
    for name, wire in state["wires"].items():
        given = left[name].energy if name in left else 0.0
        wire["of_what_was_left_percent"] = 100.0 * wire["energy_N_mm"] / given if given > SPENT else None
