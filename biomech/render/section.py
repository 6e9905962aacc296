"""One tooth in buccolingual section: how it moves, under what, and the pressure on its root. Needs matplotlib only."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array, pose_exp
from biomech.render._beside import write_beside
from biomech.render._legend import DPI, FORCE, HEIGHT, INK, WIDTH, draw_arrow
from biomech.render._scales import (
    LEAST_FORCE,
    LEAST_MOMENT,
    LEAST_MOVE,
    Scales,
    arc_angles,
    axis_ends,
    in_plane,
    largest_on_axis,
    moment_at,
    scales_of,
    spread,
)  # fmt: skip
from biomech.render._section_frame import LETTERS, flat, section_axes, silhouette
from biomech.render._section_pressure import draw_pressure
from biomech.render._section_words import MOVED_TO, draw_arc, lines_of, write_legend, write_words
from biomech.render._views import CROWN, OUTLINE, ROOT
from biomech.tooth.meshes import Mesh
from biomech.tooth.motion import rotation_centre, words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from biomech.outputs import ToothView
    from biomech.studies.solve import Solution

__all__ = ["section_scales", "silhouette", "tooth_section"]

_BOX = (15, 105, 690, 880)  # px from the top left
_ASIDE = 2.3  # mm by which the tooth stands aside to make room for the force
_NAMES = 130.0  # px that the names of the centres take at the edge
_LONGEST_FORCE = 4.5  # mm, of an arrow


def section_scales(teeth: Sequence[tuple[Solution, int]], magnify: float | None = None) -> Scales:
    """Return the scales (lengths in mm) to which sections of teeth, each of a solution, can be compared.

    Raises InputError for an absent tooth or unusable `magnify`.
    """
    for solution, number in teeth:
        solution.tooth(number)
    return scales_of([s.teeth[number] for s, number in teeth], _LONGEST_FORCE, magnify, moved=True)


def tooth_section(
    solution: Solution, number: int, path: Path | str, *, magnify: float | None = None, scales: Scales | None = None,
    when: str = "", source: str = "",
) -> Path:  # fmt: skip
    """Draw one tooth in buccolingual section as a PNG of 1600 x 1000 pixels and return its path.

    Left: outline and long axis before (dashed) and after, displacement magnified by `magnify` (default a round factor,
    stated); centre of resistance and of rotation; force and moment in the plane at the bracket and, equivalent to them,
    at the centre of resistance. Arrows and the angles of arcs are in proportion, to scales that are stated: `scales` of
    several sections (see section_scales), or its own. Middle: normal pressure of the ligament on the root seen in
    profile. Right: the numbers, as in Solution.tooth; crown and apex are those of the long axis. `when` says of which
    moment, `source` which command drew it. Raises InputError for an absent tooth or unusable `magnify`, and for it
    together with `scales`, FileError for the path.
    """
    if scales is not None and magnify is not None:
        raise InputError("magnify is part of scales; give one of them")
    found = scales or section_scales([(solution, number)], magnify)
    report, view = solution.tooth(number), solution.teeth[number]
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH / DPI, HEIGHT / DPI), dpi=DPI, facecolor="white")
    FigureCanvasAgg(figure)
    _movement(figure, view, found)
    draw_pressure(figure, view, found.pressure)
    write_words(figure, solution, number, lines_of(report, rests=largest_on_axis(view) < LEAST_MOVE), when)
    mark = {"Source": source} if source else None
    return write_beside(Path(path), lambda draft: figure.savefig(draft, format="png", dpi=DPI, metadata=mark))


def _movement(figure: Any, view: ToothView, scales: Scales) -> None:
    force = flat(view.wrench[:3])
    side = 1.0 if force[0] >= 0 else -1.0
    moves = largest_on_axis(view) >= LEAST_MOVE
    title = f"Initial movement \u00d7{scales.factor:g}" if moves else "No movement"
    axes, scale = section_axes(figure, view, _BOX, title, _ASIDE * side)
    _bodies(axes, view, scales.factor)
    _system(axes, view, view.bracket, scales, FORCE)
    if view.centre is not None:
        _system(axes, view, view.centre.point, scales, MOVED_TO)
        _centres(axes, view, -side)
    write_legend(figure, scales, scale)


def _bodies(axes: Any, view: ToothView, factor: float) -> None:
    """Draw the tooth and its long axis before and after, and how far the ends of the axis come."""
    tooth, moved = view.part.tooth, pose_exp(factor * in_plane(view.motion))
    for mesh, colour in ((tooth.root_surface(64), ROOT), (tooth.crown_surface(96), CROWN)):
        after = Mesh(moved.point(mesh.vertices), mesh.triangles)
        x, y, inside = silhouette(after)
        axes.contourf(x, y, inside, [0.5, 2.0], colors=[colour], zorder=1)
        axes.contour(x, y, inside, [0.5], colors=INK, linewidths=1.0, zorder=2)
        axes.contour(*silhouette(mesh), [0.5], colors=OUTLINE, linewidths=1.6, linestyles=[(0, (5, 3))], zorder=3)
    before = axis_ends(view)
    after_ends = flat(moved.point(before))
    axes.plot(*flat(before).T, color=OUTLINE, linewidth=1.3, linestyle=(0, (3, 3)), zorder=3)
    axes.plot(*after_ends.T, color=INK, linewidth=1.6, zorder=3)
    for a, b in zip(flat(before), after_ends, strict=True):
        axes.plot(*np.stack([a, b]).T, color=INK, linewidth=4.0, solid_capstyle="butt", zorder=4)
        axes.plot(*b, marker="o", markersize=8, color=INK, zorder=4)


def _system(axes: Any, view: ToothView, point: Array, scales: Scales, colour: str) -> None:
    """Draw force and moment in the plane, moved to a point of the tooth, with their amounts at the arrow's head."""
    foot, force = flat(point), flat(view.wrench[:3])
    size, moment = float(np.linalg.norm(force)), moment_at(view, point)
    said, tip, align = [], foot + np.array([2.2, 0.0]), "left"
    if size >= LEAST_FORCE:
        draw_arrow(axes, foot, foot + scales.newton * force, colour)
        said.append(f"{size:.2f} N")
        direction = force / size
        tip = foot + scales.newton * force + np.array([0.4, 1.5]) * direction
        align = "center" if abs(direction[0]) < 0.3 else "left" if direction[0] > 0 else "right"
    if abs(moment) >= LEAST_MOMENT:
        draw_arc(axes, foot, arc_angles(force, scales.sweep(moment)), colour)
        said += [f"{abs(moment):.1f} N\u00b7mm", words("torque", -view.jaw * moment)]
    _outlined(axes, tip, "\n".join(said), colour, align)


