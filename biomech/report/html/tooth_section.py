"""Every tooth in buccolingual section: how it moves, the force system at the bracket and moved, ligament pressure.

All teeth are drawn to the same scales of movement, force, moment and pressure, which the drawing states.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from biomech.mechanics.poses import Array, Pose, pose_exp
from biomech.outputs import ToothView
from biomech.report.html.charts import thinned
from biomech.report.html.figures import figure
from biomech.report.html.geometry import crown_of, magnifications
from biomech.report.html.markup import Raw, join, number, tag
from biomech.report.html.pick import pick
from biomech.report.html.profile import Strip, silhouette
from biomech.report.html.sensitivity import buccal, most_moved
from biomech.studies import Solution
from biomech.tooth.model import Tooth
from biomech.tooth.motion import rotation_centre

WIDTH, HEIGHT = 1000.0, 430.0
PANELS = (190.0, 520.0)
"""Where the long axes of the two drawings stand from the left."""
WORDS = 690.0
SCALE = 13.0
"""Length of a millimetre of tooth; less for longer teeth."""
LONGEST, BAR = 80.0, 45.0
"""Length of the largest force of all teeth, and of the largest pressure."""
RADIUS, SWEEP = 22.0, 270.0
"""Arcs of moments: radius, and degrees of the largest moment of all teeth. The sweep is in proportion to the moment."""
SEEN = 0.35
"""Share of the normal along the arch up to which a point of the root is seen in profile."""
POINTED = 2.5
"""Width, mm, up to which the end of a silhouette is drawn closed: cusps and apices, not the neck."""
LEAST_FORCE, LEAST_MOMENT = 0.005, 0.05
"""N and N.mm below which nothing is drawn."""


@dataclass(frozen=True)
class Scales:
    """Scales of all sections: `factor` of movements, units of drawing per N and kPa, degrees per N.mm."""

    factor: int
    newton: float
    degrees: float
    kilopascal: float


def sections(solution: Solution, when: str = "") -> Raw:
    """Return the sections of all teeth of a solution, one of which is chosen; `when` of which step."""
    scales = _scales(solution.teeth.values())
    sheets = [(str(n), _sheet(solution, n, scales, when)) for n in solution.teeth]
    first = most_moved(solution)
    chosen = 0 if first is None else list(solution.teeth).index(first)
    return join(tag("h3", "In section"), pick("section-of-tooth", "Tooth", sheets, chosen))


def _scales(views: Iterable[ToothView]) -> Scales:
    every = list(views)
    marks = [(v, v.part.tooth.landmarks[name]) for v in every for name in ("edge", "apex")]
    moved = max(float(np.linalg.norm(view.displacement(mark))) for view, mark in marks)
    force = max(float(np.linalg.norm(v.wrench[1:3])) for v in every)
    turn = max(abs(m) for v in every for m in _moments(v))
    pressures = [1e3 * float(np.abs(v.pressures.normal).max()) for v in every if v.pressures is not None]
    factors, first = magnifications(moved)
    return Scales(
        factors[first], LONGEST / max(force, LEAST_FORCE), SWEEP / max(turn, LEAST_MOMENT),
        BAR / max([*pressures, 1e-3]),
    )  # fmt: skip


def _moments(view: ToothView) -> list[float]:
    """Return the moments in the plane about the bracket and about the centre of resistance, if there is one, N.mm."""
    points = [view.bracket, *([] if view.centre is None else [view.centre.point])]
    return [float(view.moment_at(point)[0]) for point in points]


def _sheet(solution: Solution, n: int, scales: Scales, when: str) -> Raw:
    view = solution.teeth[n]
    canvas = _Canvas(view)
    words = _said(solution, n)
    drawing = tag(
        "svg", tag("title", f"Section of tooth {n}"), *_movement(canvas, view, scales),
        *_pressure(canvas, view, scales), *_words(words, scales, view),
        viewBox=f"0 0 {WIDTH:g} {HEIGHT:g}", role="img", class_="section",
    )  # fmt: skip
    caption = (
        f"Tooth {n} in buccolingual section{when}. Left: dashed before, filled moved (in this plane, {scales.factor} "
        "times as far as computed, initial and elastic); square: the force system of wires and loads at the bracket, "
        "circle: the same moved to the centre of resistance (dashed), cross: centre of rotation. Arrows and arcs are "
        "to scale, the same for all teeth. Right: pressure of the ligament on the root seen in profile."
    )
    return figure(drawing, caption)


class _Canvas:
    """Places of points of the tooth frame, mm, on the drawing."""

    def __init__(self, view: ToothView) -> None:
        marks = view.part.tooth.landmarks
        ends = [float(marks["edge"][2]), *(float(p[2]) for name, p in marks.items() if name.startswith("apex"))]
        self.scale = min(SCALE, (HEIGHT - 60.0) / (max(ends) - min(ends) + 4.0))
        self.middle = 0.5 * (max(ends) + min(ends))

    def at(self, point: Array, panel: int) -> tuple[float, float]:
        """Return the place of a point (..., 3) or (2,) given across and up: buccal to the right, up is up."""
        y, z = point[-2], point[-1]
        return PANELS[panel] + self.scale * float(y), HEIGHT / 2 - self.scale * (float(z) - self.middle)

    def path(self, across: Array, up: Array, panel: int) -> str:
        """Return points (k,) across and up as those of a line, without those that do not show."""
        places = [self.at(np.array(point), panel) for point in zip(across.tolist(), up.tolist(), strict=True)]
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in thinned(places, 0.2))


@lru_cache(maxsize=64)
def outlines(tooth: Tooth) -> tuple[tuple[str, tuple[Strip, ...]], ...]:
    """Return the silhouettes of root and crown in the tooth frame, by the kind of surface."""
    return ("rootbody", tuple(silhouette(tooth.root_surface(24)))), ("tooth", tuple(silhouette(crown_of(tooth, 36))))


def _body(canvas: _Canvas, tooth: Tooth, panel: int, look: str, moved: Pose | None = None) -> Iterator[Raw]:
    """Yield a tooth, filled unless `look` is "before"; `moved` in the plane, which moves its silhouette rigidly."""
    for kind, strips in outlines(tooth):
        for strip in strips:
            left, right = (_carried(edge, strip.z, moved) for edge in (strip.left, strip.right))
            if look != "before":
                ring = np.concatenate([left, right[::-1]])
                yield tag("polygon", class_=f"{kind} {look}".strip(), points=canvas.path(ring[:, 0], ring[:, 1], panel))
            ends = [np.array([left[i], right[i]]) for i in (0, -1) if _pointed(strip, i, strips)]
            for line in (left, right, *ends):
                yield tag("polyline", class_="before" if look == "before" else "edge",
                          points=canvas.path(line[:, 0], line[:, 1], panel))  # fmt: skip


def _carried(across: Array, up: Array, moved: Pose | None) -> Array:
    """Return points (k, 2) across and up, moved by a pose that keeps them in the plane."""
    points = np.column_stack([np.zeros(len(up)), across, up])
    return points[:, 1:] if moved is None else np.asarray(moved.point(points)[:, 1:])


def _pointed(strip: Strip, i: int, strips: Sequence[Strip]) -> bool:
    """Return whether a strip's end (0 lowest, -1 highest) is narrow and no other strip goes on from there."""
    left, right, z = strip.left[i], strip.right[i], strip.z[i]
    wide = [
        min(right, other.right[j]) - max(left, other.left[j])
        for other in strips if other is not strip for j in (0, -1) if other.z[j] == z
    ]  # fmt: skip
    return bool(right - left < POINTED) and max(wide, default=0.0) < 0.5 * (right - left)


