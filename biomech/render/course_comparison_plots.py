"""Plots of a comparison of courses over time, 800 x 600 pixels, with matplotlib.

Gain in width, crown and apex of a tooth and their ratio, its tip, force and moment left on it. A line a variant:
variants differ in colour (Okabe and Ito's palette, made for colour-blind readers; from memory), dash and mark at once.
Marks stand at visits. Needs no display.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from biomech.mechanics.poses import Array
from biomech.outputs._arch import PLACES
from biomech.render._beside import ready_folder, write_beside
from biomech.render._canvas import GREY, canvas, fit, legend, note, save, styles
from biomech.render.course_torque_plot import torque_plot
from biomech.render.plots import RATIOS, TIPS, varied
from biomech.scenario.course import MONTH
from biomech.studies.course_shown import shown_way
from biomech.studies.leftovers import COMPARED
from biomech.studies.phrases import crown_leads

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from biomech.studies.compare_courses import CourseComparison
    from biomech.studies.curves import Curves

SHOWN = (3, 4, 6)
"""Places from the midline whose widths are drawn: canines, first premolars, first molars."""
LONG = 60.0
"""Days from which the axis counts months."""
MARKS = 12
"""Marks a curve has at most, its end apart."""
NUMBERED = 26
"""Visits up to which each is numbered."""


def plot_course_comparison(found: CourseComparison, folder: Path | str) -> list[Path]:
    """Write widths.png and, for every tooth in the foreground, movement-, tip-, forces- and torque-<tooth>.png.

    Returns the paths in `folder` (made if needed). widths.png is left out where no tooth has its fellow, the plots
    against torque unless torque is what is varied. Raises FileError when the folder cannot be written to.
    """
    folder = ready_folder(Path(folder))
    plots: dict[str, Callable[[], Figure | None]] = {"widths.png": partial(widths_plot, found)}
    for tooth in found.teeth:
        plots[f"movement-{tooth}.png"] = partial(movement_plot, found, tooth)
        plots[f"tip-{tooth}.png"] = partial(tip_plot, found, tooth)
        plots[f"forces-{tooth}.png"] = partial(forces_plot, found, tooth)
        plots[f"torque-{tooth}.png"] = partial(torque_plot, found, tooth)
    paths = []
    for name, make in plots.items():
        figure = make()
        if figure is not None:
            paths.append(write_beside(folder / name, partial(save, figure, COMPARED)))
    return paths


def widths_plot(found: CourseComparison) -> Figure | None:
    """Return the gain in width at the crowns of canines, first premolars and first molars over time."""
    places = [p for p in SHOWN if all(p in c.before.widths for c in found.courses)]
    if not places:
        return None
    figure, panels = canvas(len(places), f"Gain in arch width at the crowns, by {varied(found)}")
    for panel, place in zip(panels, places, strict=True):
        panel.set_ylabel(f"{PLACES[place]}s\n(mm)")
        _draw(found, panel, [_width(course, place) for course in found.courses])
    return _finish(found, figure, panels)


def movement_plot(found: CourseComparison, tooth: int) -> Figure:
    """Return buccal movement of crown and apex of a tooth, and the apex over the crown, over time."""
    figure, panels = canvas(3, f"Crown and root of tooth {tooth}, by {varied(found)}")
    crowns, apices = ([_moved(course, tooth, at) for course in found.courses] for at in ("crown", "apex"))
    for panel, name, curves in ((panels[0], "crown", crowns), (panels[1], "apex", apices)):
        panel.set_ylabel(f"{name}, mm\n+ buccal")
        _draw(found, panel, curves)
    _ratio(found, panels[2], [_over(a, c, a) for a, c in zip(apices, crowns, strict=True)], RATIOS)
    note(panels[2], 1.0, "bodily", "bottom")  # apart, however small the panel
    note(panels[2], 0.0, "about\nthe apex", "top")
    panels[2].set_ylabel("apex over\ncrown (1)")
    return _finish(found, figure, panels)


def tip_plot(found: CourseComparison, tooth: int) -> Figure:
    """Return buccal tip of the crown of a tooth in degrees and for each mm the crown has gone, over time."""
    figure, panels = canvas(2, f"Buccal tip of tooth {tooth}, by {varied(found)}")
    tips = [np.array([-r.turn[r.of(tooth), 0] for r in course.readings]) for course in found.courses]
    _draw(found, panels[0], tips)
    panels[0].set_ylabel("tip of the crown (deg)\n+ buccal")
    moved = ([_moved(course, tooth, at) for course in found.courses] for at in ("crown", "apex"))
    per = [_over(tip, crown, apex) for tip, crown, apex in zip(tips, *moved, strict=True)]
    _ratio(found, panels[1], per, TIPS)
    note(panels[1], 0.0, "bodily")
    panels[1].set_ylabel("tip per mm the crown\nhas gone (deg/mm)")
    return _finish(found, figure, panels)


def forces_plot(found: CourseComparison, tooth: int) -> Figure:
    """Return force (buccal, or along which it is pulled far more) and torque moment left on a tooth over time."""
    way, word = shown_way([r for c in found.courses for r in c.readings], tooth)
    figure, panels = canvas(2, f"Force and torque left on tooth {tooth}, by {varied(found)}")
    _draw(found, panels[0], [np.array([r.force[r.of(tooth), way] for r in c.readings]) for c in found.courses])
    _draw(found, panels[1], [np.array([r.moment[r.of(tooth), 0] for r in c.readings]) for c in found.courses])
    panels[0].set_ylabel(f"force (N)\n+ {word}")
    panels[1].set_ylabel("torque moment (N.mm)\n+ buccal root")
    return _finish(found, figure, panels)


def _width(course: Curves, place: int) -> Array:
    return np.array([r.widths[place] - course.before.widths[place] for r in course.readings])


def _moved(course: Curves, tooth: int, at: str) -> Array:
    return np.array([getattr(r, at)[r.of(tooth), 1] for r in course.readings])


def _over(value: Array, crown: Array, apex: Array) -> Array:
    """Return a ratio to the crown's movement; not a number where that says nothing, as in the tables."""
    said = np.array([crown_leads(c, a) for c, a in zip(crown.tolist(), apex.tolist(), strict=True)])
    out: Array = np.divide(value, crown, out=np.full(len(crown), np.nan), where=said)
    return out


