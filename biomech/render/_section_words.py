"""Words, scales and arcs of moments of a section of a tooth."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from itertools import count
from typing import TYPE_CHECKING, Any

import numpy as np

from biomech.mechanics.poses import Array
from biomech.render._legend import FORCE, HEIGHT, INK, PALE, WIDTH, bare_axes, draw_arrow
from biomech.render._scales import LEAST_MOMENT, Scales, round_amount
from biomech.render._section_frame import LETTERS
from biomech.render._views import CROWN, OUTLINE
from biomech.tooth.motion import words

if TYPE_CHECKING:
    from biomech.outputs import Value
    from biomech.studies.solve import Solution

MOVED_TO = "#0072b2"
"""Colour of the force system moved to the centre of resistance."""
RADIUS = 1.7
"""Radius, mm, of the arc of a moment."""
_SHORTEST = 0.5  # mm of an arc that is drawn
_TITLE = 88  # letters of a line of the title in its usual height
_WORDS = 1135  # px, left edge of the numbers
_WAYS = (("buccal", "lingual"), ("occlusal", "apical"))
_FOOT = 165  # letters of a line at the foot


def draw_arc(axes: Any, centre: Array, angles: tuple[float, float], colour: str, radius: float = RADIUS) -> None:
    """Draw the arc of a moment in axes in mm, unless it is too short to be seen.

    Its head is no longer than 0.6 of it, so that a small one looks small.
    """
    from matplotlib.patches import Polygon
    from matplotlib.patheffects import withStroke

    begin, end = angles
    if radius * abs(end - begin) < _SHORTEST:
        return
    head = float(np.copysign(min(0.5, 0.6 * abs(end - begin)), end - begin))
    way = np.linspace(begin, end - 0.8 * head, 60)

    def place(angle: Array | float) -> Array:
        return np.asarray(centre + radius * np.stack([np.cos(angle), np.sin(angle)], axis=-1))

    rim = [withStroke(linewidth=5.0, foreground="white")]
    axes.plot(*place(way).T, color=colour, linewidth=2.8, solid_capstyle="butt", zorder=5, path_effects=rim)
    tip, back = place(end), place(end - head)
    across = 0.42 * np.array([-(tip - back)[1], (tip - back)[0]])
    axes.add_patch(Polygon(np.stack([tip, back + across, back - across]), closed=True, color=colour, lw=0, zorder=6))


def write_legend(figure: Any, scales: Scales, scale: float) -> None:
    """Explain outlines and colours, and give the scales of force and moment; `scale` pixels per mm."""
    from matplotlib.patches import Rectangle

    axes = bare_axes(figure, (15, 885, 1190, 950))
    axes.set_xlim(0, 1175 / scale)
    axes.set_ylim(-65 / scale, 0)
    axes.set_aspect("equal")
    top, low = -18 / scale, -50 / scale

    def say(x: float, y: float, said: str, colour: str = INK) -> None:
        axes.text(x / scale, y, said, va="center", fontsize=LETTERS - 1.0, color=colour)

    axes.plot((8 / scale, 48 / scale), (top, top), color=OUTLINE, linewidth=1.6, linestyle=(0, (5, 3)))
    say(58, top, "before")
    axes.add_patch(Rectangle((150 / scale, top - 9 / scale), 40 / scale, 18 / scale, facecolor=CROWN, edgecolor=INK))
    say(200, top, "after")
    for x, colour, said in (
        (275, FORCE, "force and moment at the bracket"), (705, MOVED_TO, "the same at the centre of resistance"),
    ):  # fmt: skip
        draw_arrow(axes, np.array([x / scale, top]), np.array([(x + 46) / scale, top]), colour)
        say(x + 56, top, said, colour)
    newton, moment = round_amount(scales.newton * scale, 130.0), round_amount(90.0 / scales.quarter, 90.0)
    say(8, low, "To scale:")
    draw_arrow(axes, np.array([120 / scale, low]), np.array([120 / scale + scales.newton * newton, low]), INK)
    say(265, low, f"{newton:g} N")
    begin = 0.5 * np.pi
    small = 0.65 * RADIUS  # the angle tells the moment, not the radius
    draw_arc(axes, np.array([390 / scale, low - 0.5 * small]), (begin, begin - scales.sweep(moment)), INK, small)
    say(400 + small * scale, low, f"{moment:g} N\u00b7mm; the angle of an arc is in proportion to the moment")


def write_words(figure: Any, solution: Solution, number: int, lines: Sequence[tuple[str, str]], when: str) -> None:
    """Write title, numbers (see lines_of) and caution; `when` says of which moment."""
    from biomech.studies.solve import CAUTION

    name = solution.teeth[number].part.tooth.name
    title, letters = _title(solution.scenario.title)
    figure.text(20 / WIDTH, 0.986, title, va="top", weight="bold", fontsize=letters, linespacing=1.05, color=INK)
    of = f"Tooth {number}, {name}, in buccolingual section" + (f"; {when}" if when else "")
    figure.text(20 / WIDTH, 0.951 if "\n" not in title else 0.925, of, va="top", fontsize=LETTERS, color=PALE)
    y = 118.0
    for head, said in lines:
        figure.text(_WORDS / WIDTH, 1 - y / HEIGHT, head, va="top", fontsize=14.5, color=PALE)
        figure.text(_WORDS / WIDTH, 1 - (y + 26) / HEIGHT, said, va="top", fontsize=LETTERS, color=INK)
        y += 78.0
    note = f"{solution.scenario.note} " if solution.scenario.note else ""
    foot = "\n".join(textwrap.wrap(note + CAUTION, _FOOT))
    figure.text(20 / WIDTH, 6 / HEIGHT, foot, va="bottom", fontsize=13.5, linespacing=1.05, color=PALE)


def _title(words: str) -> tuple[str, float]:
    """Return a title in at most two lines, and its height in points: smaller for a very long one."""
    room = next(room for room in count(_TITLE) if len(textwrap.wrap(words, room)) <= 2)
    return "\n".join(textwrap.wrap(words, room)), 19.0 * _TITLE / room


def lines_of(report: Mapping[str, Value], *, rests: bool = False) -> list[tuple[str, str]]:
    """Return head and text of what is said of a tooth, from the outputs that reports print.

    A tooth that `rests` has no kind of movement and no centre of rotation.
    """

    def part(key: str, name: str = "") -> float | None:
        table = report[key]
        value = table.get(name) if isinstance(table, Mapping) else table
        return value if isinstance(value, float) else None

    depth = None if rests else part("rotation_centre_depth_mm")
    force = [_way(part("force_N", way), 2, "N", (way, other)) for way, other in _WAYS]
    peak, mean = part("ligament_pressure_kPa", "peak"), part("ligament_pressure_kPa", "mean")
    return [
        ("Kind of movement", "rests" if rests and report["movement"] != "held" else str(report["movement"])),
        ("Force at the bracket", ", ".join(said for said in force if said != "none") or "none"),
        ("Moment at the bracket", _moment(part("moment_at_bracket_N_mm", "torque"))),
        ("Moment at the centre of resistance", _moment(part("moment_at_resistance_N_mm", "torque"))),
        ("M/F at the bracket", _signed(part("moment_to_force_mm"))),
        ("Crown, on the long axis", _moved(part("long_axis_mm", "crown"))),
        ("Apex, on the long axis", _moved(part("long_axis_mm", "apex"))),
        ("Centre of rotation", "none" if depth is None else
         f"{abs(depth):.1f} mm {'apical' if depth >= 0 else 'occlusal'} of the crest"),
        ("Compression in the ligament", "none" if peak is None or mean is None else
         f"mean {mean:.1f} kPa, peak {peak:.1f} kPa"),
    ]  # fmt: skip


def _way(value: float | None, digits: int, unit: str, sides: tuple[str, str]) -> str:
    """Return an amount with its unit and the side it is towards."""
    if value is None or not float(f"{value:.{digits}f}"):
        return "none"
    return f"{abs(value):.{digits}f} {unit} {sides[0] if value > 0 else sides[1]}"


def _moment(value: float | None) -> str:
    if value is None or abs(value) < LEAST_MOMENT:
        return "none"
    return f"{abs(value):.1f} N\u00b7mm, {words('torque', value)}"


def _moved(millimetres: float | None) -> str:
    if millimetres is None:
        return "held rigidly"
    said = _way(1e3 * millimetres, 1, "\u00b5m", ("buccal", "lingual"))
    return "0.0 \u00b5m" if said == "none" else said


def _signed(value: float | None) -> str:
    said = "none" if value is None else f"{value:+.1f} mm".replace("-", "\u2212")
    return "0.0 mm" if said[1:] == "0.0 mm" else said
