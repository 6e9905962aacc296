"""Marks and words over the pictures of a film of courses: visits, long axes and paths, what is read off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from biomech.mechanics.poses import Array, Pose
from biomech.render._course_data import CourseData, Note
from biomech.render._course_stage import Placed, magnified
from biomech.render._legend import INK, PALE
from biomech.render._shapes import to_viewer
from biomech.render._sheet import HEIGHT, LEAST, Sheet

ARCH, PAIR, FOOT = 124.0, 308.0, 492.0
"""Units from the top where the parts of a column begin."""
_OUT = 1.5  # mm by which a long axis is drawn beyond crown and apex


@dataclass(frozen=True)
class Column:
    """One course and its place: `pair` the rows of the teeth `numbers` seen from the front, their movement multiplied
    by `factor`.
    """

    data: CourseData
    left: float
    width: float
    numbers: tuple[int, ...]
    pair: list[int]
    factor: float
    arch: Placed
    front: Placed


@dataclass(frozen=True)
class Now:
    """A day of a course: `poses` of all teeth; of the fellows the poses at the `start`, on that `day`, and `drawn`."""

    day: float
    poses: Pose
    start: Pose
    fellows: Pose
    drawn: Pose


def now(c: Column, day: float) -> Now:
    """Return the poses of a day."""
    rows, poses = np.array(c.pair), c.data.poses_at(day)
    start, fellows = c.data.start.take(rows), poses.take(rows)
    return Now(day, poses, start, fellows, magnified(start, fellows, c.factor))


def tell(sheet: Sheet, c: Column, moment: Now, end: float) -> None:
    """Draw marks and words over the pictures."""
    middle, low = c.left + 0.5 * c.width, ARCH + (112.0 if c.data.jaw > 0 else 58.0)
    for i, line in enumerate(("seen from the", "occlusal side,", "true to size")):
        sheet.text((middle, low + 14 * i), line, 11.0, PALE, anchor="mm")
    _visits(sheet, c, moment.day, end)
    _paths(sheet, c, moment)
    _readings(sheet, c, moment)


def _visits(sheet: Sheet, c: Column, day: float, end: float) -> None:
    """Draw the time gone with a tick for every visit, and what was done at the last one."""
    left, long, y = c.left + 12.0, c.width - 24.0, 84.0
    sheet.line(np.array([(left, y), (left + long, y)]), "#d5dae1", 6.0)
    sheet.line(np.array([(left, y), (left + max(long * day / end, 0.5), y)]), INK, 6.0)
    for visit in c.data.visits[1:]:
        x = left + long * visit.day / end
        passed = visit.day <= day + 1e-9
        sheet.disc(np.array((x, y)), 5.0, INK if passed else "white", INK, 1.8)
    said = _said(c.data.note_at(day), len(c.data.visits) - 1)
    if c.data.stopped is not None and day >= c.data.end:
        said = f"Stopped: {c.data.stopped}"
    sheet.fitted((left, 93), said, long, 2, 11.5)


def _said(visit: Note, count: int) -> str:
    if visit.number == 0:
        return "Start: the wires are laid in"
    return f"Visit {visit.number} of {count}, day {visit.day:.0f}: {visit.done or 'looked at, nothing changed'}"


def _place(c: Column, points: Array) -> Array:
    """Return points (..., 3), global, of the teeth from the front on the sheet."""
    return c.front.place(c.front.stage.view.flat(to_viewer(points)))


def _axes(c: Column, poses: Pose) -> Array:
    """Return the two ends of the fellows' long axes (n, 2, 2) on the sheet."""
    ends = [_beyond(marks[c.pair]) for marks in (c.data.edge, c.data.apex)]
    return np.stack([_place(c, poses.point(end)) for end in ends], axis=1)


def axes_at_start(c: Column) -> Array:
    """Return the two ends of the fellows' long axes (n, 2, 2) on the sheet at the start."""
    return _axes(c, c.data.start.take(np.array(c.pair)))


def _paths(sheet: Sheet, c: Column, moment: Now) -> None:
    """Draw the fellows' long axes, and how far edge and apex have come, as drawn."""
    for axis in _axes(c, moment.drawn):
        sheet.line(axis, INK, 1.8)
    for mark in (c.data.edge[c.pair], c.data.apex[c.pair]):
        ways = zip(_place(c, moment.start.point(mark)), _place(c, moment.drawn.point(mark)), strict=True)
        for a, b in ways:
            sheet.line(np.array([a, b]), INK, 3.5)
            sheet.disc(b, 4.0, INK, INK)


def _beyond(marks: Array) -> Array:
    """Return the points (..., 3) of the long axis, tooth frame, that lie a little further out than the marks."""
    heights = marks[..., 2:]
    return np.concatenate([np.zeros_like(marks[..., :2]), heights + _OUT * np.sign(heights)], axis=-1)


def _readings(sheet: Sheet, c: Column, moment: Now) -> None:
    """Write width between the fellows and how far they are tipped."""
    start, fellows, rows, numbers = moment.start, moment.fellows, c.pair, c.numbers
    y = sheet.height - HEIGHT + FOOT + 4
    lines: list[tuple[str, str]] = []
    if len(rows) == 2:
        for name, mark in (("between crowns", c.data.edge[rows]), ("between apices", c.data.apex[rows])):
            gain = _span(fellows.point(mark)) - _span(start.point(mark))
            lines.append((f"Width {numbers[0]}\u2013{numbers[1]} {name}", _signed(gain)))
    named = " / ".join(str(n) for n in numbers)
    lines.append((f"Tipped, {named}", _tips([c.data.tip_at(moment.day, row) for row in rows])))
    for name, value in lines:
        sheet.fitted((c.left + 12, y + 2), name, 0.56 * c.width - 12, 1, 12.0, PALE)
        room = 0.43 * c.width - 12
        most, size = (1, 15.0) if sheet.measure(value, LEAST, bold=True) <= room else (2, LEAST)
        sheet.fitted((c.left + 0.57 * c.width, y), value, room, most, size, bold=True)
        y += 21


def _signed(millimetres: float) -> str:
    said = f"{millimetres:+.1f} mm".replace("-", "\u2212")
    return "0.0 mm" if said[1:] == "0.0 mm" else said


def _span(points: Array) -> float:
    return float(np.linalg.norm(points[0] - points[1]))


def _tips(degrees: Sequence[float]) -> str:
    """Return tips in words: how far, and which end leads; said once when all lean the same way."""
    sizes = [f"{abs(value):.1f}\u00b0" for value in degrees]
    ways = ["crown outward" if value > 0 else "root outward" for value in degrees]
    if all(size == "0.0\u00b0" for size in sizes):
        return "0.0\u00b0"
    if len(set(ways)) == 1:
        return f"{' / '.join(dict.fromkeys(sizes))} {ways[0]}"
    return " / ".join(f"{size} {way}" for size, way in zip(sizes, ways, strict=True))
