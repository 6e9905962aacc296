"""The pressure of the ligament on a root seen in profile."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from biomech.render._legend import INK, PALE, round_length
from biomech.render._section_frame import LETTERS, flat, section_axes, silhouette
from biomech.render._shapes import round_down
from biomech.render._views import CROWN, OUTLINE, ROOT

if TYPE_CHECKING:
    from biomech.outputs import ToothView

SQUEEZED, PULLED = "#e66101", "#5e3c99"
_BOX = (695, 105, 1120, 880)  # px from the top left
_LONGEST = 3.0  # mm, of a bar
_PROFILE = 0.35  # share of the normal along the arch up to which a point is seen in profile


def draw_pressure(figure: Any, view: ToothView, largest: float) -> None:
    """Draw the tooth and, where its ligament gives way, bars of normal pressure outside its root.

    `largest` kPa decides about their length.
    """
    axes, scale = section_axes(figure, view, _BOX, "Ligament pressure")
    tooth = view.part.tooth
    for mesh, colour in ((tooth.root_surface(64), ROOT), (tooth.crown_surface(96), CROWN)):
        x, y, inside = silhouette(mesh)
        axes.contourf(x, y, inside, [0.5, 2.0], colors=[colour], alpha=0.45, zorder=1)
        axes.contour(x, y, inside, [0.5], colors=OUTLINE, linewidths=1.0, zorder=2)
    crest = view.jaw * tooth.bone_level
    axes.plot(axes.get_xlim(), (crest, crest), color=PALE, linewidth=1.2, linestyle="-.", zorder=1)
    style = {"va": "center", "fontsize": LETTERS - 1.0}
    axes.text(axes.get_xlim()[0] * 0.96, crest - 0.5 * view.jaw, "crest", color=PALE, **style)
    if view.pressures is None:
        axes.text(0.5, 0.94, "held rigidly: none", transform=axes.transAxes, ha="center", va="top", fontsize=LETTERS)
        return
    _bars(axes, view, round_down(_LONGEST / largest), scale)


def _bars(axes: Any, view: ToothView, unit: float, scale: float) -> None:
    """Draw the pressure as bars, `unit` mm per kPa, on the outside of the root at the points seen in profile."""
    from matplotlib.collections import LineCollection

    assert view.pressures is not None
    surface = view.part.bearing
    seen = np.abs(surface.normals[:, 0]) < _PROFILE
    value, foot = 1e3 * view.pressures.normal[seen], flat(surface.points[seen])
    side = flat(surface.normals[seen])
    side = side / np.maximum(np.linalg.norm(side, axis=1, keepdims=True), 1e-9)
    bars = np.stack([foot, foot + unit * np.abs(value)[:, None] * side], axis=1)
    for keep, colour in ((value > 0, SQUEEZED), (value < 0, PULLED)):
        axes.add_collection(LineCollection(list(bars[keep]), colors=colour, linewidths=4.0, zorder=4))
    amount, length = round_length(unit * scale, 120.0)
    left, (low, high) = axes.get_xlim()[0], axes.get_ylim()
    for row, (colour, word) in enumerate(((SQUEEZED, "compression"), (PULLED, "tension"))):
        y = (low + 3.3 if view.jaw > 0 else high - 2.0) - 1.1 * row
        axes.plot((0.95 * left, 0.95 * left + length / scale), (y, y), color=colour, linewidth=4)
        said = f"{amount:g} kPa {word}"
        axes.text(0.95 * left + length / scale + 0.4, y, said, va="center", fontsize=LETTERS - 1.0, color=INK)
