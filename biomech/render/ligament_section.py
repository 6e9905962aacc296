"""Stress of a solid ligament in the buccolingual section through the long axis, through its whole thickness."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from biomech.mechanics.poses import Array
from biomech.render._beside import write_beside
from biomech.render._legend import INK, PALE
from biomech.render.ligament import COLOURS, SHEAR, add_bar, title_of
from biomech.solid.grid import Index
from biomech.solid.stress import at_corners, tensors

if TYPE_CHECKING:
    from biomech.solid import SolidSupport
    from biomech.studies.ligament import LoadedLigament
    from biomech.tooth.meshes import Mesh
    from biomech.tooth.model import Tooth

TITLES = ("hydrostatic", "largest principal", "smallest principal", "largest shear")
_SIZE, _DOTS = (13.0, 5.4), 100
_DRAWN = 1.2  # mm, thickness of the ligament in the picture
_ASIDE = 1e-4  # mm by which the plane misses the nodes that lie on it


def section_picture(found: LoadedLigament, path: Path, scale: float, shear: float | None = None) -> Path:
    """Draw four stresses in section, scales in kPa; the ligament is drawn thicker than it is, by a stated factor.

    Largest shear: half the difference of the largest and the smallest principal stress; its scale, if none is given,
    is what it stays below at 95 % of the points drawn.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    tooth = found.support.tooth
    factor = max(1, round(_DRAWN / found.support.ligament.thickness))
    triangles, points, stresses = cut(found.solid, nodal(found), factor)
    outline = _outline(tooth.root_surface(64))
    along = float(np.percentile(stresses[:, 3], 95.0)) if shear is None else shear
    figure = Figure(figsize=_SIZE, dpi=_DOTS, layout="constrained", facecolor="white")
    FigureCanvasAgg(figure)
    panels = figure.subplots(1, 4, sharex=True, sharey=True)
    drawn: list[Any] = []
    for panel, title, values in zip(panels, TITLES, stresses.T, strict=True):
        low, top, colours = (0.0, along, SHEAR) if title == TITLES[3] else (-scale, scale, COLOURS)
        panel.plot(outline[:, :, 0].T, outline[:, :, 1].T, color=PALE, linewidth=0.8)
        ends = {"vmin": low, "vmax": top, "cmap": colours, "shading": "gouraud"}
        drawn.append(panel.tripcolor(*points.T, triangles, values, **ends))
        _frame(panel, title, tooth, points)
    add_bar(figure, drawn[0], panels[:3], (-scale, scale), "kPa, tension positive")
    add_bar(figure, drawn[3], panels[3:], (0.0, along), "kPa")
    note = f"; buccolingual section through the long axis, ligament drawn {factor} times as thick"
    figure.suptitle(title_of(found, note), fontsize=11)
    return write_beside(path, lambda draft: figure.savefig(draft, format="png", dpi=_DOTS))


def nodal(found: LoadedLigament) -> Array:
    """Return the stresses (N, 4) of TITLES at the corners of the elements, kPa; 0 at other nodes."""
    mesh = found.solid.mesh
    tensor = tensors(at_corners(found.stress, mesh.hexes[:, :8], len(mesh.points)))
    high_to_low = np.linalg.eigvalsh(tensor)[:, ::-1]
    parts = (high_to_low.mean(axis=1), high_to_low[:, 0], high_to_low[:, 2], 0.5 * np.ptp(high_to_low, axis=1))
    return np.asarray(1e3 * np.stack(parts, axis=1))


def cut(solid: SolidSupport, values: Array, factor: float) -> tuple[Index, Array, Array]:
    """Return triangles (T, 3), points (P, 2), buccal and up, mm, and values (P, k) of the ligament in section.

    `values` (N, k) at the nodes. The points stand `factor` times as far from the root as they are.
    """
    import pyvista

    mesh = solid.mesh
    points = mesh.points * solid.signs
    grid = pyvista.UnstructuredGrid({pyvista.CellType.HEXAHEDRON: np.ascontiguousarray(mesh.hexes[:, :8])}, points)
    grid.point_data["values"] = values
    grid.point_data["away"] = points - points[_feet(mesh.hexes, len(points))]
    found = grid.slice(normal="x", origin=(_ASIDE, 0.0, 0.0)).triangulate()
    place = np.asarray(found.points, dtype=np.float64) + (factor - 1.0) * np.asarray(found.point_data["away"])
    faces = np.asarray(found.faces.reshape(-1, 4)[:, 1:], dtype=np.int64)
    return faces, place[:, 1:], np.asarray(found.point_data["values"], dtype=np.float64)


def _feet(hexes: Index, count: int) -> Index:
    """Return for each node (count,) the node of the root below it; elements stand in layers, the inner first."""
    foot = np.arange(count)
    for low, high in zip(hexes[:, :4], hexes[:, 4:8], strict=True):
        foot[high] = foot[low]
    return foot


def _outline(mesh: Mesh) -> Array:
    """Return the segments (S, 2, 2), buccal and up, in which a surface meets the plane of the section."""
    import pyvista

    surface: Any = pyvista.PolyData.from_regular_faces(mesh.vertices, mesh.triangles)  # type: ignore[arg-type]
    lines = surface.slice(normal="x", origin=(_ASIDE, 0.0, 0.0))
    return np.asarray(np.asarray(lines.points, dtype=np.float64)[lines.lines.reshape(-1, 3)[:, 1:]][:, :, 1:])


def _frame(panel: Any, title: str, tooth: Tooth, points: Array) -> None:
    low, high = points.min(axis=0) - 0.6, points.max(axis=0) + 0.6
    panel.set(xlim=(low[0], high[0]), ylim=(low[1], high[1]), aspect="equal", title=title)
    panel.title.set_fontsize(11)
    panel.set_axis_off()
    for x, word, align in ((0.0, "lingual", "left"), (1.0, "buccal", "right")):
        foot = 0.0 if tooth.jaw_sign > 0 else 1.0
        at = {"ha": align, "va": "bottom" if foot else "top", "transform": panel.transAxes}
        panel.text(x, foot, word, fontsize=9, color=INK, **at)
