"""A stage for films of the arch: set up once in PyVista, then only moved and shot again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from biomech.mechanics.poses import Array, Pose
from biomech.render._shapes import TO_VIEWER, placed, to_viewer
from biomech.render._sheet import Frame
from biomech.render._views import CROWN, ROOT, View, aim, decoded, plotted
from biomech.tooth.meshes import Mesh, merge

Extent = tuple[float, float, float, float]
LEAST_RADIUS = 0.45  # mm, so that a wire stays visible at 4 pixels a mm
_FINE, _SIDES = 160, 8  # rings of a wire, corners of a ring


class Stage:
    """Teeth seen from one direction; `extent` (left, right, bottom, top, mm) at `scale` pixels per mm.

    `first` are the poses of the teeth of `view` at the start, `meshes` their crowns and roots in tooth axes. Drawing
    must be known to work (see probe). Close it when done.
    """

    def __init__(
        self, view: View, meshes: list[tuple[Mesh, Mesh]], first: Pose, extent: Extent, scale: float
    ) -> None:
        self.view, self.extent = view, extent
        self.back = first.inverse()
        pieces = [tuple(placed(mesh, first.take(i)) for mesh in pair) for i, pair in enumerate(meshes)]
        left, right, bottom, top = extent
        size = [max(2, round(scale * (b - a))) for a, b in ((left, right), (bottom, top))]
        self.plotter = _plotter(size)
        aim(self.plotter, view, extent)
        self.regions = self._flat_shot(pieces)
        self.plotter.background_color = "white"
        self.actors = [[self._tooth(m, c) for m, c in zip(pair, (CROWN, ROOT), strict=True)] for pair in pieces]
        self.wires: dict[str, tuple[Any, Any]] = {}

    def __enter__(self) -> Stage:
        return self

    def __exit__(self, *_: object) -> None:
        self.plotter.close()

    def shot(self, poses: Pose, wires: Mapping[str, tuple[Array, float, str]]) -> Frame:
        """Return the picture (h, w, 3) of teeth at `poses` and wires: stations (m, 3) global, radius mm, colour."""
        change = poses @ self.back
        for pair, rotation, position in zip(self.actors, change.rotation, change.position, strict=True):
            matrix = np.eye(4)
            matrix[:3, :3] = TO_VIEWER[:, None] * rotation * TO_VIEWER
            matrix[:3, 3] = to_viewer(position)
            for actor in pair:
                actor.user_matrix = matrix
        for name, (actor, _) in self.wires.items():
            actor.visibility = name in wires
        for name, (points, radius, colour) in wires.items():
            self._wire(name, points, radius, colour)
        self.plotter.render()
        return np.asarray(self.plotter.screenshot(return_img=True))[..., :3]

    def outlines(self) -> list[Array]:
        """Return the visible outlines of the teeth at the start: lines (n, 2) on the picture plane, mm."""
        from contourpy import contour_generator

        rows, columns = self.regions.shape
        left, right, bottom, top = self.extent
        x = left + (np.arange(columns) + 0.5) * (right - left) / columns
        y = top - (np.arange(rows) + 0.5) * (top - bottom) / rows
        out: list[Array] = []
        for region in np.unique(self.regions[self.regions > 0]):
            seen = (self.regions == region).astype(float)
            lines = contour_generator(x, y, seen).lines(0.5)
            out += [np.asarray(line)[::2] for line in lines if len(line) > 20]
        return out

    def _flat_shot(self, pieces: list[tuple[Mesh, ...]]) -> NDArray[np.int64]:
        """Return which part is seen where: every part in a flat colour of its own."""
        parts = [mesh for pair in pieces for mesh in pair]
        code = np.repeat(np.arange(1, len(parts) + 1), [len(m.triangles) for m in parts])
        surface = plotted(merge(parts))
        surface.cell_data["code"] = np.column_stack([code, 255 - code, 0 * code]).astype(np.uint8)
        self.plotter.background_color = "black"
        self.plotter.add_mesh(surface, scalars="code", rgb=True, lighting=False, reset_camera=False, render=False)
        shot = np.array(self.plotter.screenshot(return_img=True))
        self.plotter.clear_actors()
        return decoded(shot)

    def _tooth(self, mesh: Mesh, colour: str) -> Any:
        return self.plotter.add_mesh(
            plotted(mesh), color=colour, smooth_shading=True, ambient=0.38, diffuse=0.68, specular=0.12,
            specular_power=12, reset_camera=False, render=False,
        )  # fmt: skip

    def _wire(self, name: str, points: Array, radius: float, colour: str) -> None:
        surface, normals = tube(_smooth(to_viewer(points)), max(radius, LEAST_RADIUS))
        if name not in self.wires:
            mesh = plotted(surface)
            mesh.point_data["Normals"] = normals
            mesh.point_data.active_normals_name = "Normals"
            actor = self.plotter.add_mesh(
                mesh, color=colour, ambient=0.5, diffuse=0.6, reset_camera=False, render=False
            )
            self.wires[name] = (actor, mesh)
            return
        mesh = self.wires[name][1]
        mesh.points = surface.vertices
        mesh.point_data["Normals"] = normals


def _plotter(size: list[int]) -> Any:
    import pyvista

    plotter: Any = pyvista.Plotter(off_screen=True, window_size=size)
    plotter.render_window.SetMultiSamples(0)  # the sheet is reduced from twice its resolution anyway
    return plotter


def tube(line: Array, radius: float) -> tuple[Mesh, Array]:
    """Return a tube around a line (n, 3), open at its ends, and the normals of its vertices (n * _SIDES, 3)."""
    along = np.gradient(line, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-12)
    flattest = np.eye(3)[int(np.argmin(np.abs(along).max(axis=0)))]
    first = np.cross(along, flattest)
    first /= np.maximum(np.linalg.norm(first, axis=1, keepdims=True), 1e-12)
    second = np.cross(along, first)
    angle = 2.0 * np.pi * np.arange(_SIDES) / _SIDES
    out = first[:, None] * np.cos(angle)[:, None] + second[:, None] * np.sin(angle)[:, None]
    vertices = (line[:, None] + radius * out).reshape(-1, 3)
    ring, side = np.meshgrid(np.arange(len(line) - 1), np.arange(_SIDES), indexing="ij")
    a, b = ring * _SIDES + side, ring * _SIDES + (side + 1) % _SIDES
    quads = np.stack([a, b, b + _SIDES, a + _SIDES], axis=-1).reshape(-1, 4)
    triangles = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])
    return Mesh(vertices, triangles), out.reshape(-1, 3)


def _smooth(points: Array) -> Array:
    """Return a smooth line (_FINE, 3) through points (m, 3)."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    fine = np.linspace(0.0, along[-1], _FINE)
    if len(points) < 3:
        return np.column_stack([np.interp(fine, along, points[:, k]) for k in range(3)])
    from scipy.interpolate import Akima1DInterpolator

    return np.asarray(Akima1DInterpolator(along, points, method="makima")(fine))
