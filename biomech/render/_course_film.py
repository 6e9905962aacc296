"""Pictures of courses side by side: the arch from the occlusal side, two fellow teeth from the front, a clock."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from biomech.mechanics.poses import Array, Pose
from biomech.render._canvas import PALETTE
from biomech.render._course_data import CourseData, Note, pair_of
from biomech.render._course_stage import Placed, magnified, placed_stage, rows_of
from biomech.render._legend import INK, PALE
from biomech.render._shapes import magnification, round_down, to_viewer
from biomech.render._sheet import HEIGHT, Frame, Sheet
from biomech.render._views import CROWN, OUTLINE, ROOT, View
from biomech.scenario.course import MONTH

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_COLUMNS = 3
_ARCH, _PAIR, _FOOT = 124.0, 308.0, 492.0  # units from the top: where the parts of a column begin
_SHOWN = 10.0  # mm that the largest movement of the fellows may reach in the picture
_OUT = 1.5  # mm by which a long axis is drawn beyond crown and apex
_REST = 0.08  # share of the frames that show the end


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


def course_frames(
    datas: Sequence[CourseData], tooth: int | None, frames: int, size: tuple[int, int], magnify: float | None
) -> Iterator[Frame]:
    """Yield the frames, the courses' time running evenly; the last ones show the end. Drawing must work."""
    numbers = pair_of(list(datas), tooth)
    factor = _factor(datas, numbers, magnify)
    bare = Sheet(size)
    end = max(d.end for d in datas)
    colours = _colours(datas)
    with ExitStack() as stack:
        columns = [_column(datas, i, numbers, factor, bare, stack) for i in range(len(datas))]
        outlines = _outlines(columns, size)
        ground = _ground(bare, columns, colours)
        shown, frame = -1.0, bare.frame()
        for k in range(frames):
            day = end * min(1.0, k / ((1.0 - _REST) * (frames - 1)))
            if day == shown:
                yield frame
                continue
            sheet = Sheet(size, ground.image)
            sheet.text((12, 8), f"Month {day / MONTH:.1f}", 21, bold=True)
            sheet.text((160, 15), f"day {day:.0f} of {end:.0f}", 12.5, PALE)
            for column in columns:
                _shots(sheet, column, min(day, column.data.end), colours)
            sheet.stamp(outlines, OUTLINE)
            for column in columns:
                _told(sheet, column, min(day, column.data.end), end)
            shown, frame = day, sheet.frame()
            yield frame


def _colours(datas: Sequence[CourseData]) -> dict[str, str]:
    names = dict.fromkeys(name for d in datas for s in d.stretches for name in s.wires)
    return {name: PALETTE[i % len(PALETTE)] for i, name in enumerate(names)}


def _factor(datas: Sequence[CourseData], numbers: tuple[int, ...], magnify: float | None) -> float:
    """Return what movements from the front are multiplied with, one factor for all courses."""
    largest = 0.0
    for data in datas:
        rows = rows_of(data, numbers)
        for day in np.linspace(0.0, data.end, 25):
            now = data.poses_at(float(day)).take(np.array(rows))
            for mark in (data.edge[rows], data.apex[rows]):
                moved = now.point(mark) - data.start.take(np.array(rows)).point(mark)
                largest = max(largest, float(np.linalg.norm(moved, axis=-1).max()))
    if magnify is not None or largest <= 0.0:
        return magnification(largest, magnify)
    return max(1.0, round_down(_SHOWN / largest))


def _column(
    datas: Sequence[CourseData], i: int, numbers: tuple[int, ...], factor: float, sheet: Sheet, stack: ExitStack
) -> Column:
    data, width = datas[i], sheet.width / len(datas)
    rows, x, y, z = rows_of(data, numbers), *np.eye(3)
    occlusal = View("from the occlusal side", x, -data.jaw * y, data.numbers)
    front = View("from the front", x, z, numbers)
    left, shown = width * i, width - 16.0
    low = (shown, sheet.height - HEIGHT + _FOOT - _PAIR - 18.0)
    arch = placed_stage(datas, i, occlusal, 1.0, (left + 8.0, _ARCH), (shown, _PAIR - _ARCH), sheet)
    stack.enter_context(arch.stage)
    pair = placed_stage(datas, i, front, factor, (left + 8.0, _PAIR + 18.0), low, sheet)
    stack.enter_context(pair.stage)
    return Column(data, left, width, numbers, rows, factor, arch, pair)


def _ground(sheet: Sheet, columns: Sequence[Column], colours: dict[str, str]) -> Sheet:
    """Draw what does not change."""
    from biomech.studies.solve import CAUTION

    for i, c in enumerate(columns):
        if i:
            sheet.line(np.array([(c.left, 44.0), (c.left, sheet.height - 46.0)]), "#c8ced6")
        sheet.fitted((c.left + 12, 42), c.data.title, c.width - 24, 2, 14.0, bold=True)
        said = "true to size" if c.factor == 1.0 else f"movement drawn \u00d7{c.factor:g}"
        middle = c.left + 0.5 * c.width
        sheet.text((middle, _PAIR + 8), f"{c.front.stage.view.title}, {said}", 11.5, PALE, anchor="mm")
    _legend(sheet, colours)
    notes = " ".join(dict.fromkeys(c.data.note for c in columns if c.data.note))
    sheet.fitted((12, sheet.height - 18), f"{notes} {CAUTION}".strip(), sheet.width - 24, 1, 10.0, PALE)
    return sheet


