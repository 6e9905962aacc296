"""One picture of a solution: the arch from below (or above), from the front and from one side."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from biomech.mechanics.poses import Array
from biomech.render._beside import write_beside
from biomech.render._shapes import force_arrow, largest_crown_displacement, magnification
from biomech.render._views import (
    CROWN, OUTLINE, ROOT, STRESS_MAP, Image, Scene, View, build_scene, extent_of, render,
)  # fmt: skip
from biomech.render.probe import ensure_drawing

if TYPE_CHECKING:
    from biomech.studies.solve import Solution

WIDTH, HEIGHT, DPI = 1600, 1000, 100
FORCE, INK, PALE = "#c8102e", "#1c2733", "#5b6875"
_LONGEST = 11.0  # mm, at most, of a force arrow on the arch
_LEAST_SHARE = 0.03  # forces below this share of the largest get no arrow
Box = tuple[float, float, float, float]


def picture(solution: Solution, path: Path | str, *, magnify: float | None = None) -> Path:
    """Draw the solution as a PNG of 1600 x 1000 pixels and return its path.

    Teeth stand where they move to, displacements magnified by `magnify` (default: a round factor that shows the
    largest crown displacement as 2 to 3.5 mm, stated in the picture); dashed outlines are the start. Wires carry their
    peak stress over the elastic limit as colour, arrows are the forces of wires and loads on the teeth. Raises
    CannotDraw when this machine has no way to draw, InputError for an unusable `magnify`, FileError for the path.
    """
    number, largest = largest_crown_displacement(solution)
    factor = magnification(largest, magnify)
    ensure_drawing()
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    scene = build_scene(solution, factor)
    figure = Figure(figsize=(WIDTH / DPI, HEIGHT / DPI), dpi=DPI, facecolor="white")
    FigureCanvasAgg(figure)
    unit = arrow_unit(solution)
    for view, box in zip(_views(solution), (_LEFT, _UPPER, _LOWER), strict=True):
        _panel(figure, solution, scene, view, box, unit)
    _words(figure, solution, f"{_amount(largest)} mm at tooth {number}", factor)
    _legend(figure, scene, unit)
    if scene.wires:
        _scale_bar(figure, scene)
    return write_beside(Path(path), lambda draft: figure.savefig(draft, format="png", dpi=DPI))


_LEFT, _UPPER, _LOWER = (15, 105, 800, 800), (810, 105, 1590, 445), (810, 460, 1590, 800)
_BOTTOM = 815  # px from the top: below it the legend


def arrow_unit(solution: Solution) -> float:
    """Return the length of an arrow, mm per N, a round number."""
    largest = max(float(np.linalg.norm(view.wrench[:3])) for view in solution.teeth.values())
    if largest < 1e-9:
        return 1.0
    exact = _LONGEST / largest
    power = 10.0 ** np.floor(np.log10(exact))
    return float(max(f for f in (1.0, 2.0, 3.0, 5.0, 8.0) if f * power <= exact) * power)


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


def _panel(figure: Any, solution: Solution, scene: Scene, view: View, box: Box, unit: float) -> None:
    scale = _scale(scene, solution)
    extent = _centred(extent_of(scene, view, 0.0), box, scale)
    image = render(scene, view, extent, scale)
    axes = _axes(figure, box)
    axes.set_xlim(extent[:2])
    axes.set_ylim(extent[2:])
    axes.imshow(image.pixels, extent=extent, interpolation="antialiased", aspect="auto", zorder=1)
    _outlines(axes, image)
    _arrows(axes, solution, scene, view, unit)
    _numbers(axes, scene, view)
    axes.text(0.5, 1.0, view.title, transform=axes.transAxes, ha="center", va="top", fontsize=15, color=INK,
              weight="bold")  # fmt: skip
    _sides(axes, view)


def _scale(scene: Scene, solution: Solution) -> float:
    """Return pixels per mm, the same for all panels."""
    found = []
    for view, box in zip(_views(solution), (_LEFT, _UPPER, _LOWER), strict=True):
        left, right, bottom, top = extent_of(scene, view, _MARGIN)
        found.append(min((box[2] - box[0]) / (right - left), (box[3] - box[1]) / (top - bottom)))
    return float(min(found))


_MARGIN = 5.0  # mm around the teeth, for arrows, numbers and words


def _centred(extent: Box, box: Box, scale: float) -> Box:
    """Return the extent, mm, of a whole panel with the shown things in its middle."""
    width, height = (box[2] - box[0]) / scale, (box[3] - box[1]) / scale
    x, y = 0.5 * (extent[0] + extent[1]), 0.5 * (extent[2] + extent[3])
    return x - 0.5 * width, x + 0.5 * width, y - 0.5 * height, y + 0.5 * height


def _axes(figure: Any, box: Box) -> Any:
    """Return bare axes in a box of pixels from the top left."""
    x0, y0, x1, y1 = box
    axes = figure.add_axes((x0 / WIDTH, 1.0 - y1 / HEIGHT, (x1 - x0) / WIDTH, (y1 - y0) / HEIGHT))
    axes.set_axis_off()
    return axes


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


def _arrows(axes: Any, solution: Solution, scene: Scene, view: View, unit: float) -> None:
    shown = {n: force_arrow(solution.teeth[n], scene.factor) for n in view.numbers}
    largest = max((float(np.linalg.norm(force)) for _, force in shown.values()), default=0.0)
    for foot, force in shown.values():
        if largest > 0 and np.linalg.norm(force) >= _LEAST_SHARE * largest:
            tail = view.flat(foot)
            arrow(axes, tail, tail + unit * view.flat(force))


def arrow(axes: Any, tail: Array, head: Array) -> None:
    """Draw a force arrow between two points of the axes."""
    from matplotlib.patheffects import withStroke

    axes.annotate(
        "", xy=head, xytext=tail, zorder=5,
        arrowprops={"arrowstyle": "-|>,head_width=0.28,head_length=0.55", "color": FORCE, "lw": 2.6,
                    "shrinkA": 0, "shrinkB": 0, "path_effects": [withStroke(linewidth=4.6, foreground="white")]},
    )  # fmt: skip


def _numbers(axes: Any, scene: Scene, view: View) -> None:
    """Write tooth numbers: on the crowns seen from the occlusal side, else beyond the apices, without overlaps."""
    taken: list[Array] = []
    nearest = sorted(view.numbers, key=lambda n: -float(scene.crowns[n].vertices.mean(axis=0) @ view.towards))
    for number in nearest:
        at = _number_place(scene, view, number)
        if all(abs(at[0] - other[0]) > 3.4 or abs(at[1] - other[1]) > 2.0 for other in taken):
            taken.append(at)
            axes.text(*at, str(number), ha="center", va="center", fontsize=14, color=INK, zorder=6, weight="bold")


def _number_place(scene: Scene, view: View, number: int) -> Array:
    crown, root = view.flat(scene.crowns[number].vertices), view.flat(scene.roots[number].vertices)
    if abs(view.up[2]) < 0.5:
        return np.asarray(crown.mean(axis=0))
    up = np.sign(root[:, 1].mean() - crown[:, 1].mean())
    tip = root[np.argmax(up * root[:, 1])]
    return np.asarray(tip + np.array([0.0, up * 1.6]))


def _sides(axes: Any, view: View) -> None:
    sideways = abs(view.right[0]) > 0.5
    words = ("patient's\nright", "patient's\nleft") if sideways else ("back", "front")
    if not sideways and view.right[1] > 0:
        words = words[::-1]
    for x, word, align in ((0.0, words[0], "left"), (1.0, words[1], "right")):
        axes.text(x, 0.0, word, transform=axes.transAxes, ha=align, va="bottom", fontsize=13, color=PALE)


def _amount(value: float) -> str:
    return f"{value:.2g}"


def _words(figure: Any, solution: Solution, largest: str, factor: float) -> None:
    from biomech.studies.solve import CAUTION

    def text(x: float, y: float, words: str, **style: Any) -> None:
        figure.text(x / WIDTH, 1.0 - y / HEIGHT, words, va="top", **style)

    text(20, 16, solution.scenario.title, fontsize=21, color=INK, weight="bold")
    shown = f"Initial movement drawn \u00d7{factor:g} (largest crown displacement {largest}); wires keep their solved shape"
    text(20, 62, shown, fontsize=15, color=INK)
    note = f"{solution.scenario.note} " if solution.scenario.note else ""
    text(20, HEIGHT - 34, note + CAUTION, fontsize=12, color=PALE)


def _legend(figure: Any, scene: Scene, unit: float) -> None:
    axes = _axes(figure, (15, _BOTTOM, 800, HEIGHT - 45))
    axes.set_xlim(0, 785)
    axes.set_ylim(HEIGHT - 45 - _BOTTOM, 0)


def _scale_bar(figure: Any, scene: Scene) -> None:
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize

    axes = figure.add_axes((860 / WIDTH, 1.0 - 880 / HEIGHT, 680 / WIDTH, 22 / HEIGHT))
    bar = figure.colorbar(
        ScalarMappable(Normalize(0.0, scene.ceiling), STRESS_MAP), cax=axes, orientation="horizontal"
    )
    bar.ax.tick_params(labelsize=13, colors=INK)
    bar.set_label("peak stress in the wire / elastic limit", fontsize=14, color=INK)
