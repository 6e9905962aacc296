"""Sheets, marks and legends that the plots share. matplotlib without a window: figures go straight into files.

Every sheet carries the caution at its foot, every file in its text as well.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from biomech import __version__
from biomech.render._legend import PALETTE
from biomech.studies.phrases import broken
from biomech.studies.solve import CAUTION

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MARKERS = "osD^vPX"
LINES: tuple[Any, ...] = ("-", "--", "-.", ":", (0, (5, 1)), (0, (3, 1, 1, 1)), (0, (1, 1)))
GREY = "#707070"
SIZE, DOTS = (8.0, 6.0), 100  # inches and dots an inch: 800 x 600 pixels
_WIDE, _LINES = 600, 4  # pixels for names side by side under a panel, and their lines below each other
_SIZES, _LETTER = (12, 10, 9, 8, 7), 0.8  # points of letters, as large as have room; pixels a letter and point
_FEW = 4  # lines in a legend from which on its letters are smaller
_FOOT, _SMALL = 0.032, 7.5  # share of the height kept for the caution, and its size: one line across the sheet


def canvas(panels: int, title: str) -> tuple[Figure, Sequence[Axes]]:
    """Return an empty sheet with panels above each other that share their horizontal axis."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure as Sheet
    from matplotlib.layout_engine import ConstrainedLayoutEngine

    room = (0.0, _FOOT, 1.0, 1.0 - _FOOT)  # left, bottom, width, height
    with rc_context({"font.size": 12, "axes.spines.top": False, "axes.spines.right": False}):
        figure = Sheet(figsize=SIZE, dpi=DOTS, layout=ConstrainedLayoutEngine(rect=room))
        axes = figure.subplots(panels, 1, sharex=True, squeeze=False)[:, 0]
        figure.suptitle(title, fontsize=14, x=0.02, ha="left")
    figure.text(0.5, 0.3 * _FOOT, CAUTION, fontsize=_SMALL, color=GREY, ha="center", va="bottom", in_layout=False)
    for panel in axes:
        panel.grid(axis="y", color="#E0E0E0", linewidth=0.8)
        panel.set_axisbelow(True)
    return figure, list(axes)


def styles(count: int) -> list[dict[str, Any]]:
    """Return `count` styles of lines and marks, all different up to seven; from there on a scale from dark to light."""
    colours: list[Any] = list(PALETTE)
    if count > len(PALETTE):
        from matplotlib import colormaps

        colours = list(colormaps["cividis"](np.linspace(0.0, 0.9, count)))
    return [
        {
            "color": colours[i], "marker": MARKERS[i % len(MARKERS)], "linestyle": LINES[i % len(LINES)],
            "markersize": 7, "linewidth": 1.8,
        }
        for i in range(count)
    ]  # fmt: skip


def points(
    panel: Axes, x: np.ndarray, y: np.ndarray, limits: tuple[float, float], style: dict[str, Any], label: str, *,
    joined: bool,
) -> None:  # fmt: skip
    """Draw values (in order of x); those beyond `limits` become arrows at the edge with their value beside them."""
    order = np.argsort(x, kind="stable")
    x, y = x[order], y[order]
    inside = np.where((y >= limits[0]) & (y <= limits[1]), y, np.nan)
    panel.plot(x, inside, label=label, **(style if joined else {**style, "linestyle": "none"}))
    for xi, yi in zip(x, y, strict=True):
        if np.isfinite(yi) and not limits[0] <= yi <= limits[1]:
            edge, mark = (limits[1], "^") if yi > limits[1] else (limits[0], "v")
            panel.plot([xi], [edge], marker=mark, color=style["color"], markersize=9, linestyle="none")
            panel.annotate(f"{yi:.1f}", (xi, edge), xytext=(-8, 0), textcoords="offset points", va="center", ha="right")