def _movement(canvas: _Canvas, view: ToothView, scales: Scales) -> Iterator[Raw]:
    """Yield the tooth before and after, the force systems, and the centres."""
    plane = np.array([0.0, 1.0, 1.0, 1.0, 0.0, 0.0])
    tooth = view.part.tooth
    yield from _body(canvas, tooth, 0, "", pose_exp(scales.factor * view.motion * plane))
    yield from _body(canvas, tooth, 0, "before")
    yield from _title(f"Movement, × {scales.factor}", 0)
    if view.centre is not None:
        yield from _system(canvas, view, view.centre.point, scales, "moved")
    yield from _system(canvas, view, view.bracket, scales, "given")
    yield from _centres(canvas, view)


def _title(text: str, panel: int) -> Iterator[Raw]:
    x = PANELS[panel]
    yield tag("text", text, x=f"{x:g}", y=16, text_anchor="middle", class_="head")
    yield tag("text", "lingual", x=f"{x - 110:g}", y=f"{HEIGHT - 8:g}", text_anchor="middle")
    yield tag("text", "buccal", x=f"{x + 110:g}", y=f"{HEIGHT - 8:g}", text_anchor="middle")


def _system(canvas: _Canvas, view: ToothView, point: Array, scales: Scales, kind: str) -> Iterator[Raw]:
    """Yield force and moment in the plane, moved to a point of the tooth."""
    foot = np.array(canvas.at(point, 0))
    force = view.wrench[1:3]
    if float(np.linalg.norm(force)) >= LEAST_FORCE:
        yield from arrow(foot, foot + scales.newton * force * [1.0, -1.0], kind)
    moment = float(view.moment_at(point)[0])
    if abs(moment) >= LEAST_MOMENT:
        yield from arc(foot, scales.degrees * moment, kind)


