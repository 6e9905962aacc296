"""Plot curves of the bench, 800 x 600 pixels: reading over deflection, solid while it grows, dashed on the way back."""

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
    from matplotlib.figure import Figure

    from biomech.bench import Curve


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
                markerfacecolor="white" if back else style["color"], label=curve.wire if leg == 0 else None,
            )  # fmt: skip
    panel.axhline(0.0, color="#909090", linewidth=0.8)
    ways = "" if first.way_back is None else "; solid: growing, dashed: on the way back"
    panel.set_xlabel(f"{_named(first.quantity, unit)}{ways}")
    panel.set_ylabel(f"{first.reading_name} ({first.reading_unit})")
    legend(figure, panel)
    return figure


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
                linewidth=1.8, markersize=5, markevery=max(1, len(values) // 12), label=curve.wire,
            )  # fmt: skip
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
