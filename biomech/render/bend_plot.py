"""Plot curves of the bench, 800 x 600 pixels: reading over deflection, solid while it grows, dashed on the way back.

Where a wire taken as elastic is past its limit, a pale band lies under its curve, and the legend says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from biomech.render._beside import ready_folder, write_beside
from biomech.render._canvas import canvas, legend, save, styles
from biomech.studies.bend import RIGS, Setup
from biomech.studies.leftovers import BENCH

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from biomech.bench import Curve


PAST = "past the elastic limit"
"""Name of the bands in a figure."""


def plot_bend(curves: Sequence[Curve], setup: Setup, folder: Path | str) -> Path:
    """Write curves.png into `folder` (made if needed) and return its path. Raises FileError."""
    folder = ready_folder(Path(folder))
    return write_beside(folder / "curves.png", partial(save, bend_figure(curves, setup), BENCH))


def bend_figure(curves: Sequence[Curve], setup: Setup) -> Figure:
    """Return the figure: one colour and mark a wire, arrows not needed since unloading is dashed and marked hollow."""
    first = curves[0]
    scale, unit = (float(np.degrees(1.0)), "deg") if RIGS[setup.rig].angular else (1.0, first.unit)
    if any(c.changes_temperature for c in curves):
        return _over_temperature(curves, scale, unit)
    figure, (panel,) = canvas(1, first.setup)
    for curve, style in zip(curves, styles(len(curves)), strict=True):
        for leg in range(int(curve.leg.max()) + 1):
            chosen = np.flatnonzero(curve.leg == leg)
            rows, back = np.append(max(0, int(chosen[0]) - 1), chosen), curve.goes_back(leg)
            panel.plot(
                scale * curve.x[rows], curve.reading[rows], color=style["color"], marker=style["marker"],
                linestyle="--" if back else "-", linewidth=1.8, markersize=5, markevery=max(1, len(rows) // 8),
                markerfacecolor="white" if back else style["color"],
                label=_label(curve, scale, unit) if leg == 0 else None,
            )  # fmt: skip
        _band(panel, curve, scale * curve.x, curve.reading, style["color"])
    panel.axhline(0.0, color="#909090", linewidth=0.8)
    ways = "" if first.way_back is None else "; solid: growing, dashed: on the way back"
    panel.set_xlabel(f"{_named(first.quantity, unit)}{ways}")
    panel.set_ylabel(f"{first.reading_name} ({first.reading_unit})")
    legend(figure, panel)
    return figure


def _label(curve: Curve, scale: float, unit: str) -> str:
    """Return a wire in words, and from where on it is past its elastic limit."""
    begins = curve.past_from
    if begins is None:
        return curve.wire
    at = f"{scale * begins:.3g} {unit}".rstrip()
    return f"{curve.wire}\npast its elastic limit from {at} on (pale): a real wire gives less"


def _band(panel: Axes, curve: Curve, x: np.ndarray, y: np.ndarray, colour: str) -> None:
    """Lay a pale band under the parts of a drawn line (n,) at which the wire is past its elastic limit."""
    for i in range(1, len(x)):
        past = curve.share[i - 1] > 1, curve.share[i] > 1
        if not any(past):
            continue
        ends = np.array([0.0, 1.0])
        if not all(past):
            ends[0 if past[1] else 1] = curve.part_before(i)
        panel.plot(
            x[i - 1] + ends * (x[i] - x[i - 1]), y[i - 1] + ends * (y[i] - y[i - 1]), color=colour, linewidth=9,
            alpha=0.25, solid_capstyle="butt", zorder=1, gid=PAST,
        )  # fmt: skip


def _named(quantity: str, unit: str) -> str:
    """Return a quantity with its unit, if it has one."""
    return f"{quantity} ({unit})" if unit else quantity


def _over_temperature(curves: Sequence[Curve], scale: float, unit: str) -> Figure:
    """Return the figure of wires that were warmed or cooled: reading, deflection and temperature in order of points."""
    first = curves[0]
    figure, panels = canvas(3, first.setup)
    for curve, style in zip(curves, styles(len(curves)), strict=True):
        for panel, values in zip(panels, (curve.reading, scale * curve.x, curve.temperature), strict=True):
            panel.plot(
                _even(curve), values, color=style["color"], marker=style["marker"], linestyle=style["linestyle"],
                linewidth=1.8, markersize=5, markevery=max(1, len(values) // 12), label=_label(curve, scale, unit),
            )  # fmt: skip
            _band(panel, curve, _even(curve), values, style["color"])
    read, moved = f"{first.reading_name}\n({first.reading_unit})", _named(first.quantity, unit).replace(" (", "\n(")
    for panel, text in zip(panels, (read, moved, "temperature\n(C)"), strict=True):
        panel.set_ylabel(text)
    last = panels[-1]
    last.set_xlabel("stretch of the path, from turn to turn")
    last.set_xticks(range(int(max(c.leg.max() for c in curves)) + 2))
    legend(figure, panels[0])
    return figure


def _even(curve: Curve) -> np.ndarray:
    """Return a place (n,) for every point of a curve: stretch k evenly between k and k + 1."""
    out = np.zeros(len(curve.leg))
    for leg in np.unique(curve.leg):
        mine = np.flatnonzero((curve.leg == leg) & (np.arange(len(curve.leg)) > 0))
        out[mine] = leg + np.arange(1, len(mine) + 1) / max(1, len(mine))
    return out