def fit(panel: Axes, values: Sequence[np.ndarray], marks: Sequence[float] = (0.0,)) -> None:
    """Set the vertical range so that all values and marks show, with room for symbols and a line of text."""
    found = np.concatenate([*(np.ravel(v) for v in values), np.asarray(marks, dtype=float)])
    found = found[np.isfinite(found)]
    low, high = float(found.min()), float(found.max())
    room = max(high - low, 1e-6)
    panel.set_ylim(low - 0.08 * room, high + 0.14 * room)


def note(panel: Axes, y: float, text: str, stands: str = "center") -> None:
    """Draw a line across the panel and write a text beside its right end; it `stands` on it or hangs ("top")."""
    panel.axhline(y, color=GREY, linewidth=1, zorder=0)
    panel.annotate(
        text, (1.0, y), xycoords=("axes fraction", "data"), ha="left", va=stands, color="#404040", fontsize=11,
        xytext=(4, 0), textcoords="offset points",
    )  # fmt: skip


def say(panel: Axes, x: float, height: float, text: str) -> None:
    """Write a text at x, at a share `height` of the panel's height."""
    panel.annotate(
        text, (x, height), xycoords=("data", "axes fraction"), ha="center", va="center", fontsize=11,
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.5},
    )  # fmt: skip


def place_variants(panels: Sequence[Axes], x: np.ndarray, names: Sequence[str], label: str, numeric: bool) -> None:
    """Label the shared horizontal axis: with numbers, or with names (broken into lines) at their places."""
    last = panels[-1]
    last.set_xlabel(label)
    if not numeric:
        lines, size = _ticks(names)
        last.set_xticks(x, lines, fontsize=size)
        last.set_xlim(x[0] - 0.6, x[-1] + 0.6)


def _ticks(names: Sequence[str]) -> tuple[list[str], int]:
    """Return names in lines, and the largest size at which they stand side by side, broken where a reader would."""
    for size in _SIZES:
        width = max(4, int(_WIDE / max(len(names), 1) / (_LETTER * size)) - 1)
        lines = [broken(name, width, _LINES) for name in names]
        if all(line is not None for line in lines):
            return [line for line in lines if line is not None], size
    return [textwrap.fill(name, width) for name in names], _SIZES[-1]


def legend(figure: Figure, panel: Axes) -> None:
    """Set the legend of a panel below all panels, above the caution."""
    handles, labels = panel.get_legend_handles_labels()
    longest = max(map(len, labels), default=1)
    size = 11 if len(labels) <= _FEW else 9
    columns = max(1, min(len(labels), 90 * 11 // size // (longest + 8)))
    above = 72 * _FOOT * SIZE[1] / size  # the legend keeps this off the sheet's edge, in its letters' size
    figure.legend(
        handles, labels, loc="outside lower left", borderaxespad=above, ncols=columns, frameon=False, fontsize=size
    )


def settle(figure: Figure) -> None:
    """Lay out a sheet. Labels find their room once the ticks are known; kept, as other room might mean other ticks."""
    figure.draw_without_rendering()
    for panel in figure.axes:
        low, high = sorted(panel.get_ylim())
        panel.set_yticks([tick for tick in panel.get_yticks() if low <= tick <= high])
    figure.draw_without_rendering()
    fit_labels(figure)


def fit_labels(figure: Figure) -> None:
    """Make the letters of upright labels smaller where they are longer than their panel is high; the sheet is drawn."""
    for panel in figure.axes:
        label, room = panel.yaxis.label, panel.get_window_extent().height
        taken = label.get_window_extent().height
        if taken > room:
            label.set_fontsize(max(_SMALL, float(label.get_fontsize()) * room / taken))


def save(figure: Figure, source: str, path: Path) -> None:
    """Write a sheet as PNG; its text names the command it comes from (`source`) and carries the caution."""
    settle(figure)
    figure.savefig(path, metadata=file_text(source))


def file_text(source: str | None) -> dict[str, str]:
    """Return what the text of a PNG file says: which program wrote it, the caution, and which command (`source`)."""
    text = {"Software": f"biomech {__version__}", "Disclaimer": CAUTION}
    return text if source is None else {**text, "Source": source}
