"""One tooth in buccolingual section: how it moves, under what, and the pressure on its root. Needs matplotlib only."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from biomech.mechanics.poses import Array, pose_exp
from biomech.render._beside import write_beside
from biomech.render._legend import DPI, FORCE, HEIGHT, INK, PALE, WIDTH, bare_axes, draw_arrow, round_length
from biomech.render._shapes import STILL, magnification, round_down
from biomech.render._views import CROWN, OUTLINE, ROOT
from biomech.tooth.meshes import Mesh
from biomech.tooth.motion import rotation_centre, words

if TYPE_CHECKING:
    from biomech.outputs import ToothView, Value
    from biomech.studies.solve import Solution

MOVED_TO = "#0072b2"
SQUEEZED, PULLED = "#e66101", "#5e3c99"
_LEFT, _RIGHT = (20, 80, 660, 905), (665, 80, 1090, 905)  # px from the top left: movement, pressure
_WORDS = 1125  # px, left edge of the text
_ASIDE = 2.5  # mm by which the tooth stands aside to make room for the force
_LONGEST_FORCE, _LONGEST_PRESSURE = 4.5, 3.5  # mm, of an arrow and of a bar
_SILHOUETTE = 0.35  # share of the normal along the arch up to which a point is seen in profile
_FINE = 40  # pixels per mm of an outline


def tooth_section(
    solution: Solution, number: int, path: Path | str, *, magnify: float | None = None
) -> Path:
    """Draw one tooth in buccolingual section as a PNG of 1600 x 1000 pixels and return its path.

    Left: outline before (dashed) and after, displacement magnified by `magnify` (default a round factor, stated);
    centre of resistance and of rotation; force and moment in the plane at the bracket and, equivalent to them, at the
    centre of resistance. Middle: normal pressure of the ligament on the root seen in profile. Right: the numbers, as
    in Solution.tooth. Raises InputError for an absent tooth or unusable `magnify`, FileError for the path.
    """
    report, view = solution.tooth(number), solution.teeth[number]
    marks = view.part.tooth.landmarks
    largest = max(float(np.linalg.norm(view.displacement(marks[name]))) for name in ("edge", "apex"))
    factor = magnification(largest, magnify)
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH / DPI, HEIGHT / DPI), dpi=DPI, facecolor="white")
    FigureCanvasAgg(figure)
    _movement(figure, view, factor, largest)
    _pressure(figure, view)
    _text(figure, solution, number, report, factor if largest >= STILL else None)
    return write_beside(Path(path), lambda draft: figure.savefig(draft, format="png", dpi=DPI))


def _flat(points: Array) -> Array:
    """Return points or vectors (..., 3) in tooth axes on the section (..., 2): buccal to the right, up up."""
    return np.asarray(points[..., 1:])


def _frame(
    figure: Any, view: ToothView, box: tuple[float, float, float, float], title: str, shift: float = 0.0
) -> tuple[Any, float]:
    """Return axes in mm around the tooth, moved aside by `shift`, and pixels per mm."""
    axes = bare_axes(figure, box)
    marks = view.part.tooth.landmarks
    ends = [float(marks["edge"][2]), *(float(p[2]) for name, p in marks.items() if name.startswith("apex"))]
    scale = (box[3] - box[1]) / (max(ends) - min(ends) + 9.0)
    half, middle = 0.5 * (box[2] - box[0]) / scale, 0.5 * (max(ends) + min(ends))
    axes.set_xlim(shift - half, shift + half)
    axes.set_ylim(middle - 0.5 * (box[3] - box[1]) / scale, middle + 0.5 * (box[3] - box[1]) / scale)
    axes.text(0.5, 1.0, title, transform=axes.transAxes, ha="center", va="top", fontsize=16, weight="bold", color=INK)
    for x, word, align in ((0.02, "lingual", "left"), (0.98, "buccal", "right")):
        axes.text(x, 0.0, word, transform=axes.transAxes, ha=align, va="bottom", fontsize=14, color=PALE)
    return axes, scale


def in_plane(motion: Array) -> Array:
    """Return the part of a motion (6,) that lies in the buccolingual plane."""
    return np.asarray(motion * np.array([0.0, 1.0, 1.0, 1.0, 0.0, 0.0]))


def _movement(figure: Any, view: ToothView, factor: float, largest: float) -> None:
    title = f"Movement \u00d7{factor:g}" if largest >= STILL else "No movement"
    force = _flat(view.wrench[:3])
    side = 1.0 if force[0] >= 0 else -1.0
    axes, _ = _frame(figure, view, _LEFT, title, _ASIDE * side)
    tooth, moved = view.part.tooth, pose_exp(factor * in_plane(view.motion))
    for mesh, colour in ((tooth.root_surface(64), ROOT), (tooth.crown_surface(96), CROWN)):
        after = Mesh(moved.point(mesh.vertices), mesh.triangles)
        x, y, inside = silhouette(after)
        axes.contourf(x, y, inside, [0.5, 2.0], colors=[colour], zorder=1)
        axes.contour(x, y, inside, [0.5], colors=INK, linewidths=1.0, zorder=2)
        axes.contour(*silhouette(mesh), [0.5], colors=OUTLINE, linewidths=1.5, linestyles=[(0, (5, 3))], zorder=3)
    unit = _LONGEST_FORCE / max(float(np.linalg.norm(force)), 1e-9)
    _system(axes, view, view.bracket, unit, FORCE)
    if view.centre is not None:
        _system(axes, view, view.centre.point, unit, MOVED_TO)
        _centres(axes, view, -side)


def _system(axes: Any, view: ToothView, point: Array, unit: float, colour: str) -> None:
    """Draw force and moment in the plane, moved to a point of the tooth, with their amounts at the arrow's head."""
    foot, force = _flat(point), _flat(view.wrench[:3])
    size, moment = float(np.linalg.norm(force)), float(view.moment_at(point)[0])
    said, tip, align = [], foot + np.array([2.2, 0.0]), "left"
    if size >= 0.005:
        draw_arrow(axes, foot, foot + unit * force, colour)
        said.append(f"{size:.2f} N")
        direction = force / size
        tip = foot + unit * force + np.array([0.4, 1.3]) * direction
        align = "center" if abs(direction[0]) < 0.3 else "left" if direction[0] > 0 else "right"
    if abs(moment) >= 0.05:
        _turn_arrow(axes, foot, moment > 0.0, colour)
        said += [f"{abs(moment):.1f} N\u00b7mm", words("torque", -view.jaw * moment)]
    _outlined(axes, tip, "\n".join(said), colour, align)


