"""Marks and words over the pictures of a film of courses: visits, long axes and paths, what is read off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from biomech.mechanics.poses import Array, Pose
from biomech.render._course_data import CourseData
from biomech.render._course_layout import BAR, EDGE, PITCH, SAID, Layout, names_of, said_at
from biomech.render._course_stage import Placed, magnified
from biomech.render._legend import INK, PALE
from biomech.render._shapes import to_viewer
from biomech.render._sheet import Sheet

_OUT = 1.5  # mm by which a long axis is drawn beyond crown and apex


@dataclass(frozen=True)
class Column:
    """One course and its place: `pair` the rows of the teeth `numbers` seen from the front, their movement multiplied
    by `factor`; `brief` where there is little room for words.
    """

    data: CourseData
    layout: Layout
    brief: bool
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
    _visits(sheet, c, moment.day, end)
    _paths(sheet, c, moment)
    _readings(sheet, c, moment)


def _visits(sheet: Sheet, c: Column, day: float, end: float) -> None:
    """Draw the time gone with a tick for every visit, and what was done at the last one."""
    left, long, y = c.left + EDGE, c.width - 2 * EDGE, BAR
    sheet.line(np.array([(left, y), (left + long, y)]), "#d5dae1", 6.0)
    sheet.line(np.array([(left, y), (left + max(long * day / end, 0.5), y)]), INK, 6.0)
    for visit in c.data.visits[1:]:
        x = left + long * visit.day / end
        passed = visit.day <= day + 1e-9
        sheet.disc(np.array((x, y)), 5.0, INK if passed else "white", INK, 1.8)
    lines, size = c.layout.said
    sheet.fitted((left, SAID), said_at(c.data, day), long, lines, size)


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
    start, fellows, rows = moment.start, moment.fellows, c.pair
    values: list[str] = []
    if len(rows) == 2:
        for mark in (c.data.edge[rows], c.data.apex[rows]):
            values.append(_signed(_span(fellows.point(mark)) - _span(start.point(mark))))
    values.append(_tips([c.data.tip_at(moment.day, row) for row in rows]))
    lay, left = c.layout, c.left + EDGE
    room = c.width - 2 * EDGE - lay.names
    for i, (name, value) in enumerate(zip(names_of(c.numbers, brief=c.brief), values, strict=True)):
        y = lay.foot + PITCH * i
        sheet.text((left, y + lay.value - lay.name), name, lay.name, PALE)
        sheet.fitted((left + lay.names, y), value, room, 2, lay.value, bold=True)


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
