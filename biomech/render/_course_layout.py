"""Where things stand in a film of courses, and in which size words are written: the same for all courses of a film."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from biomech.render._course_data import CourseData, Note
from biomech.render._sheet import HEIGHT, Sheet

TITLE, BAR, SAID = 40.0, 87.0, 95.0
"""Units from the top: titles, time gone, what was done."""
NAME, VALUE = 12.0, 13.5
"""Height of names and values that are read off, where there is room."""
PITCH = 19.0
"""Units from one row of values to the next."""
EDGE = 12.0
"""Units from the edge of a column to its words."""
CUSPS = {1: "edges", 2: "edges", 3: "cusp tips"}
"""What widths are measured between at the crowns of teeth by their place from the midline; buccal cusps behind."""
NARROW = 3
"""Columns from which on there is little room for words."""
_NAMES = 0.44  # share of a column for names, so that values beside them can be read too
_READ = 11.0  # units: height of a title down to which it gets two lines
_SMALL, _ROWS = 10.5, 5  # units: height of what is said down to which it gets no more lines; the most lines
_CAPTION = 16.0  # units for the words above a picture
_PAIR, _FOOT = 316.0, 491.0
_WIDEST = "88.8\u00b0 crown outward / 88.8\u00b0 root outward"


@dataclass(frozen=True)
class Layout:
    """Units from the top where the picture of the `arch`, that of the `pair` and the numbers (`foot`) begin, with
    their captions above them; lines and height of `titles` and of what is `said` at visits; heights of the `name` and
    of the `value` of a number, and the width of the `names`.
    """

    arch: float
    pair: float
    foot: float
    titles: tuple[int, float]
    said: tuple[int, float]
    name: float
    value: float
    names: float

    @property
    def captions(self) -> tuple[float, float]:
        """Middle of the captions above arch and pair."""
        return self.arch - 0.5 * _CAPTION, self.pair - 0.5 * _CAPTION


def layout_of(sheet: Sheet, datas: Sequence[CourseData], numbers: Sequence[int]) -> Layout:
    """Return the layout of a film of courses and of the teeth seen from the front."""
    room = sheet.width / len(datas) - 2 * EDGE
    titles = [data.title for data in datas]
    lines, high = 2, sheet.common_size(titles, room, 2, 14.0, bold=True)
    if high < _READ:
        lines, high = 3, sheet.common_size(titles, room, 3, _READ, bold=True)
    told = [said for data in datas for said in sayings(data)]
    sizes = {rows: sheet.common_size(told, room, rows, 11.5) for rows in range(2, _ROWS + 1)}
    rows = next((rows for rows, size in sizes.items() if size >= _SMALL), _ROWS)
    size = sizes[rows]
    arch = SAID + 1.25 * rows * size + _CAPTION
    names = names_of(numbers, brief=len(datas) >= NARROW)
    name = sheet.common_size(names, _NAMES * room, 1, NAME)
    widest = max(sheet.measure(one, name) for one in names) + 8.0
    value = sheet.common_size([_WIDEST], room - widest, 2, VALUE, bold=True)
    lower = sheet.height - HEIGHT  # a sheet higher than usual has more room for pictures
    return Layout(arch, _PAIR + _CAPTION + 0.5 * lower, _FOOT + lower, (lines, high), (rows, size), name, value, widest)


def names_of(numbers: Sequence[int], *, brief: bool) -> list[str]:
    """Return the names of what is read off: widths between cusps (edges) and apices of two fellows, and their tip."""
    named = " / ".join(str(n) for n in numbers)
    if len(numbers) < 2:
        return [f"Tip {named}"]
    width = "Width" if brief else f"Width {numbers[0]}\u2013{numbers[1]}"
    point = CUSPS.get(numbers[0] % 10, "buccal cusps")
    return [f"{width}, {point}", f"{width}, apices", f"Tip {named}"]


def sayings(data: CourseData) -> list[str]:
    """Return all that is said of a course's visits and of its end."""
    count = len(data.visits) - 1
    stopped = [] if data.stopped is None else [_stopped(data.stopped)]
    return [*(_visit(visit, count, data) for visit in data.visits), *stopped]


def said_at(data: CourseData, day: float) -> str:
    """Return what is said on a day: what was done at the last visit, or what ended the course."""
    if data.stopped is not None and day >= data.end:
        return _stopped(data.stopped)
    return _visit(data.note_at(day), len(data.visits) - 1, data)


def _stopped(why: str) -> str:
    return f"Stopped: {why}"


def _visit(visit: Note, count: int, data: CourseData) -> str:
    if visit.number == 0:
        return f"Start: the {'wires are laid in' if data.stretches[0].wires else 'loads act'}"
    return f"Visit {visit.number} of {count}, day {visit.day:.0f}: {visit.done or 'looked at, nothing changed'}"