def _ratio(found: CourseComparison, panel: Axes, curves: Sequence[Array], limits: tuple[float, float]) -> None:
    """Draw ratios; what lies beyond `limits` runs out of the panel, which is said."""
    _draw(found, panel, curves)
    shown = [np.clip(c, *limits) for c in curves]
    fit(panel, [np.array([0.0, 1.0]), *shown])
    if any((np.isfinite(c) & (c != s)).any() for c, s in zip(curves, shown, strict=True)):
        panel.annotate(
            f"values beyond {limits[0]:g} to {limits[1]:g} not shown", (0.99, 0.97), xycoords="axes fraction",
            ha="right", va="top", fontsize=11,
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.5},
        )  # fmt: skip


def _draw(found: CourseComparison, panel: Axes, curves: Sequence[Array]) -> None:
    """Draw a curve a variant over time, with marks at its visits (as left; at some, if many) and at its end."""
    every = _marked(found)
    for label, course, curve, style in zip(found.labels, found.courses, curves, styles(len(curves)), strict=True):
        starts = np.cumsum([0, *(len(leg) for leg in course.legs)])
        marks = [*starts[1:-1].tolist()[every - 1 :: every], len(curve) - 1]
        panel.plot(course.times / _scale(found), curve, label=label, markevery=marks, **style)
    panel.axhline(0.0, color=GREY, linewidth=1, zorder=0)
    if any(np.isfinite(c).any() for c in curves):
        fit(panel, list(curves))


def _marked(found: CourseComparison) -> int:
    """Return at every how many visits a mark stands, so that marks stay apart."""
    return -(-max(len(c.visits) - 1 for c in found.courses) // MARKS) or 1


def _scale(found: CourseComparison) -> float:
    return MONTH if max(c.end for c in found.courses) >= LONG else 1.0


def _finish(found: CourseComparison, figure: Figure, panels: Sequence[Axes]) -> Figure:
    """Mark the visits where all have the same, label the time and set the legend."""
    scale = _scale(found)
    days = [tuple(v.day for v in course.visits[1:]) for course in found.courses]
    longest = max(days, key=len)
    shared = all(d == longest[: len(d)] for d in days)
    for day in longest if shared else ():
        for panel in panels:
            panel.axvline(day / scale, color=GREY, linewidth=1, linestyle=(0, (2, 2)), zorder=0)
    for number, day in enumerate(longest if shared and len(longest) <= NUMBERED else (), 1):
        panels[0].annotate(
            str(number), (day / scale, 1.0), xycoords=("data", "axes fraction"), ha="center", va="bottom", fontsize=11,
            color="#404040", xytext=(0, 1), textcoords="offset points",
        )  # fmt: skip
    every = "" if _marked(found) == 1 else f" (one in {_marked(found)})"
    words = f"marks: visits{every}, as left, and the end"
    if shared and longest:
        numbered = ", numbered" if len(longest) <= NUMBERED else ""
        words = f"dashed{numbered} and marked{every}: visits"
    panels[-1].set_xlabel(f"{'months' if scale == MONTH else 'days'} since the start; {words}")
    legend(figure, panels[0])
    return figure