def _turn_arrow(axes: Any, centre: Array, anticlockwise: bool, colour: str) -> None:
    from matplotlib.patches import FancyArrowPatch
    from matplotlib.path import Path as Line

    angle = np.radians(np.linspace(-50.0, 200.0, 40))
    ring = centre + 1.6 * np.column_stack([np.cos(angle), np.sin(angle)])
    line = Line(ring if anticlockwise else ring[::-1])
    style = "-|>,head_length=7,head_width=4.5"
    axes.add_patch(FancyArrowPatch(path=line, arrowstyle=style, color=colour, linewidth=2.4, zorder=6))


def _centres(axes: Any, view: ToothView, side: float) -> None:
    """Mark the centres of resistance and rotation, named at that side; or say that the latter is outside."""
    assert view.centre is not None
    resistance, rotation = _flat(view.centre.point), rotation_centre(view.motion, "buccolingual")
    above = bool(resistance[1] >= rotation[1]) if np.isfinite(rotation[1]) else True
    _mark(axes, resistance, "o", "centre of resistance", side, above)
    if float(np.abs(view.motion).max()) < STILL or not np.isfinite(rotation).all():
        return
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    if low + 1.0 < rotation[1] < high - 1.0 and left < rotation[0] < right:
        _mark(axes, rotation, "X", "centre of rotation", side, not above)
        return
    word = "apical" if view.jaw * rotation[1] > view.jaw * resistance[1] else "occlusal"
    axes.text(0.5, 0.95 if rotation[1] > resistance[1] else 0.05, f"centre of rotation outside, {word}",
              transform=axes.transAxes, ha="center", va="center", fontsize=14, color=INK, weight="bold")  # fmt: skip


