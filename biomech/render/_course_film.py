"""Pictures of courses side by side: the arch from the occlusal side, two fellow teeth from the front, a clock."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from biomech.render._course_data import CourseData, pair_of
from biomech.render._course_layout import EDGE, NARROW, TITLE, Layout, layout_of
from biomech.render._course_marks import Column, Now, axes_at_start, now, tell
from biomech.render._course_stage import placed_stage, rows_of
from biomech.render._crew import drawn
from biomech.render._legend import INK, PALE, PALETTE
from biomech.render._shapes import magnification, round_down
from biomech.render._sheet import Frame, Sheet, Tile
from biomech.render._views import CROWN, OUTLINE, ROOT, View

MOST_COLUMNS = 3
_SHOWN = 10.0  # mm that the largest movement of the fellows may reach in the picture
_REST = 0.08  # share of the frames that show the end


@dataclass(frozen=True)
class CourseFilm:
    """All that a process must know to draw pictures of a film, without loading what made it: courses, the teeth
    `numbers` seen from the front and the factor of their movement, `size` in pixels, `colours` of wires, words at the
    foot, days of a `month`.
    """

    datas: tuple[CourseData, ...]
    numbers: tuple[int, ...]
    factor: float
    size: tuple[int, int]
    colours: dict[str, str]
    foot: str
    month: float

    @property
    def end(self) -> float:
        """The last day of all courses."""
        return max(data.end for data in self.datas)

    def painter(self, stack: ExitStack) -> Callable[[float], Frame]:
        """Return a function that draws the picture of a day; `stack` closes its stages. Drawing must work."""
        bare = Sheet(self.size)
        layout = layout_of(bare, self.datas, self.numbers)
        columns = [_column(self, i, layout, bare, stack) for i in range(len(self.datas))]
        outlines = _outlines(columns, self.size)
        ground = _ground(bare, columns, self.colours, self.foot)

        def picture(day: float) -> Frame:
            sheet = Sheet(self.size, ground.image)
            sheet.text((12, 8), f"Month {day / self.month:.1f}", 21, bold=True)
            sheet.text((160, 15), f"day {day:.0f} of {self.end:.0f}", 12.5, PALE)
            moments = [now(column, min(day, column.data.end)) for column in columns]
            for column, moment in zip(columns, moments, strict=True):
                _shots(sheet, column, moment, self.colours)
            sheet.stamp(outlines, OUTLINE)
            for column, moment in zip(columns, moments, strict=True):
                tell(sheet, column, moment, self.end)
            return sheet.frame()

        return picture


def course_frames(
    datas: Sequence[CourseData], tooth: int | None, frames: int, size: tuple[int, int], magnify: float | None,
    processes: int = 1,
) -> Iterator[Frame]:  # fmt: skip
    """Yield the frames, the courses' time running evenly; the last ones show the end. Drawing must work.

    They are the same however many `processes` draw them (see _crew).
    """
    film = course_film(datas, tooth, size, magnify)
    days = [film.end * min(1.0, k / ((1.0 - _REST) * (frames - 1))) for k in range(frames)]
    different = [(day, len(list(same))) for day, same in groupby(days)]
    pictures = drawn(film, [day for day, _ in different], processes)
    for (_, times), picture in zip(different, pictures, strict=True):
        for _ in range(times):
            yield picture


def course_film(
    datas: Sequence[CourseData], tooth: int | None, size: tuple[int, int], magnify: float | None
) -> CourseFilm:
    """Return what is needed to draw a film of courses; `tooth` and `magnify` as in animate_courses."""
    from biomech.scenario.course import MONTH

    numbers = pair_of(list(datas), tooth)
    foot = " ".join(dict.fromkeys([*(d.note for d in datas if d.note), *(d.caution for d in datas)]))
    return CourseFilm(tuple(datas), numbers, _factor(datas, numbers, magnify), size, _colours(datas), foot, MONTH)


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


def _column(film: CourseFilm, i: int, layout: Layout, sheet: Sheet, stack: ExitStack) -> Column:
    datas, numbers, factor = film.datas, film.numbers, film.factor
    data, width = datas[i], sheet.width / len(datas)
    rows, x, y, z = rows_of(data, numbers), *np.eye(3)
    occlusal = View("from the occlusal side", x, -data.jaw * y, data.numbers)
    front = View("from the front", x, z, numbers)
    left, shown = width * i, width - 16.0
    high = (shown, layout.pair - 16.0 - layout.arch)
    arch = placed_stage(datas, i, occlusal, 1.0, (left + 8.0, layout.arch), high, sheet)
    stack.enter_context(arch.stage)
    low = (shown, layout.foot - 2.0 - layout.pair)
    pair = placed_stage(datas, i, front, factor, (left + 8.0, layout.pair), low, sheet)
    stack.enter_context(pair.stage)
    return Column(data, layout, len(datas) >= NARROW, left, width, numbers, rows, factor, arch, pair)


def _ground(sheet: Sheet, columns: Sequence[Column], colours: dict[str, str], foot: str) -> Sheet:
    """Draw what does not change."""
    for i, c in enumerate(columns):
        if i:
            sheet.line(np.array([(c.left, 44.0), (c.left, sheet.height - 46.0)]), "#c8ced6")
        lines, size = c.layout.titles
        sheet.fitted((c.left + EDGE, TITLE), c.data.title, c.width - 2 * EDGE, lines, size, bold=True)
        said = "true to size" if c.factor == 1.0 else f"movement drawn \u00d7{c.factor:g}"
        middle, (high, low) = c.left + 0.5 * c.width, c.layout.captions
        sheet.text((middle, high), f"{c.arch.stage.view.title}, true to size", 11.5, PALE, anchor="mm")
        sheet.text((middle, low), f"{c.front.stage.view.title}, {said}", 11.5, PALE, anchor="mm")
    _legend(sheet, colours)
    sheet.fitted((12, sheet.height - 18), foot, sheet.width - 24, 1, 10.0, PALE)
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


def _outlines(columns: Sequence[Column], size: tuple[int, int]) -> list[Tile]:
    """Return a stencil of the outlines at the start and of the fellows' long axes then."""
    sheet = Sheet(size)
    for c in columns:
        for placed, width in ((c.arch, 0.9), (c.front, 1.5)):
            for line in placed.stage.outlines():
                sheet.dashed(placed.place(line), "black", width, (4.0, 3.0))
        for axis in axes_at_start(c):
            sheet.dashed(axis, "black", 1.5)
    return sheet.stencil()


def _shots(sheet: Sheet, c: Column, moment: Now, colours: dict[str, str]) -> None:
    """Lay down the pictures of the teeth."""
    radii = c.data.stretch_at(moment.day).radii
    wires = {n: (line, radii[n], colours[n]) for n, line in c.data.wires_at(moment.day).items()}
    sheet.paste(c.arch.stage.shot(moment.poses, wires), c.arch.at)
    sheet.paste(c.front.stage.shot(moment.drawn, {}), c.front.at)