def arrow(foot: Array, tip: Array, kind: str) -> Iterator[Raw]:
    """Yield an arrow from `foot` to `tip`; its head is no longer than itself."""
    size = float(np.linalg.norm(tip - foot))
    along = (tip - foot) / max(size, 1e-9)
    head = min(11.0, 0.6 * size)
    base = tip - head * along
    yield tag("line", class_=f"shaft {kind}", x1=f"{foot[0]:.1f}", y1=f"{foot[1]:.1f}", x2=f"{base[0]:.1f}",
              y2=f"{base[1]:.1f}")  # fmt: skip
    yield _head(tip, along, head, kind)


def _head(tip: Array, along: Array, size: float, kind: str) -> Raw:
    across, base = np.array([-along[1], along[0]]), tip - size * along
    corners = [tip, base + 0.42 * size * across, base - 0.42 * size * across]
    return tag("polygon", class_=f"head {kind}", points=" ".join(f"{x:.1f},{y:.1f}" for x, y in corners))


def arc(centre: Array, degrees: float, kind: str) -> Iterator[Raw]:
    """Yield an arc about `centre` from below; `degrees` anticlockwise as seen, negative: clockwise.

    Its head is no longer than half of it, so that a small moment looks small.
    """
    begin, turn = -90.0, math.radians(degrees)
    long = RADIUS * abs(turn)
    head = min(11.0, 0.5 * long)
    shaft = turn * (1.0 - head / long)

    def place(angle: float) -> Array:
        a = math.radians(begin) + angle
        return centre + RADIUS * np.array([math.cos(a), -math.sin(a)])

    (x0, y0), (x1, y1) = place(0.0), place(shaft)
    large, way = int(abs(shaft) > math.pi), int(degrees < 0)
    line = f"M{x0:.1f} {y0:.1f}A{RADIUS:g} {RADIUS:g} 0 {large} {way} {x1:.1f} {y1:.1f}"
    yield tag("path", class_=f"ring {kind}", d=line)
    tip, base = place(turn), place(shaft)
    chord = tip - base
    yield _head(tip, chord / max(float(np.linalg.norm(chord)), 1e-9), float(np.linalg.norm(chord)), kind)


def _centres(canvas: _Canvas, view: ToothView) -> Iterator[Raw]:
    """Yield bracket, centre of resistance and centre of rotation; the latter in words where it lies outside."""
    x, y = canvas.at(view.bracket, 0)
    yield tag("rect", class_="mark", x=f"{x - 4.5:.1f}", y=f"{y - 4.5:.1f}", width=9, height=9)
    if view.centre is None:
        return
    x, y = canvas.at(view.centre.point, 0)
    yield tag("circle", class_="mark", cx=f"{x:.1f}", cy=f"{y:.1f}", r=5.5)
    found = rotation_centre(view.motion, "buccolingual")
    if float(np.abs(view.motion).max()) < 1e-9 or not np.isfinite(found).all():
        said = "no centre of rotation: it translates or rests"
        yield tag("text", said, x=f"{PANELS[0]:g}", y=36, text_anchor="middle")
        return
    x, y = canvas.at(found, 0)
    if abs(x - PANELS[0]) < 150.0 and 24.0 < y < HEIGHT - 22.0:
        yield tag("path", class_="cross", d=f"M{x - 6:.1f} {y - 6:.1f}l12 12m0 -12l-12 12")
        return
    where = "apical" if view.jaw * found[1] > view.jaw * view.centre.point[2] else "occlusal"
    yield tag("text", f"centre of rotation outside, {where}", x=f"{PANELS[0]:g}", y=36, text_anchor="middle")