def _mark(axes: Any, at: Array, marker: str, name: str, side: float, above: bool) -> None:
    axes.plot(*at, marker=marker, markersize=13, color="white", markeredgecolor=INK, markeredgewidth=2.2, zorder=8)
    end = axes.get_xlim()[1 if side > 0 else 0] - 0.3 * side
    axes.plot((end, at[0] + 0.5 * side), (at[1], at[1]), color=INK, linewidth=1.2, linestyle=":", zorder=7)
    place = np.array([end, at[1] + (0.5 if above else -0.5)])
    _outlined(axes, place, name, INK, "right" if side > 0 else "left")


def _outlined(axes: Any, at: Array, said: str, colour: str, align: str) -> None:
    """Write with a white rim, under the marks of the centres."""
    from matplotlib.patheffects import withStroke

    axes.text(*at, said, ha=align, va="center", fontsize=14, color=colour, weight="bold", zorder=7.5,
              path_effects=[withStroke(linewidth=3.5, foreground="white")])  # fmt: skip


def silhouette(mesh: Mesh) -> tuple[Array, Array, NDArray[np.float64]]:
    """Return grid lines x (n,), y (m,), mm, and how far each cell is inside the mesh seen along the arch (m, n)."""
    from PIL import Image, ImageDraw

    flat = _flat(mesh.vertices)
    low = flat.min(axis=0) - 0.2
    size = np.ceil((flat.max(axis=0) + 0.2 - low) * _FINE).astype(int)
    canvas = Image.new("L", (2 * int(size[0]), 2 * int(size[1])))
    draw = ImageDraw.Draw(canvas)
    for corners in ((flat - low) * 2 * _FINE)[mesh.triangles]:
        draw.polygon([tuple(c) for c in corners.tolist()], fill=1, outline=1)
    inside = np.asarray(canvas, dtype=np.float64).reshape(size[1], 2, size[0], 2).mean(axis=(1, 3))
    return low[0] + (np.arange(size[0]) + 0.5) / _FINE, low[1] + (np.arange(size[1]) + 0.5) / _FINE, inside


def _pressure(figure: Any, view: ToothView) -> None:
    axes, scale = _frame(figure, view, _RIGHT, "Ligament pressure")
    tooth = view.part.tooth
    for mesh, colour in ((tooth.root_surface(64), ROOT), (tooth.crown_surface(96), CROWN)):
        x, y, inside = silhouette(mesh)
        axes.contourf(x, y, inside, [0.5, 2.0], colors=[colour], alpha=0.45, zorder=1)
        axes.contour(x, y, inside, [0.5], colors=OUTLINE, linewidths=1.0, zorder=2)
    crest = view.jaw * tooth.bone_level
    axes.plot(axes.get_xlim(), (crest, crest), color=PALE, linewidth=1.2, linestyle="-.", zorder=1)
    axes.text(axes.get_xlim()[0] * 0.96, crest - 0.45 * view.jaw, "crest", va="center", fontsize=13, color=PALE)
    if view.pressures is None:
        axes.text(0.5, 0.94, "held rigidly: none", transform=axes.transAxes, ha="center", va="top", fontsize=14)
        return
    _bars(axes, view, 1e3 * view.pressures.normal, scale)


