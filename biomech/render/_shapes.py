"""What files and pictures show of a solution: teeth and wires as points in viewer coordinates.

Viewers and graphics libraries take coordinates to be right-handed. The model's axes are left, forward, up; drawn as
they are they would show the patient's mirror image. Viewer coordinates are x to the patient's left, y to the back, z up
(right-handed, as in medical imaging): y changes its sign.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array, Pose, apply, pose_exp
from biomech.tooth.meshes import Mesh

if TYPE_CHECKING:
    from biomech.outputs import ToothView
    from biomech.outputs._wires import WireView
    from biomech.studies.solve import Solution

TO_VIEWER = np.array([1.0, -1.0, 1.0])
"""Factors (3,) from global to viewer coordinates."""
ROUND = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0)
"""Leading figures of round numbers."""
SHOWN = 3.5
"""Length, mm, that the largest crown displacement may reach in a picture."""
STILL = 1e-6
"""Largest crown displacement, mm, below which nothing is said to move."""
_FINE = 400  # points of a wire in a picture


def to_viewer(points: Array) -> Array:
    """Return global points or vectors (..., 3) in viewer coordinates."""
    return np.asarray(points * TO_VIEWER)


def placed(mesh: Mesh, pose: Pose) -> Mesh:
    """Return a mesh of the tooth frame at a global `pose`, in viewer coordinates, facing outwards."""
    return Mesh(to_viewer(pose.point(mesh.vertices)), mesh.triangles[:, ::-1].copy())


def largest_crown_displacement(solution: Solution) -> tuple[int, float]:
    """Return the tooth whose edge or buccal cusp moves most (the first of equals), and how far, mm."""
    sizes = {n: float(np.linalg.norm(_edge_moved(v))) for n, v in solution.teeth.items()}
    number = max(sizes, key=lambda n: round(sizes[n], 7))
    return number, sizes[number]


def _edge_moved(view: ToothView) -> Array:
    return view.displacement(view.part.tooth.landmarks["edge"])


def magnification(largest: float, wanted: float | None = None) -> float:
    """Return the factor to draw displacements with: `wanted`, or a round one that shows `largest` (mm) as a few mm.

    Raises InputError unless `wanted` is a finite number above zero.
    """
    if wanted is not None:
        if not (np.isfinite(wanted) and 0.0 < wanted <= 1e6):
            raise InputError(f"magnify = {wanted!r} cannot be used; allowed: a number above 0, up to 1e6")
        return float(wanted)
    if largest < STILL:
        return 1.0
    return max(1.0, round_down(SHOWN / largest))


def round_down(value: float) -> float:
    """Return the largest round number (leading figure in ROUND) up to a positive `value`."""
    power = 10.0 ** np.floor(np.log10(value))
    return float(max(f for f in ROUND if f * power <= value * (1 + 1e-9)) * power)


def moved_pose(view: ToothView, factor: float) -> Pose:
    """Return the pose of a tooth whose motion (its screw) is `factor` times the true one."""
    return view.part.pose @ pose_exp(factor * view.motion)


@dataclass(frozen=True)
class WireShape:
    """Line of a wire: `name`, `points` (m, 3) viewer coordinates, mm; `stress` (m,) MPa; `radius` mm."""

    name: str
    points: Array
    stress: Array
    radius: float


def station_stress(view: WireView) -> Array:
    """Return the peak stress (n + 1,) at the stations, MPa: the larger of the two elements that meet there."""
    out = np.zeros(len(view.stress) + 1)
    out[:-1] = view.stress[:, 0]
    out[1:] = np.maximum(out[1:], view.stress[:, 1])
    return out


def stations(solution: Solution, name: str) -> tuple[Array, Array]:
    """Return the start and solved positions (n + 1, 3) of a wire's stations, global, mm."""
    part, solved = solution.appliance.wires[name], solution.equilibrium.poses
    start = solution.appliance.start
    before, after = (
        part.stations(Pose(p.rotation[0], p.position[0])).position for p in (start, solved)
    )
    return before, after


def wire_shapes(solution: Solution, factor: float) -> list[WireShape]:
    """Return the wires for a picture whose teeth are moved `factor` times as far as they are.

    A wire keeps its solved shape and is carried along with the slots (the extra displacement of the slots,
    interpolated between them), so that it stays where the teeth hold it; a smooth curve is laid through its stations.
    """
    out = []
    for name, view in solution.wires.items():
        points = stations(solution, name)[1]
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
        carried = to_viewer(points + _carried(solution, points, along, factor))
        fine = np.union1d(along, np.linspace(0.0, along[-1], _FINE))
        radius = 0.25 * (view.part.section.height + view.part.section.depth)
        stress = np.interp(fine, along, station_stress(view))
        out.append(WireShape(name, _through(along, carried, fine), stress, radius))
    return out


def _through(known: Array, values: Array, at: Array) -> Array:
    """Return values (n, 3) interpolated smoothly and without overshoot, held constant beyond the ends."""
    if len(known) < 2:
        return np.repeat(values[:1], len(at), axis=0)
    from scipy.interpolate import Akima1DInterpolator

    return np.asarray(Akima1DInterpolator(known, values, method="makima")(np.clip(at, known[0], known[-1])))


def _carried(solution: Solution, points: Array, along: Array, factor: float) -> Array:
    """Return the extra displacement (n, 3) of stations, global, when teeth move `factor` times as far."""
    extra: dict[int, Array] = {}
    for view in solution.teeth.values():
        now = view.pose.point(view.bracket)
        nearest = int(np.argmin(np.linalg.norm(points - now, axis=1)))
        extra[nearest] = moved_pose(view, factor).point(view.bracket) - now
    at = sorted(extra)
    return _through(along[at], np.array([extra[i] for i in at]), along)


def force_arrow(view: ToothView, factor: float) -> tuple[Array, Array]:
    """Return foot (3,) at the slot, mm, and force (3,), N, of a tooth moved `factor` times; viewer coordinates."""
    foot = moved_pose(view, factor).point(view.bracket)
    return to_viewer(foot), to_viewer(apply(view.pose.rotation, view.wrench[:3]))
