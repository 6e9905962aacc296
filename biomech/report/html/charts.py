"""Small charts as inline SVG: a value for every tooth, a curve along the arch or over the steps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from biomech.report.html.markup import Raw, number, tag

WIDTH, LEFT, RIGHT, TOP, BOTTOM = 760.0, 62.0, 16.0, 30.0, 46.0
NOISE = 1e-6
"""Span of values, in any unit here, below which they are drawn as zero."""


@dataclass(frozen=True)
class Series:
    """Values of one thing; None leaves a gap. `style` 1, 2, 3 picks colour and mark."""

    name: str
    values: Sequence[float | None]
    style: int = 1


@dataclass(frozen=True)
class Zone:
    """A published band over positions `first` to `last`."""

    low: float
    high: float
    first: int
    last: int


def ticks(low: float, high: float, wanted: int = 5) -> list[float]:
    """Return round values from below `low` to above `high`."""
    span = max(high - low, 1e-12)
    rough = span / wanted
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(m * power for m in (1, 2, 2.5, 5, 10) if m * power >= rough * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(i * step, 12) for i in range(first, last + 1)]


def _digits(marks: Sequence[float]) -> int:
    """Return how many decimals the marks of a scale need."""
    digits = max(0, -math.floor(math.log10(marks[1] - marks[0]) + 1e-9))
    return digits + any(abs(m * 10**digits - round(m * 10**digits)) > 1e-6 for m in marks)


class Axes:
    """A frame with a vertical scale and positions 0 .. n - 1 from left to right."""

    def __init__(self, n: int, values: Sequence[float], height: float) -> None:
        self.n, self.height = n, height
        low, high = min([0.0, *values]), max([0.0, *values])
        self.marks = ticks(low, high) if high - low > NOISE else [0.0, 1.0]

    def x(self, i: float) -> float:
        """Return the place of position `i`."""
        room = WIDTH - LEFT - RIGHT
        return LEFT + room * (i + 0.5) / self.n

    def y(self, value: float) -> float:
        """Return the place of a value."""
        low, high = self.marks[0], self.marks[-1]
        return TOP + (self.height - TOP - BOTTOM) * (high - value) / (high - low)

    def frame(self, unit: str, names: Sequence[str], below: str) -> list[Raw]:
        """Return grid, scale and names of the positions."""
        digits = _digits(self.marks)
        out = []
        for mark in self.marks:
            y = f"{self.y(mark):.1f}"
            kind = "axis" if mark == 0 else "grid"
            out.append(tag("line", class_=kind, x1=LEFT, x2=WIDTH - RIGHT, y1=y, y2=y))
            out.append(_text(LEFT - 8, self.y(mark) + 4, number(mark, digits), "end"))
        every = max(1, math.ceil(self.n / 15))
        for i, name in enumerate(names):
            if i % every == 0:
                out.append(_text(self.x(i), self.height - BOTTOM + 18, name, "middle"))
        out.append(_text(LEFT - 54, 16, unit, "start"))
        out.append(_text((WIDTH + LEFT) / 2, self.height - 8, below, "middle"))
        return out


def _text(x: float, y: float, text: str, anchor: str) -> Raw:
    return tag("text", text, x=f"{x:.1f}", y=f"{y:.1f}", text_anchor=anchor)


def _mark(x: float, y: float, style: int) -> Raw:
    """Return a mark whose shape, not only its colour, tells the series."""
    if style == 1:
        return tag("circle", class_="s1", cx=f"{x:.1f}", cy=f"{y:.1f}", r=5)
    if style == 2:
        return tag("rect", class_="s2", x=f"{x - 4.5:.1f}", y=f"{y - 4.5:.1f}", width=9, height=9)
    points = f"{x:.1f},{y - 6:.1f} {x + 6:.1f},{y + 5:.1f} {x - 6:.1f},{y + 5:.1f}"
    return tag("polygon", class_="s3", points=points)


def _legend(series: Sequence[Series], extra: str | None) -> list[Raw]:
    out, x = [], LEFT + 150.0
    for s in series:
        out += [_mark(x, 12, s.style), _text(x + 10, 16, s.name, "start")]
        x += 30 + 7.2 * len(s.name)
    if extra:
        out += [tag("rect", class_="zone", x=x, y=4, width=16, height=14), _text(x + 22, 16, extra, "start")]
    return out


def _svg(height: float, title: str, parts: list[Raw]) -> Raw:
    return tag("svg", tag("title", title), *parts, viewBox=f"0 0 {WIDTH:g} {height:g}", role="img")


def _zones(axes: Axes, zones: Sequence[Zone]) -> list[Raw]:
    out = []
    for zone in zones:
        x1, x2 = axes.x(zone.first - 0.42), axes.x(zone.last + 0.42)
        y1, y2 = axes.y(zone.high), axes.y(zone.low)
        out.append(tag("rect", class_="zone", x=f"{x1:.1f}", y=f"{y1:.1f}", width=f"{x2 - x1:.1f}",
                       height=f"{y2 - y1:.1f}"))  # fmt: skip
    return out


def _present(series: Sequence[Series]) -> list[float]:
    return [v for s in series for v in s.values if v is not None]


def stems(
    title: str, unit: str, names: Sequence[str], below: str, series: Sequence[Series],
    zones: Sequence[Zone] = (), zone_name: str | None = None, height: float = 270.0,
) -> Raw:  # fmt: skip
    """Return one or two values for every position, each on a stem from zero; `zones` are drawn behind."""
    limits = [v for z in zones for v in (z.low, z.high)]
    axes = Axes(len(names), [*_present(series), *limits], height)
    parts = [*_zones(axes, zones), *axes.frame(unit, names, below)]
    for k, s in enumerate(series):
        shift = 0.0 if len(series) == 1 else 0.22 * (k - (len(series) - 1) / 2)
        for i, value in enumerate(s.values):
            if value is not None:
                x, y = axes.x(i + shift), axes.y(value)
                parts.append(tag("line", class_=f"stem s{s.style}", x1=f"{x:.1f}", x2=f"{x:.1f}",
                                 y1=f"{axes.y(0.0):.1f}", y2=f"{y:.1f}"))  # fmt: skip
                parts.append(_mark(x, y, s.style))
    return _svg(height, title, [*parts, *_legend(series, zone_name)])


def lines(
    title: str, unit: str, names: Sequence[str], below: str, series: Sequence[Series], height: float = 270.0
) -> Raw:
    """Return values over the positions joined by lines, with marks."""
    axes = Axes(len(names), _present(series), height)
    parts = axes.frame(unit, names, below)
    for s in series:
        points = [(axes.x(i), axes.y(v)) for i, v in enumerate(s.values) if v is not None]
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        parts.append(tag("polyline", class_=f"line s{s.style}", points=path))
        parts += [_mark(x, y, s.style) for x, y in points]
    return _svg(height, title, [*parts, *_legend(series, None)])


def curves(
    title: str, unit: str, names: Sequence[str], below: str,
    series: Sequence[tuple[str, Sequence[tuple[float, float]]]],
    limit: float | None = None, height: float = 270.0, peaks: bool = True, across: Sequence[float] = (),
) -> Raw:  # fmt: skip
    """Return curves of (position, value); `limit` a level, `across` positions of upright lines; mark at peak or end."""
    values = [v for _, points in series for _, v in points]
    axes = Axes(len(names), [*values, *([limit] if limit is not None else [])], height)
    parts = axes.frame(unit, names, below)
    if across:
        upright = "".join(f"M{axes.x(place):.1f} {TOP:g}V{height - BOTTOM:g}" for place in across)
        parts.append(tag("path", class_="visit", d=upright))
    if limit is not None:
        y = f"{axes.y(limit):.1f}"
        parts.append(tag("line", class_="limit", x1=LEFT, x2=WIDTH - RIGHT, y1=y, y2=y))
        parts.append(_text(WIDTH - RIGHT, axes.y(limit) + 14, "elastic limit", "end"))
    shown = []
    for k, (name, points) in enumerate(series):
        places = thinned([(axes.x(p), axes.y(v)) for p, v in points])
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in places)
        parts.append(tag("polyline", class_=f"line s{k % 3 + 1}", points=path))
        peak = max(points, key=lambda p: p[1]) if peaks else points[-1]
        parts.append(_mark(axes.x(peak[0]), axes.y(peak[1]), k % 3 + 1))
        shown.append(Series(f"{name} (mark: peak)" if peaks else name, (), k % 3 + 1))
    return _svg(height, title, [*parts, *_legend(shown, None)])


def thinned(points: Sequence[tuple[float, float]], off: float = 0.25) -> list[tuple[float, float]]:
    """Return the points of a line without those that lie within `off` of what is left (Douglas and Peucker 1973)."""
    if len(points) < 3:
        return list(points)
    (x0, y0), (x1, y1) = points[0], points[-1]
    long = math.hypot(x1 - x0, y1 - y0)
    if long > 0:
        away = [abs((x1 - x0) * (y0 - y) - (x0 - x) * (y1 - y0)) / long for x, y in points]
    else:
        away = [math.hypot(x - x0, y - y0) for x, y in points]
    worst = max(range(len(points)), key=lambda i: away[i])
    if away[worst] <= off:
        return [points[0], points[-1]]
    return [*thinned(points[: worst + 1], off)[:-1], *thinned(points[worst:], off)]


def over_time(
    title: str, unit: str, series: Sequence[tuple[str, Sequence[tuple[float, float]]]], visits: Sequence[float] = (),
    height: float = 270.0,
) -> Raw:  # fmt: skip
    """Return curves of (day, value), with a dashed line at the day of every visit."""
    last = max(day for _, points in series for day, _ in points)
    days = ticks(0.0, max(last, 1.0), 8)
    step = days[1]
    scaled = [(name, [(day / step, value) for day, value in points]) for name, points in series]
    across = [day / step for day in visits]
    return curves(title, unit, [f"{day:g}" for day in days], "day", scaled, height=height, peaks=False, across=across)


def tornado(title: str, unit: str, rows: Sequence[tuple[str, float | None, float | None]]) -> Raw:
    """Return one pair of bars a row of (name, change with less, change with more), from zero; None leaves one out."""
    each, left = 34.0, 390.0
    height = TOP + each * len(rows) + BOTTOM
    values = [v for _, less, more in rows for v in (less, more) if v is not None]
    low, high = min([0.0, *values]), max([0.0, *values])
    marks = ticks(low, high) if high - low > NOISE else [0.0, 1.0]
    digits = _digits(marks)

    def x(value: float) -> float:
        return left + (WIDTH - RIGHT - left) * (value - marks[0]) / (marks[-1] - marks[0])

    parts: list[Raw] = []
    for mark in marks:
        place = f"{x(mark):.1f}"
        kind = "axis" if mark == 0 else "grid"
        parts.append(tag("line", class_=kind, x1=place, x2=place, y1=TOP, y2=height - BOTTOM))
        parts.append(_text(x(mark), height - BOTTOM + 18, number(mark, digits), "middle"))
    for i, (name, less, more) in enumerate(rows):
        y = TOP + each * i
        parts.append(_text(left - 12, y + 21, name, "end"))
        for k, value in enumerate((less, more)):
            if value is not None:
                a, b = sorted((x(0.0), x(value)))
                parts.append(tag("rect", class_=f"s{k + 1}", x=f"{a:.1f}", y=f"{y + 5 + 12 * k:.1f}",
                                 width=f"{b - a:.1f}", height=11))  # fmt: skip
    parts.append(_text((WIDTH + left) / 2, height - 8, unit, "middle"))
    legend = []
    for k, word in enumerate(("with less of it", "with more of it")):
        at = left + 150.0 * k
        legend += [tag("rect", class_=f"s{k + 1}", x=at, y=5, width=14, height=11), _text(at + 20, 15, word, "start")]
    return _svg(height, title, [*parts, *legend])
