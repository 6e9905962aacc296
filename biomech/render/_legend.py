"""Words, legend and arrows of a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from biomech.mechanics.poses import Array
from biomech.render._views import CROWN, OUTLINE, ROOT, STRESS_MAP, Scene, View

if TYPE_CHECKING:
    from biomech.studies.solve import Solution

WIDTH, HEIGHT, DPI = 1600, 1000, 100
PALETTE = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#000000", "#56B4E9", "#E69F00")
"""Colours of things beside each other, told apart by all kinds of sight."""
FORCE, INK, PALE = "#c8102e", "#1c2733", "#5b6875"
Box = tuple[float, float, float, float]
_BOTTOM = 815  # px from the top: below it the legend


def bare_axes(figure: Any, box: Box) -> Any:
    """Return bare axes in a box of pixels from the top left."""
    x0, y0, x1, y1 = box
    axes = figure.add_axes((x0 / WIDTH, 1.0 - y1 / HEIGHT, (x1 - x0) / WIDTH, (y1 - y0) / HEIGHT))
    axes.set_axis_off()
    return axes


def draw_arrow(axes: Any, tail: Array, head: Array, colour: str = FORCE) -> None:
    """Draw a force arrow between two points of the axes."""
    from matplotlib.patheffects import withStroke

    axes.annotate(
        "", xy=head, xytext=tail, zorder=5,
        arrowprops={"arrowstyle": "-|>,head_width=0.28,head_length=0.55", "color": colour, "lw": 2.6,
                    "shrinkA": 0, "shrinkB": 0, "path_effects": [withStroke(linewidth=4.6, foreground="white")]},
    )  # fmt: skip


def write_words(figure: Any, solution: Solution, movement: str) -> None:
    from biomech.studies.solve import CAUTION

    def text(x: float, y: float, words: str, **style: Any) -> None:
        figure.text(x / WIDTH, 1.0 - y / HEIGHT, words, va="top", **style)

    title = solution.scenario.title
    text(20, 16, title, fontsize=min(21.0, 1900.0 / max(len(title), 1)), color=INK, weight="bold")
    carried = "; wires are carried along with the teeth" if solution.wires else ""
    text(20, 62, f"{movement}{carried}", fontsize=15, color=INK)
    note = f"{solution.scenario.note} " if solution.scenario.note else ""
    text(20, HEIGHT - 34, note + CAUTION, fontsize=12, color=PALE)


def write_widths(axes: Any, view: View, solution: Solution, scene: Scene) -> None:
    """Write the change of the arch's width between the molars, where there is an arch."""
    from biomech.outputs._arch import PLACES

    found = {k: v for k, v in solution.arch.widths.items() if k in (3, 4, 6)}
    if len(found) < 3:
        return
    molars = [mesh.vertices.mean(axis=0) for n, mesh in scene.first_crowns.items() if n % 10 == 6]
    centre = view.flat(np.mean(molars, axis=0))
    style = {"textcoords": "offset points", "fontsize": 13}
    axes.annotate("Change of width, mm", centre, (0, 34), ha="center", weight="bold", color=INK, **style)
    columns = (
        (-88, "left", ["", *(PLACES[k] for k in found)]),
        (46, "right", ["crown", *(signed(w.crown) for w in found.values())]),
        (90, "right", ["apex", *(signed(w.apex) for w in found.values())]),
    )
    for x, align, cells in columns:
        for row, cell in enumerate(cells):
            axes.annotate(cell, centre, (x, 16 - 17 * row), ha=align, color=INK if row else PALE, **style)


def signed(value: float) -> str:
    """Return a number with sign and two decimals; what rounds to nothing has no sign."""
    said = f"{value:+.2f}".replace("-", "\u2212")
    return said[1:] if said[1:] == "0.00" else said


def write_legend(figure: Any, movement: float | None, newton: float) -> None:
    """Explain colours, outlines and lengths; `movement` px per mm of true movement if any, `newton` px per N."""
    from matplotlib.patches import Rectangle

    axes = bare_axes(figure, (30, _BOTTOM, 800, HEIGHT - 45))
    axes.set_xlim(0, 770)
    axes.set_ylim(HEIGHT - 45 - _BOTTOM, 0)

    def say(x: float, y: float, words: str) -> None:
        axes.text(x, y, words, va="center", fontsize=14, color=INK)

    for x, colour, words in ((0, CROWN, "crown"), (125, ROOT, "root")):
        axes.add_patch(Rectangle((x, 10), 34, 20, facecolor=colour, edgecolor=PALE))
        say(x + 44, 20, words)
    amount, length = round_length(newton)
    draw_arrow(axes, np.array([0.0, 62.0]), np.array([length, 62.0]))
    say(length + 14, 62, f"{amount:g} N, force on a tooth, drawn from its bracket")
    if movement is None:
        return
    axes.plot((240, 290), (20, 20), color=OUTLINE, linewidth=1.5, linestyle=(0, (3.5, 2.0)))
    say(300, 20, "where it stood")
    amount, length = round_length(movement)
    axes.plot((0, 0, 0, length, length, length), (97, 111, 104, 104, 97, 111), color=INK, linewidth=2)
    say(length + 14, 104, f"{amount:g} mm of movement as drawn")


def round_length(per_unit: float, longest: float = 260.0) -> tuple[float, float]:
    """Return the amount (1, 0.1, 10 ... units) whose length, px, is the greatest up to `longest`, and that length."""
    power = int(np.floor(np.log10(longest / per_unit)))
    return 10.0**power, per_unit * 10.0**power


def write_scale_bar(figure: Any, scene: Scene) -> None:
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize

    axes = figure.add_axes((860 / WIDTH, 1.0 - 880 / HEIGHT, 680 / WIDTH, 22 / HEIGHT))
    bar = figure.colorbar(
        ScalarMappable(Normalize(0.0, scene.ceiling), STRESS_MAP), cax=axes, orientation="horizontal"
    )
    bar.ax.tick_params(labelsize=13, colors=INK)
    if scene.ceiling > 1.0:
        bar.ax.axvline(1.0, color=FORCE, linewidth=3)
    bar.set_label("peak stress in the wire / elastic limit", fontsize=14, color=INK)
