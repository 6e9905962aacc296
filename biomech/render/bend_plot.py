"""Plot curves of the bench, 800 x 600 pixels: reading over deflection, loading solid, later stretches dashed."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from biomech.render._beside import ready_folder, write_beside
from biomech.render._canvas import canvas, legend, save, styles
from biomech.studies.bend import RIGS, Setup

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from biomech.bench import Curve


def plot_bend(curves: Sequence[Curve], setup: Setup, folder: Path | str) -> Path:
    """Write curves.png into `folder` (made if needed) and return its path. Raises FileError."""
    folder = ready_folder(Path(folder))
    return write_beside(folder / "curves.png", partial(save, bend_figure(curves, setup)))


def bend_figure(curves: Sequence[Curve], setup: Setup) -> Figure:
    """Return the figure: one colour and mark a wire, arrows not needed since unloading is dashed and marked hollow."""
    first = curves[0]
    scale, unit = (float(np.degrees(1.0)), "deg") if RIGS[setup.rig].angular else (1.0, first.unit)
    figure, (panel,) = canvas(1, first.setup)
    for curve, style in zip(curves, styles(len(curves)), strict=True):
        for leg in range(int(curve.leg.max()) + 1):
            chosen = np.flatnonzero(curve.leg == leg)
            rows = np.append(max(0, int(chosen[0]) - 1), chosen)
            panel.plot(
                scale * curve.x[rows], curve.reading[rows], color=style["color"], marker=style["marker"],
                linestyle="-" if leg == 0 else "--", linewidth=1.8, markersize=5, markevery=max(1, len(rows) // 8),
                markerfacecolor=style["color"] if leg == 0 else "white", label=curve.wire if leg == 0 else None,
            )  # fmt: skip
    panel.axhline(0.0, color="#909090", linewidth=0.8)
    panel.set_xlabel(f"{first.quantity} ({unit or 'share'}); solid: growing, dashed: on the way back")
    panel.set_ylabel(f"{first.reading_name} ({first.reading_unit})")
    legend(figure, panel)
    return figure