def _centres(axes: Any, view: ToothView, side: float) -> None:
    """Mark the centres of resistance and rotation, named at that side; or say that the latter is outside."""
    assert view.centre is not None
    resistance, rotation = flat(view.centre.point), rotation_centre(in_plane(view.motion), "buccolingual")
    marks = [(resistance, "o", "centre of\nresistance")]
    if largest_on_axis(view) >= LEAST_MOVE and np.isfinite(rotation).all():
        (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
        if low + 1.0 < rotation[1] < high - 1.0 and left < rotation[0] < right:
            marks.append((rotation, "X", "centre of\nrotation"))
        else:
            word = "apical" if view.jaw * rotation[1] > view.jaw * resistance[1] else "occlusal"
            up = rotation[1] > resistance[1]
            axes.text(0.5, 0.945 if up else 0.055, f"centre of rotation outside, {word}", transform=axes.transAxes,
                      ha="center", va="center", fontsize=LETTERS, color=INK, weight="bold")  # fmt: skip
    marks.sort(key=lambda mark: float(mark[0][1]))
    for (at, marker, name), height in zip(marks, spread([float(at[1]) for at, _, _ in marks], 2.4), strict=True):
        _mark(axes, at, marker, name, side, float(height))


def _mark(axes: Any, at: Array, marker: str, name: str, side: float, height: float) -> None:
    """Mark a centre and lead from its name at the edge of the drawing to it."""
    axes.plot(*at, marker=marker, markersize=14, color="white", markeredgecolor=INK, markeredgewidth=2.4, zorder=8)
    left, right = axes.get_xlim()
    end = (right if side > 0 else left) - 0.3 * side
    names = _NAMES * (right - left) / (_BOX[2] - _BOX[0])
    if (end - at[0]) * side < names + 0.8:  # where the names stand: its own goes above or below it
        inner = np.clip(at[0], left + 0.5 * names, right - 0.5 * names)
        _outlined(axes, np.array([inner, at[1] + (2.2 if height >= at[1] else -2.2)]), name, INK, "center")
        return
    way = (end - names * side, at[0] + 0.5 * side), (height, at[1])
    axes.plot(*way, color=INK, linewidth=1.4, linestyle=":", zorder=7)
    _outlined(axes, np.array([end, height]), name, INK, "right" if side > 0 else "left")


def _outlined(axes: Any, at: Array, said: str, colour: str, align: str) -> None:
    """Write with a white rim, under the marks of the centres."""
    from matplotlib.patheffects import withStroke

    axes.text(*at, said, ha=align, va="center", fontsize=LETTERS, color=colour, weight="bold", zorder=7.5,
              linespacing=1.1, path_effects=[withStroke(linewidth=4.0, foreground="white")])  # fmt: skip
