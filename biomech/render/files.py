"""VTK files of a solution, for any viewer."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from biomech.mechanics.poses import Array, apply
from biomech.render._beside import ready_folder, write_beside
from biomech.render._shapes import placed, station_stress, stations, to_viewer
from biomech.tooth.meshes import Mesh
from biomech.tooth.roots import Surface
from biomech.tooth.support import pressures

if TYPE_CHECKING:
    from biomech.outputs import ToothView
    from biomech.studies.solve import Solution


def write_vtk(solution: Solution, folder: Path | str) -> list[Path]:
    """Write teeth.vtu and, if there are wires, wires.vtu into `folder` (made if needed); return their paths.

    Coordinates are right-handed, so that viewers do not show the mirror image: x to the patient's left, y to the BACK,
    z up, mm. Displacements are true, not magnified: scale them in the viewer.

    teeth.vtu, triangles of crowns and roots at the start; per point `displacement_mm` (3), `tooth` (ISO 3950), `part`
    (0 crown, 1 root), `ligament_pressure_kPa` (compression positive; not a number on crowns, above the crest and on
    teeth held rigidly). wires.vtu, lines between the solved stations; per point `stress_MPa` (peak von Mises over the
    section), `stress_over_limit`, `displacement_mm` (3) from the start, `wire` (from 0, in the scenario's order).
    Raises FileError when the folder cannot be written to.
    """
    folder = ready_folder(Path(folder))
    paths = [_write(folder / "teeth.vtu", *_teeth(solution), "triangle")]
    if solution.wires:
        paths.append(_write(folder / "wires.vtu", *_wires(solution), "line"))
    return paths


def _write(path: Path, points: Array, cells: Any, data: dict[str, Any], kind: str) -> Path:
    import meshio

    mesh = meshio.Mesh(points, [(kind, cells)], point_data=data)
    return write_beside(path, lambda draft: mesh.write(draft, file_format="vtu"))


def _stack(parts: list[tuple[Array, Any, dict[str, Any]]]) -> tuple[Array, Any, dict[str, Any]]:
    """Return points, cells and data of several meshes as one."""
    shifts = np.cumsum([0] + [len(points) for points, _, _ in parts[:-1]])
    points = np.concatenate([points for points, _, _ in parts])
    cells = np.concatenate([cells + shift for (_, cells, _), shift in zip(parts, shifts, strict=True)])
    return points, cells, {key: np.concatenate([data[key] for _, _, data in parts]) for key in parts[0][2]}


def _teeth(solution: Solution) -> tuple[Array, Any, dict[str, Any]]:
    parts = []
    for view in solution.teeth.values():
        tooth = view.part.tooth
        crown, root = tooth.crown_surface(), tooth.root_surface()
        bare = np.full(len(crown.vertices), np.nan)
        parts.append(_tooth_part(view, crown, 0, bare))
        parts.append(_tooth_part(view, root, 1, root_pressure(view, root)))
    return _stack(parts)


def _tooth_part(
    view: ToothView, mesh: Mesh, part: int, pressure: Array
) -> tuple[Array, Any, dict[str, Any]]:
    moved = apply(view.part.pose.rotation, view.displacement(mesh.vertices))
    count = len(mesh.vertices)
    data: dict[str, Any] = {
        "displacement_mm": to_viewer(moved),
        "ligament_pressure_kPa": pressure,
        "tooth": np.full(count, view.part.number, dtype=np.int32),
        "part": np.full(count, part, dtype=np.int32),
    }
    shown = placed(mesh, view.part.pose)
    return shown.vertices, shown.triangles, data


def root_pressure(view: ToothView, mesh: Mesh) -> Array:
    """Return the ligament's normal pressure (V,), kPa, at the vertices of a root mesh in tooth axes.

    Compression positive. Not a number above the alveolar crest and on a tooth held rigidly.
    """
    out = np.full(len(mesh.vertices), np.nan)
    if view.part.ligament is None:
        return out
    below = view.jaw * mesh.vertices[:, 2] >= view.part.tooth.bone_level - 1e-9
    if view.part.support is not None:
        out[below] = 1e3 * view.part.support.pressure_near(mesh.vertices[below], view.motion)
        return out
    surface = Surface(mesh.vertices[below], vertex_normals(mesh)[below], np.ones(int(below.sum())))
    out[below] = 1e3 * pressures(surface, view.part.ligament, view.motion).normal
    return out


def vertex_normals(mesh: Mesh) -> Array:
    """Return outward unit normals (V, 3): the mean of the triangles at a vertex, weighted by area."""
    corner = mesh.vertices[mesh.triangles]
    face = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    out = np.zeros_like(mesh.vertices)
    for k in range(3):
        np.add.at(out, mesh.triangles[:, k], face)
    return np.asarray(out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-30))


def _wires(solution: Solution) -> tuple[Array, Any, dict[str, Any]]:
    parts = []
    for index, (name, view) in enumerate(solution.wires.items()):
        before, after = stations(solution, name)
        stress = station_stress(view)
        ends = np.arange(len(after))
        data: dict[str, Any] = {
            "displacement_mm": to_viewer(after - before),
            "stress_MPa": stress,
            "stress_over_limit": stress / view.limit,
            "wire": np.full(len(after), index, dtype=np.int32),
        }
        parts.append((to_viewer(after), np.column_stack([ends[:-1], ends[1:]]), data))
    return _stack(parts)
