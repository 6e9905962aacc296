"""One picture of a solution: the arch from below (or above), from the front and from one side."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from biomech.mechanics.poses import Array
from biomech.render._beside import write_beside
from biomech.render._legend import (
    DPI,
    HEIGHT,
    INK,
    PALE,
    WIDTH,
    Box,
    bare_axes,
    draw_arrow,
    write_legend,
    write_scale_bar,
    write_widths,
    write_words,
)  # fmt: skip
from biomech.render._shapes import STILL, force_arrow, largest_crown_displacement, magnification, round_down
from biomech.render._tooth_numbers import write_numbers
from biomech.render._views import OUTLINE, Image, Scene, View, build_scene, extent_of, render
from biomech.render.probe import ensure_drawing

if TYPE_CHECKING:
    from biomech.studies.solve import Solution

_LONGEST = 11.0  # mm, at most, of a force arrow on the arch
_LEAST_SHARE = 0.03  # forces below this share of the largest get no arrow


def picture(solution: Solution, path: Path | str, *, magnify: float | None = None, source: str | None = None) -> Path:
    """Draw the solution as a PNG of 1600 x 1000 pixels and return its path.

    Teeth stand where they move to, displacements magnified by `magnify` (default: a round factor that shows the
    largest crown displacement as 2 to 3.5 mm, stated in the picture); dashed outlines are the start. Wires carry their
    peak stress over the elastic limit as colour, arrows are the forces of wires and loads on the teeth. The file's text
    carries the caution and names the command that drew it, `source`. Raises DrawError when this machine has no way to
    draw, InputError for an unusable `magnify`, FileError for the path.
    """
    number, largest = largest_crown_displacement(solution)
    factor = magnification(largest, magnify)
    ensure_drawing()
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    from biomech.render._canvas import file_text

    scene = build_scene(solution, factor)
    figure = Figure(figsize=(WIDTH / DPI, HEIGHT / DPI), dpi=DPI, facecolor="white")
    FigureCanvasAgg(figure)
    arrows = Arrows(arrow_unit(solution), {n: force_arrow(v, factor) for n, v in solution.teeth.items()})
    views = _views(solution)
    scale, layout = max((_scale(scene, arrows, views, layout), layout) for layout in _LAYOUTS)
    panels = [_panel(figure, scene, arrows, *at, scale) for at in zip(views, layout, strict=True)]
    write_widths(panels[0], views[0], solution, scene)
    moving = largest >= STILL
    said = f"drawn \u00d7{factor:g} (largest crown displacement {largest:.2g} mm, at tooth {number})"
    write_words(figure, solution, f"Initial movement {said}" if moving else "No tooth moves")
    write_legend(figure, factor * scale if moving else None, arrows.unit * scale)
    if scene.wires:
        write_scale_bar(figure, scene)
    mark = file_text(source)
    return write_beside(Path(path), lambda draft: figure.savefig(draft, format="png", dpi=DPI, metadata=mark))


_LAYOUTS: tuple[tuple[Box, ...], ...] = (
    ((15, 105, 800, 800), (810, 105, 1590, 450), (810, 455, 1590, 800)),
    ((15, 105, 525, 800), (550, 105, 1055, 800), (1080, 105, 1590, 800)),
)  # for arches and for a few teeth; px from the top left
_MARGIN = 30, 55  # px kept free at the sides and above and below, for titles and numbers
_LARGEST_SCALE = 22.0  # px per mm


def arrow_unit(solution: Solution) -> float:
    """Return the length of an arrow, mm per N, a round number."""
    largest = max(float(np.linalg.norm(view.wrench[:3])) for view in solution.teeth.values())
    if largest < 1e-9:
        return 1.0
    return round_down(_LONGEST / largest)


def _views(solution: Solution) -> tuple[View, View, View]:
    numbers = tuple(solution.teeth)
    jaw = next(iter(solution.teeth.values())).jaw
    x, y, z = np.eye(3)
    occlusal = View("Occlusal", x, -jaw * y, numbers)
    side, name = _busier_side(solution)
    own = tuple(n for n, v in solution.teeth.items() if v.side == side)
    return occlusal, View("From the front", x, z, numbers), View(f"From the patient's {name}", -side * y, z, own)


def _busier_side(solution: Solution) -> tuple[int, str]:
    """Return the sign and name of the side whose crowns move more; the right one when they are alike."""
    moved = {1: 0.0, -1: 0.0}
    for view in solution.teeth.values():
        moved[view.side] += float(np.linalg.norm(view.displacement(view.part.tooth.landmarks["edge"])))
    return (-1, "left") if moved[-1] > 1.001 * moved[1] else (1, "right")


@dataclass(frozen=True)
class Arrows:
    """Force arrows: `unit` mm per N; `forces`: foot (3,) mm and force (3,) N by tooth, viewer coordinates."""

    unit: float
    forces: dict[int, tuple[Array, Array]]

    def flat(self, view: View) -> list[tuple[Array, Array]]:
        """Return tail and head (2,) of the arrows worth drawing in a view."""
        largest = max(float(np.linalg.norm(force)) for _, force in self.forces.values())
        shown = [self.forces[n] for n in view.numbers]
        shown = [(foot, f) for foot, f in shown if np.linalg.norm(f) >= max(_LEAST_SHARE * largest, 1e-9)]
        return [(view.flat(foot), view.flat(foot + self.unit * force)) for foot, force in shown]


def _panel(figure: Any, scene: Scene, arrows: Arrows, view: View, box: Box, scale: float) -> Any:
    """Draw one view into a box of pixels and return its axes, in mm."""
    extent = _centred(_shown(scene, arrows, view), box, scale)
    image = render(scene, view, extent, scale)
    axes = bare_axes(figure, box)
    axes.set_xlim(extent[:2])
    axes.set_ylim(extent[2:])
    axes.imshow(image.pixels, extent=extent, interpolation="antialiased", aspect="auto", zorder=1)
    _outlines(axes, image)
    for tail, head in arrows.flat(view):
        draw_arrow(axes, tail, head)
    write_numbers(axes, scene, view, image, scale)
    axes.text(0.5, 1.0, view.title, transform=axes.transAxes, ha="center", va="top", fontsize=15, color=INK,
              weight="bold")  # fmt: skip
    _sides(axes, view)
    return axes


def _shown(scene: Scene, arrows: Arrows, view: View) -> Box:
    """Return left, right, bottom, top (mm) of everything a view shows."""
    left, right, bottom, top = extent_of(scene, view)
    heads = np.array([(left, bottom), *(tuple(head) for _, head in arrows.flat(view))])
    low, high = heads.min(axis=0), heads.max(axis=0)
    return min(left, low[0]), max(right, high[0]), min(bottom, low[1]), max(top, high[1])


def _scale(scene: Scene, arrows: Arrows, views: tuple[View, ...], layout: tuple[Box, ...]) -> float:
    """Return pixels per mm, the same for all panels of a layout."""
    found = [_LARGEST_SCALE]
    for view, box in zip(views, layout, strict=True):
        left, right, bottom, top = _shown(scene, arrows, view)
        found.append((box[2] - box[0] - 2 * _MARGIN[0]) / (right - left))
        found.append((box[3] - box[1] - 2 * _MARGIN[1]) / (top - bottom))
    return float(min(found))


def _centred(extent: Box, box: Box, scale: float) -> Box:
    """Return the extent, mm, of a whole panel with the shown things in its middle."""
    width, height = (box[2] - box[0]) / scale, (box[3] - box[1]) / scale
    x, y = 0.5 * (extent[0] + extent[1]), 0.5 * (extent[2] + extent[3])
    return x - 0.5 * width, x + 0.5 * width, y - 0.5 * height, y + 0.5 * height


def _outlines(axes: Any, image: Image) -> None:
    """Draw the visible outlines of the start."""
    rows, columns = image.regions.shape
    left, right, bottom, top = image.extent
    x = left + (np.arange(columns) + 0.5) * (right - left) / columns
    y = top - (np.arange(rows) + 0.5) * (top - bottom) / rows
    for region in np.unique(image.regions[image.regions > 0]):
        seen = image.regions == region
        h, w = (_span(seen.any(axis=k)) for k in (1, 0))
        axes.contour(x[w], y[h], seen[h, w].astype(float), [0.5], colors=OUTLINE, linewidths=1.2,
                     linestyles=[(0, (3.5, 2.0))], zorder=2)  # fmt: skip


def _span(seen: Any) -> slice:
    """Return the slice from the first to the last true value, one wider at each end."""
    where = np.flatnonzero(seen)
    return slice(max(int(where[0]) - 1, 0), int(where[-1]) + 2)


def _sides(axes: Any, view: View) -> None:
    sideways = abs(view.right[0]) > 0.5
    words = ("patient's\nright", "patient's\nleft") if sideways else ("back", "front")
    if not sideways and view.right[1] > 0:
        words = words[::-1]
    for x, word, align in ((0.0, words[0], "left"), (1.0, words[1], "right")):
        axes.text(x, 0.0, word, transform=axes.transAxes, ha=align, va="bottom", fontsize=13, color=PALE)
