"""Apex over crown and tip per mm of a tooth against the torque by which compared courses differ."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from biomech.mechanics.poses import Array
from biomech.render._canvas import GREY, canvas, fit, legend, note, place_variants, say, styles
from biomech.render.plots import RATIOS, TIPS, varied
from biomech.studies.prescriptions import KEY
from biomech.studies.stops import name_of
from biomech.studies.variants import Axis, axis

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from biomech.studies.compare_courses import CourseComparison
    from biomech.studies.stops import Stop


APART = 0.12
"""Between the marks of two times where variants stand side by side by name: by how much of their distance."""
ROOM = 0.12
"""Room at both ends of an axis of numbers, as a share of it."""


def torque_plot(found: CourseComparison, tooth: int) -> Figure | None:
    """Return apex over crown and tip per mm of a tooth against the varied torque, a line a time of the tables.

    Prescriptions stand side by side, by name. None where it is not torque alone that is varied, and where no time has
    such ratios: see phrases.crown_leads.
    """
    along = axis(found.variants)
    if not _of_torque(found, along):
        return None
    keys = ("apex_to_crown", "tip_deg_per_mm")
    lines = {key: [_values(found, i, f"teeth.{tooth}.{key}") for i in range(len(found.stops))] for key in keys}
    told = [i for i in range(len(found.stops)) if any(np.isfinite(lines[key][i]).any() for key in keys)]
    if not told:
        return None
    figure, (upper, lower) = canvas(2, f"How tooth {tooth} has moved, by {varied(found)}")
    x = np.array(along.numbers) if along else np.arange(len(found.labels), dtype=float)
    shifts = np.zeros(len(told)) if along else APART * (np.arange(len(told)) - 0.5 * (len(told) - 1))
    for panel, key, limits in ((upper, keys[0], RATIOS), (lower, keys[1], TIPS)):
        drawn = [lines[key][i] for i in told]
        for i, y, shift, style in zip(told, drawn, shifts, styles(len(told)), strict=True):
            inside = np.where((y < limits[0]) | (y > limits[1]), np.nan, y)
            order = np.argsort(x, kind="stable")
            dashes = style if along else {**style, "linestyle": "none"}
            panel.plot((x + shift)[order], inside[order], label=_named(found.stops[i]), **dashes)
        note(panel, 0.0, "about\nthe apex" if panel is upper else "bodily")
        fit(panel, [np.clip(y, *limits) for y in drawn], [0.0, 1.0] if panel is upper else [0.0])
        _tell(panel, x, drawn, limits)
    note(upper, 1.0, "bodily")
    upper.set_ylabel("apex over crown\nmovement (1)")
    lower.set_ylabel("buccal crown tip per mm\nthe crown has gone (deg/mm)")
    _shade_play(found, along, (upper, lower))
    unit = " ".join(u for u in (along.unit, along.word) if u) if along else ""
    label = f"{varied(found)} ({unit})" if unit else varied(found)
    place_variants((upper, lower), x, found.labels, label, along is not None)
    if along:
        room = ROOM * float(np.ptp(x))  # variants without a mark need room for their words
        lower.set_xlim(x.min() - room, x.max() + room)
    legend(figure, upper)
    return figure


def _tell(panel: Axes, x: Array, drawn: Sequence[Array], limits: tuple[float, float]) -> None:
    """Say what no mark shows: values beyond `limits`, in the order of the legend; crowns that have hardly gone."""
    for i, xi in enumerate(x):
        values = [float(y[i]) for y in drawn if np.isfinite(y[i])]
        if not values:
            say(panel, xi, 0.5, "crown hardly\nmoves")
        below, above = [v for v in values if v < limits[0]], [v for v in values if v > limits[1]]
        for edge, mark, out in ((limits[0], "v", below), (limits[1], "^", above)):
            if out:
                panel.plot([xi], [edge], marker=mark, color=GREY, markersize=9, linestyle="none")
                panel.annotate(
                    ", ".join(f"{v:.1f}" for v in out), (xi, edge), xytext=(-8, 0), textcoords="offset points",
                    va="center", ha="right",
                )  # fmt: skip


def _of_torque(found: CourseComparison, along: Axis | None) -> bool:
    """Return whether it is torque alone that is varied: of a wire, at a visit, by a rule; or prescriptions."""
    if found.keys == (KEY,):
        return True
    angles = along is not None and along.unit in ("deg", "rad")
    return bool(found.keys) and angles and all("torque" in key.split(".") for key in found.keys)


def _values(found: CourseComparison, stop: int, path: str) -> Array:
    """Return a result of all variants at a stop, not a number where there is none."""
    row = next((r for r in found.tables[stop] if r.path == path), None)
    values = row.values if row is not None else (None,) * len(found.labels)
    return np.array([v if isinstance(v, float) else np.nan for v in values])


def _named(stop: Stop) -> str:
    """Return a stop in a legend: its name, and when that is if it is one time for all."""
    days = {day for day in stop.days if day is not None}
    return f"{stop.name}, {name_of(days.pop())}" if len(days) == 1 else stop.name


def _shade_play(found: CourseComparison, along: Axis | None, panels: Sequence[Axes]) -> None:
    """Shade the torques that lie within the play of the slots, where it is the torque of one wire from the start on."""
    steps = [key.split(".") for key in found.keys]
    if along is None or along.unit != "deg" or any(s[0] != "wire" or s[2:3] != ["torque"] for s in steps):
        return
    plays = [course.play[s[1]] for course in found.courses for s in steps if s[1] in course.play]
    if not plays:
        return
    low, high = max(-max(plays), min(along.numbers)), min(max(plays), max(along.numbers))
    if low < high:
        for panel in panels:
            panel.axvspan(low, high, color=GREY, alpha=0.15, linewidth=0, zorder=0)
        say(panels[0], 0.5 * (low + high), 0.93, f"play {max(plays):.1f} deg")