def _legend(sheet: Sheet, colours: dict[str, str]) -> None:
    x, y = 12.0, sheet.height - 33.0
    named = list(colours.items())[:4]
    for words, colour in (("crown", CROWN), ("root", ROOT)):
        sheet.polygon(np.array([(x, y - 5), (x + 18, y - 5), (x + 18, y + 5), (x, y + 5)]), colour, PALE)
        sheet.text((x + 24, y), words, 11.5, anchor="lm")
        x += 36 + sheet.measure(words, 11.5)
    sheet.dashed(np.array([(x, y), (x + 24, y)]), OUTLINE, 1.5)
    sheet.text((x + 30, y), "at the start", 11.5, anchor="lm")
    x += 42 + sheet.measure("at the start", 11.5)
    lines = [("long axis", INK, 1.8), ("path of cusp and apex", INK, 3.5), *((f"wire {n}", k, 4.0) for n, k in named)]
    for words, colour, thick in lines:
        sheet.line(np.array([(x, y), (x + 24, y)]), colour, thick)
        sheet.text((x + 30, y), words, 11.5, anchor="lm")
        x += 42 + sheet.measure(words, 11.5)


def _outlines(columns: Sequence[Column], size: tuple[int, int]) -> Image:
    """Return a mask of the outlines at the start."""
    sheet = Sheet(size)
    for c in columns:
        for placed, width in ((c.arch, 0.9), (c.front, 1.5)):
            for line in placed.stage.outlines():
                sheet.dashed(placed.place(line), "black", width, (4.0, 3.0))
    return sheet.mask()


def _shots(sheet: Sheet, c: Column, day: float, colours: dict[str, str]) -> None:
    """Lay down the pictures of the teeth."""
    radii = c.data.stretch_at(day).radii
    wires = {n: (line, radii[n], colours[n]) for n, line in c.data.wires_at(day).items()}
    sheet.paste(c.arch.stage.shot(c.data.poses_at(day), wires), c.arch.at)
    sheet.paste(c.front.stage.shot(_fellows(c, day)[2], {}), c.front.at)


def _fellows(c: Column, day: float) -> tuple[Pose, Pose, Pose]:
    """Return the poses of the teeth seen from the front at the start, at a time, and as drawn."""
    rows = np.array(c.pair)
    start, now = c.data.start.take(rows), c.data.poses_at(day).take(rows)
    return start, now, magnified(start, now, c.factor)


def _told(sheet: Sheet, c: Column, day: float, end: float) -> None:
    """Draw marks and words over the pictures."""
    middle, low = c.left + 0.5 * c.width, _ARCH + (112.0 if c.data.jaw > 0 else 58.0)
    for i, line in enumerate(("seen from the", "occlusal side,", "true to size")):
        sheet.text((middle, low + 14 * i), line, 11.0, PALE, anchor="mm")
    _visits(sheet, c, day, end)
    _paths(sheet, c, day)
    _readings(sheet, c, day)


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


def _paths(sheet: Sheet, c: Column, day: float) -> None:
    """Draw the fellows' long axes then and now, and how far edge and apex have come, as drawn."""
    start, _, drawn = _fellows(c, day)

    def place(points: Array) -> Array:
        return c.front.place(c.front.stage.view.flat(to_viewer(points)))

    ends = [_beyond(c.data.edge[c.pair]), _beyond(c.data.apex[c.pair])]
    for was in zip(*(place(start.point(end)) for end in ends), strict=True):
        sheet.dashed(np.array(was), OUTLINE, 1.5)
    for now in zip(*(place(drawn.point(end)) for end in ends), strict=True):
        sheet.line(np.array(now), INK, 1.8)
    for mark in (c.data.edge[c.pair], c.data.apex[c.pair]):
        for a, b in zip(place(start.point(mark)), place(drawn.point(mark)), strict=True):
            sheet.line(np.array([a, b]), INK, 3.5)
            sheet.disc(b, 4.0, INK, INK)


def _beyond(marks: Array) -> Array:
    """Return the points (..., 3) of the long axis, tooth frame, that lie a little further out than the marks."""
    heights = marks[..., 2:]
    return np.concatenate([np.zeros_like(marks[..., :2]), heights + _OUT * np.sign(heights)], axis=-1)


def _readings(sheet: Sheet, c: Column, day: float) -> None:
    """Write width between the fellows and how far they are tipped."""
    (start, now, _), rows, numbers = _fellows(c, day), c.pair, c.numbers
    y = sheet.height - HEIGHT + _FOOT + 4
    lines: list[tuple[str, str]] = []
    if len(rows) == 2:
        for name, mark in (("between crowns", c.data.edge[rows]), ("between apices", c.data.apex[rows])):
            gain = _span(now.point(mark)) - _span(start.point(mark))
            lines.append((f"Width {numbers[0]}\u2013{numbers[1]} {name}", _signed(gain)))
    named = " / ".join(str(n) for n in numbers)
    lines.append((f"Tipped, {named}", _tips([c.data.tip_at(day, row) for row in rows])))
    for name, value in lines:
        sheet.fitted((c.left + 12, y + 2), name, 0.56 * c.width - 12, 1, 12.0, PALE)
        sheet.fitted((c.left + 0.57 * c.width, y), value, 0.43 * c.width - 12, 1, 15.0, bold=True)
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
