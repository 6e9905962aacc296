"""One tooth of a film in section: where its points are on the sheet, and what is said of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from biomech.mechanics.poses import Array, pose_exp
from biomech.render._scales import LEAST_MOMENT, LEAST_MOVE, Scales, axis_ends, in_plane, largest_on_axis, moment_at
from biomech.render._sheet import Sheet
from biomech.render.section import silhouette
from biomech.tooth.meshes import Mesh
from biomech.tooth.motion import rotation_centre, words

if TYPE_CHECKING:
    from biomech.outputs import ToothView, Value
    from biomech.studies.solve import Solution

TOP, BOTTOM = 86.0, 408.0
"""Units: the tooth's part of a panel."""
NARROW = 3
"""Panels from which on there is little room for words."""


@dataclass(frozen=True)
class Panel:
    """One tooth: outlines (n, 2) and ends of the long axis (2, 2) in section, mm, buccal to the right and up up,
    unmoved; `scales` are those of all panels, `scale` units per mm; `span` from left to right, units; `rests` where
    there is no movement to speak of.
    """

    title: str
    view: ToothView
    scales: Scales
    lines: list[tuple[str, str]]
    crown: Array
    root: Array
    axis: Array
    rotation: Array
    scale: float
    centre: Array
    origin: tuple[float, float]
    span: tuple[float, float]
    rests: bool

    @property
    def moment(self) -> float:
        """Moment in the plane at the bracket, N.mm, from buccal towards up."""
        return moment_at(self.view)

    def moved(self, points: Array, phase: float | Array) -> Array:
        """Return points (..., 2) of the tooth moved by a share `phase` of the magnified displacement.

        Of one point (2,) the places (n, 2) at several shares (n,).
        """
        solid = np.concatenate([np.zeros((*points.shape[:-1], 1)), points], axis=-1)
        motion = np.asarray(phase)[..., None] * self.scales.factor * in_plane(self.view.motion)
        return np.asarray(pose_exp(motion).point(solid)[..., 1:])

    def at(self, points: Array) -> Array:
        """Return points (..., 2) in mm on the sheet."""
        return np.asarray(self.origin + (points - self.centre) * np.array([self.scale, -self.scale]))


def panels_of(solutions: Sequence[Solution], number: int, scales: Scales, sheet: Sheet) -> list[Panel]:
    """Return the panels of a tooth in several solutions, from left to right."""
    longest = max(float(np.ptp(_heights(s, number))) for s in solutions)
    panels = [_panel(s, number, scales, sheet, (i, len(solutions)), longest) for i, s in enumerate(solutions)]
    return [replace(p, rests=True, lines=[(p.lines[0][0], said), *p.lines[1:]]) if said else p
            for p, said in zip(panels, _resting(solutions, number), strict=True)]  # fmt: skip


def _resting(solutions: Sequence[Solution], number: int) -> list[str]:
    """Return for each solution what is said of a tooth without a movement to speak of, else nothing.

    Beside others that is one which hardly moves, as comparisons tell it.
    """
    from biomech.studies.rows import SLIGHT
    from biomech.studies.still import ALONG, HARDLY, SAME_MOVE

    axes = [s.tooth(number)["long_axis_mm"] for s in solutions]
    sizes = [max(abs(float(v or 0.0)) for v in a.values()) if isinstance(a, Mapping) else None for a in axes]
    least = max([SAME_MOVE, *(SLIGHT * size for size in sizes if size is not None)]) if len(sizes) > 1 else 0.0
    out = []
    for solution, size in zip(solutions, sizes, strict=True):
        still = size is not None and largest_on_axis(solution.teeth[number]) < LEAST_MOVE
        hardly = size is not None and size < least and solution.tooth(number)["movement"] not in ALONG
        out.append(HARDLY if hardly else "rests" if still else "")
    return out


def _heights(solution: Solution, number: int) -> list[float]:
    solution.tooth(number)  # an absent tooth is told here
    return [float(p[2]) for p in solution.teeth[number].part.tooth.landmarks.values()]


def _panel(
    solution: Solution, number: int, scales: Scales, sheet: Sheet, place: tuple[int, int], longest: float
) -> Panel:
    i, count = place
    view, z = solution.teeth[number], _heights(solution, number)
    width = sheet.width / count
    return Panel(
        title=solution.scenario.title,
        view=view,
        scales=scales,
        lines=_lines(view, solution.tooth(number), brief=count >= NARROW),
        crown=outline(view.part.tooth.crown_surface(96)),
        root=outline(view.part.tooth.root_surface(64)),
        axis=axis_ends(view)[:, 1:],
        rotation=rotation_centre(in_plane(view.motion), "buccolingual"),
        scale=min((BOTTOM - TOP - 40.0) / (longest + 2.0), width / 22.0),
        centre=np.array([0.0, 0.5 * (max(z) + min(z))]),
        span=(width * i, width * (i + 1)),
        rests=False,
        origin=(width * (i + (0.46 if view.wrench[1] >= 0.0 else 0.54)), 0.5 * (TOP + BOTTOM)),
    )


def outline(mesh: Mesh) -> Array:
    """Return the outline (n, 2) of a mesh in tooth axes seen along the arch, mm."""
    from contourpy import contour_generator

    x, y, inside = silhouette(mesh)
    lines = contour_generator(x, y, np.asarray(inside), corner_mask=False).lines(0.5)
    longest: Array = max((np.asarray(line) for line in lines), key=len)
    return np.asarray(longest[::3])


def _lines(view: ToothView, report: Mapping[str, Value], *, brief: bool) -> list[tuple[str, str]]:
    """Return name and text of the numbers, those of the report; the kind of movement first."""
    axis = report["long_axis_mm"]
    crown, apex = (axis[at] if isinstance(axis, Mapping) else None for at in ("crown", "apex"))
    names = ("Force", "Moment", "Crown", "Apex") if brief else (
        "Force at the bracket", "Moment at the bracket", "Crown moves", "Apex moves",
    )  # fmt: skip
    moment = -view.jaw * moment_at(view)
    turning = f"{abs(moment):.1f} N\u00b7mm, {words('torque', moment)}" if abs(moment) >= LEAST_MOMENT else "none"
    said = (side_of(float(view.wrench[1]), 2, "N"), turning, *(_micrometres(value) for value in (crown, apex)))
    return [("Movement", str(report["movement"])), *zip(names, said, strict=True)]


def _micrometres(value: float | str | None) -> str:
    return side_of(1e3 * value, 1, "\u00b5m") if isinstance(value, float) else "held rigidly"


def side_of(value: float, digits: int, unit: str) -> str:
    """Return an amount, + buccal, with its unit and side."""
    size = f"{abs(value):.{digits}f}"
    side = "" if not float(size) else " buccal" if value > 0 else " lingual"
    return f"{size} {unit}{side}"