def _bars(axes: Any, view: ToothView, kilopascal: Array, scale: float) -> None:
    """Draw the pressure as bars on the outside of the root at the points seen in profile."""
    from matplotlib.collections import LineCollection

    surface = view.part.bearing
    seen = np.abs(surface.normals[:, 0]) < _SILHOUETTE
    value, foot = kilopascal[seen], _flat(surface.points[seen])
    unit = round_down(_LONGEST_PRESSURE / max(float(np.abs(value).max(initial=0.0)), 1e-9))
    side = _flat(surface.normals[seen])
    side = side / np.maximum(np.linalg.norm(side, axis=1, keepdims=True), 1e-9)
    bars = np.stack([foot, foot + unit * np.abs(value)[:, None] * side], axis=1)
    for keep, colour in ((value > 0, SQUEEZED), (value < 0, PULLED)):
        axes.add_collection(LineCollection(list(bars[keep]), colors=colour, linewidths=4.0, zorder=4))
    amount, length = round_length(unit * scale, 120.0)
    left, (low, high) = axes.get_xlim()[0], axes.get_ylim()
    for row, (colour, word) in enumerate(((SQUEEZED, "compression"), (PULLED, "tension"))):
        y = (low + 3.3 if view.jaw > 0 else high - 2.0) - 1.1 * row
        axes.plot((0.95 * left, 0.95 * left + length / scale), (y, y), color=colour, linewidth=4)
        axes.text(0.95 * left + length / scale + 0.4, y, f"{amount:g} kPa {word}", va="center", fontsize=13, color=INK)


def _text(
    figure: Any, solution: Solution, number: int, report: Mapping[str, Value], factor: float | None
) -> None:
    from biomech.studies.solve import CAUTION

    name = solution.teeth[number].part.tooth.name
    figure.text(20 / WIDTH, 0.984, f"{solution.scenario.title}: tooth {number}, {name}", va="top", weight="bold",
                fontsize=min(21.0, 1700.0 / (len(solution.scenario.title) + len(name) + 12)), color=INK)  # fmt: skip
    y = 150.0
    for title, value in _lines(report):
        figure.text(_WORDS / WIDTH, 1 - y / HEIGHT, title, va="top", fontsize=13.5, color=PALE)
        figure.text(_WORDS / WIDTH, 1 - (y + 23) / HEIGHT, value, va="top", fontsize=15, color=INK)
        y += 66 + 24 * value.count("\n")
    drawn = "" if factor is None else "dashed: before; filled: after (movement in this plane, magnified). "
    drawn += "Red: force and moment at the bracket; blue: the same, moved to the centre of resistance."
    figure.text(20 / WIDTH, 1 - 925 / HEIGHT, drawn[0].upper() + drawn[1:], va="top", fontsize=14, color=INK)
    note = f"{solution.scenario.note} " if solution.scenario.note else ""
    figure.text(20 / WIDTH, 1 - 966 / HEIGHT, note + CAUTION, va="top", fontsize=12, color=PALE)


def _lines(report: Mapping[str, Value]) -> list[tuple[str, str]]:
    """Return title and text of what is said of the tooth."""

    def part(key: str, name: str) -> float | None:
        table = report[key]
        value = table[name] if isinstance(table, Mapping) else table
        return value if isinstance(value, float) else None

    def say(value: float | None, unit: str, digits: int = 2) -> str:
        text = "none" if value is None else f"{value:+.{digits}f} {unit}"
        return text.replace("-", "\u2212")

    peak, mean = (say(part("ligament_pressure_kPa", name), "kPa", 1) for name in ("peak", "mean"))
    return [
        ("Kind of movement", str(report["movement"])),
        ("Force: buccal, occlusal", f"{say(part('force_N', 'buccal'), 'N')},  {say(part('force_N', 'occlusal'), 'N')}"),
        ("Torque at the bracket, + buccal root", say(part("moment_at_bracket_N_mm", "torque"), "N\u00b7mm", 1)),
        ("Torque at the centre of resistance", say(part("moment_at_resistance_N_mm", "torque"), "N\u00b7mm", 1)),
        ("M/F at the bracket", say(part("moment_to_force_mm", ""), "mm", 1)),
        ("Crown, buccal", say(part("crown_mm", "buccal"), "mm", 3)),
        ("Apex, buccal", say(part("apex_mm", "buccal"), "mm", 3)),
        ("Centre of rotation, below the crest", say(part("rotation_centre_depth_mm", ""), "mm", 1)),
        ("Compression in the ligament", "none" if peak == "none" else f"peak {peak},  mean {mean}".replace("+", "")),
    ]  # fmt: skip
