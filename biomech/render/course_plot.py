"""Plot of a course over time, 800 x 600 pixels, with matplotlib: gain in width, one tooth, the force on it, visits."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from biomech.outputs._arch import PLACES
from biomech.render._beside import ready_folder, write_beside
from biomech.render._canvas import GREY, canvas, fit, save, styles
from biomech.studies.course_files import measures_before
from biomech.studies.course_shown import shown_tooth, shown_way
from biomech.studies.leftovers import COURSE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from biomech.studies.course import Course

SHOWN = (3, 4, 6)
"""Places from the midline whose widths are drawn: canines, first premolars, first molars."""


def plot_course(course: Course, folder: Path | str) -> Path:
    """Write course.png into `folder` (made if needed) and return its path; FileError when that cannot be done."""
    return write_beside(ready_folder(Path(folder)) / "course.png", partial(save, course_plot(course), COURSE))


def course_plot(course: Course) -> Figure:
    """Return curves over time: gain in width at crowns, crown and apex of the tooth in the foreground, its force.

    See studies.course_shown for which tooth that is, and which way. Visits are upright lines with their number. Widths
    are left out where no tooth has its fellow.
    """
    drawn = (*((_widths,) if measures_before(course).widths else ()), _movement, _force)
    figure, panels = canvas(len(drawn), "The course over time")
    for panel, draw in zip(panels, drawn, strict=True):
        fit(panel, draw(course, panel))
        for visit in course.visits[1:]:
            panel.axvline(visit.day, color=GREY, linewidth=1, linestyle=(0, (2, 2)), zorder=0)
        panel.axhline(0.0, color=GREY, linewidth=1, zorder=0)
        panel.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), frameon=False, fontsize=11)
    for visit in course.visits[1:]:
        panels[0].annotate(
            str(visit.number), (visit.day, 1.0), xycoords=("data", "axes fraction"), ha="center", va="bottom",
            fontsize=11, color="#404040", xytext=(0, 1), textcoords="offset points",
        )  # fmt: skip
    panels[-1].set_xlabel("days; dashed and numbered: visits")
    return figure


def _curves(course: Course, panel: Axes, curves: dict[str, list[float]]) -> list[np.ndarray]:
    """Draw curves over the course's days, by label, and return their values."""
    values = [np.array(curve) for curve in curves.values()]
    for label, curve, style in zip(curves, values, styles(len(curves)), strict=True):
        panel.plot(course.times, curve, label=label, **{**style, "marker": "none"})
    return values


def _widths(course: Course, panel: Axes) -> list[np.ndarray]:
    before = measures_before(course).widths
    places = [p for p in SHOWN if p in before] or list(before)
    panel.set_ylabel("gain in width\nat crowns (mm)")
    return _curves(course, panel, {f"{PLACES[p]}s": [r.widths[p] - before[p] for r in course.readings] for p in places})


def _movement(course: Course, panel: Axes) -> list[np.ndarray]:
    number = shown_tooth(course.readings)
    i, (way, word) = course.readings[0].of(number), shown_way(course.readings, number)
    panel.set_ylabel(f"tooth {number}\n{word} (mm)")
    moved = {"crown": [float(r.crown[i, way]) for r in course.readings]}
    return _curves(course, panel, {**moved, "apex": [float(r.apex[i, way]) for r in course.readings]})


def _force(course: Course, panel: Axes) -> list[np.ndarray]:
    number = shown_tooth(course.readings)
    i, (way, word) = course.readings[0].of(number), shown_way(course.readings, number)
    panel.set_ylabel(f"force on {number}\n{word} (N)")
    return _curves(course, panel, {_acting(course): [float(r.force[i, way]) for r in course.readings]})


def _acting(course: Course) -> str:
    """Return what the forces on the teeth are of."""
    if not any(r.wires for r in course.readings):
        return "all loads"
    return "all wires\nand loads" if course.scenario.force else "all wires"