def _pressure(canvas: _Canvas, view: ToothView, scales: Scales) -> Iterator[Raw]:
    """Yield the tooth and bars of pressure outside its root at the points seen in profile."""
    yield from _body(canvas, view.part.tooth, 1, "pale")
    yield from _title("Ligament pressure", 1)
    crest = canvas.at(np.array([0.0, view.jaw * view.part.tooth.bone_level]), 1)[1]
    ends = {"x1": f"{PANELS[1] - 130:g}", "x2": f"{PANELS[1] + 130:g}", "y1": f"{crest:.1f}", "y2": f"{crest:.1f}"}
    yield tag("line", class_="limit", **ends)
    yield tag("text", "crest", x=f"{PANELS[1] - 132:g}", y=f"{crest - 5:.1f}", text_anchor="start")
    if view.pressures is None:
        yield tag("text", "held rigidly: none", x=f"{PANELS[1]:g}", y=36, text_anchor="middle")
        return
    surface = view.part.bearing
    seen = np.abs(surface.normals[:, 0]) < SEEN
    value, foot, side = 1e3 * view.pressures.normal[seen], surface.points[seen][:, 1:], surface.normals[seen][:, 1:]
    side = side / np.maximum(np.linalg.norm(side, axis=1, keepdims=True), 1e-9)
    for keep, kind in ((value > 0, "squeezed"), (value < 0, "pulled")):
        bars = []
        for v, at, way in zip(np.abs(value[keep]), foot[keep], side[keep], strict=True):
            x, y = canvas.at(at, 1)
            bars.append(f"M{x:.1f} {y:.1f}l{scales.kilopascal * v * way[0]:.1f} {-scales.kilopascal * v * way[1]:.1f}")
        if bars:
            yield tag("path", class_=f"bars {kind}", d="".join(bars))


def _said(solution: Solution, n: int) -> list[tuple[str, str]]:
    """Return head and text of what is said beside the drawing."""
    view, values = solution.teeth[n], solution.tooth(n)
    crown, apex = buccal(view)
    force = view.words(view.wrench[:3])
    sides = f"{_signed(force['buccal'], 2)} N buccal, {_signed(force['occlusal'], 2)} N occlusal"
    out = [("movement", str(values["movement"])), ("force", sides)]
    torque = view.turns(view.moment_at(view.bracket))["torque"]
    out.append(("■ torque at the bracket", f"{_signed(torque, 1)} N·mm, + buccal root"))
    if view.centre is not None:
        moved = view.turns(view.moment_at(view.centre.point))["torque"]
        out.append(("● at the centre of resistance", f"the same force and {_signed(moved, 1)} N·mm"))
    ratio, depth = values["moment_to_force_mm"], values["rotation_centre_depth_mm"]
    out.append(("M/F at the bracket", "–" if not isinstance(ratio, float) else f"{_signed(ratio, 1)} mm"))
    out.append(("crown and apex, buccal", f"{_signed(1e3 * crown, 1)} and {_signed(1e3 * apex, 1)} µm"))
    if isinstance(depth, float):
        out.append(("× centre of rotation below the crest", f"{number(depth, 1)} mm"))
    pressure = values["ligament_pressure_kPa"]
    if isinstance(pressure, dict):
        mean, peak = pressure["mean"], pressure["peak"]
        out.append(("compression in the ligament", f"mean {number(mean, 1)}, peak {number(peak, 1)} kPa"))
    return out


def _signed(value: float, digits: int) -> str:
    text = number(value, digits)
    return text if text.startswith("\u2212") or float(text) == 0.0 else f"+{text}"


def _words(said: Sequence[tuple[str, str]], scales: Scales, view: ToothView) -> Iterator[Raw]:
    """Yield the numbers, and the scales of arrows, arcs and bars."""
    y = 24.0
    for head, text in said:
        kind = {"■": "given", "●": "moved"}.get(head[0], "soft")
        yield tag("text", head, x=WORDS, y=f"{y:.0f}", class_=f"name {kind}")
        yield tag("text", text, x=WORDS, y=f"{y + 17:.0f}")
        y += 38.0
    newton, moment = _round(60 / scales.newton), _round(90 / scales.degrees)
    y = HEIGHT - 84.0
    yield from arrow(np.array([WORDS, y]), np.array([WORDS + scales.newton * newton, y]), "given")
    yield tag("text", f"{newton:g} N", x=f"{WORDS + 80:g}", y=f"{y + 5:.0f}")
    yield from arc(np.array([WORDS + 170.0, y - RADIUS / 2]), scales.degrees * moment, "given")
    yield tag("text", f"{moment:g} N·mm", x=f"{WORDS + 204:g}", y=f"{y + 5:.0f}")
    if view.pressures is None:
        return
    pressure = _round(60 / scales.kilopascal)
    for kind, word in (("squeezed", "compression"), ("pulled", "tension")):
        y += 28.0
        yield tag("path", class_=f"bars {kind}", d=f"M{WORDS:g} {y:.1f}h{scales.kilopascal * pressure:.1f}")
        yield tag("text", f"{pressure:g} kPa {word}", x=f"{WORDS + 80:g}", y=f"{y + 5:.0f}", class_=f"name {kind}")


def _round(value: float) -> float:
    """Return 1, 2 or 5 times a power of ten, the largest not above `value`."""
    power = 10.0 ** math.floor(math.log10(max(value, 1e-9)))
    return next(m * power for m in (5.0, 2.0, 1.0) if m * power <= value * (1 + 1e-9))
