"""Where the stages of a film of courses stand, and at which scale: the same for all courses of a film."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from biomech.mechanics.poses import Array, Pose, pose_exp, pose_log
from biomech.render._course_data import CourseData
from biomech.render._shapes import to_viewer
from biomech.render._sheet import Sheet
from biomech.render._stage import Stage
from biomech.render._views import View

_LOOKS = 13  # days looked at to find the room needed
_MARGIN = 1.0  # mm around what is shown


@dataclass(frozen=True)
class Placed:
    """A stage whose top left corner is at a place on the sheet, `scale` units per mm."""

    stage: Stage
    at: tuple[float, float]
    scale: float

    def place(self, points: Array) -> Array:
        """Return points (..., 2) of the stage's plane, mm, on the sheet."""
        left, _, _, top = self.stage.extent
        return np.asarray(np.array(self.at) + (points - np.array([left, top])) * np.array([self.scale, -self.scale]))


def rows_of(data: CourseData, numbers: Sequence[int]) -> list[int]:
    """Return the rows of teeth in a course, those it has."""
    return [data.numbers.index(n) for n in numbers if n in data.numbers]


def magnified(start: Pose, now: Pose, factor: float) -> Pose:
    """Return the poses whose motion from `start` (its screw) is `factor` times that to `now`."""
    return start @ pose_exp(factor * pose_log(start.inverse() @ now))


def placed_stage(
    datas: Sequence[CourseData], i: int, view: View, factor: float, at: tuple[float, float],
    room: tuple[float, float], sheet: Sheet,
) -> Placed:  # fmt: skip
    """Return a stage of course `i` in the middle of a box of size `room` at a place.

    It shows the teeth of `view` over the whole of all courses and, when they are all, the wires.
    """
    data, rows = datas[i], np.array(rows_of(datas[i], view.numbers))
    both = np.concatenate([points for one in datas for points in _seen(one, view, factor)])
    low, high = both.min(axis=0) - _MARGIN, both.max(axis=0) + _MARGIN
    scale = float(min(room[0] / (high[0] - low[0]), room[1] / (high[1] - low[1])))
    extent = float(low[0]), float(high[0]), float(low[1]), float(high[1])
    meshes, sealed = [data.meshes[r] for r in rows], [data.sealed[r] for r in rows]
    stage = Stage(view, meshes, sealed, data.start.take(rows), extent, scale * sheet.pixels)
    corner = np.array(at) + 0.5 * (np.array(room) - scale * (high - low))
    return Placed(stage, (float(corner[0]), float(corner[1])), scale)


def _seen(data: CourseData, view: View, factor: float) -> Iterator[Array]:
    """Yield points (n, 2) of all that a view shows of a course on some of its days."""
    rows = np.array(rows_of(data, view.numbers))
    days = [float(day) for day in np.linspace(0.0, data.end, _LOOKS)]
    looks = [data.poses_at(day).take(rows) for day in days]
    then = Pose(np.stack([p.rotation for p in looks]), np.stack([p.position for p in looks]))
    poses = magnified(data.start.take(rows), then, factor)  # (days, teeth)
    for j, row in enumerate(rows):
        one = Pose(poses.rotation[:, None, j], poses.position[:, None, j])
        for mesh in data.meshes[row]:
            yield view.flat(to_viewer(one.point(mesh.vertices[::7]))).reshape(-1, 2)
    if view.numbers == data.numbers:
        for day in days:
            yield from (view.flat(to_viewer(line)) for line in data.wires_at(day).values())
