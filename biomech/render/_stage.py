"""A stage for films of the arch: set up once, then only moved and shot again."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import numpy as np
from numpy.typing import NDArray

from biomech.mechanics.poses import Array, Pose
from biomech.render._scene import Scene, Surface
from biomech.render._shapes import TO_VIEWER, placed, to_viewer
from biomech.render._sheet import Frame
from biomech.render._views import CROWN, ROOT, View, decoded
from biomech.tooth.meshes import Mesh, merge

Extent = tuple[float, float, float, float]
LEAST_RADIUS = 0.45  # mm, so that a wire stays visible at 4 pixels a mm
_SIDES = 8  # corners of a ring of a wire


class Stage:
    """Teeth seen from one direction; `extent` (left, right, bottom, top, mm) at `scale` pixels per mm.

    `first` are the poses of the teeth of `view` at the start, `meshes` their crowns and roots in tooth axes, `sealed`
    whether the two of a tooth hide its inside between them. Drawing must be known to work (see probe). Close it when
    done.
    """

    def __init__(
        self, view: View, meshes: list[tuple[Mesh, Mesh]], sealed: list[bool], first: Pose, extent: Extent, scale: float
    ) -> None:
        self.view, self.extent = view, extent
        self.back = first.inverse()
        pieces = [tuple(placed(mesh, first.take(i)) for mesh in pair) for i, pair in enumerate(meshes)]
        left, right, bottom, top = extent
        self.scene = Scene(view, extent, (max(2, round(scale * (right - left))), max(2, round(scale * (top - bottom)))))
        self.regions = self._flat_shot(pieces)
        self.teeth = [
            [self._tooth(mesh, colour, whole) for mesh, colour in zip(pair, (CROWN, ROOT), strict=True)]
            for pair, whole in zip(pieces, sealed, strict=True)
        ]
        self.wires: dict[str, Surface] = {}

    def __enter__(self) -> Stage:
        return self

    def __exit__(self, *_: object) -> None:
        self.scene.close()

    def shot(self, poses: Pose, wires: Mapping[str, tuple[Array, float, str]]) -> Frame:
        """Return the picture (h, w, 3) of teeth at `poses` and wires: lines (m, 3) global, radius mm, colour.

        The line of a wire has as many points in every shot.
        """
        change = poses @ self.back
        for pair, rotation, position in zip(self.teeth, change.rotation, change.position, strict=True):
            matrix = np.eye(4)
            matrix[:3, :3] = TO_VIEWER[:, None] * rotation * TO_VIEWER
            matrix[:3, 3] = to_viewer(position)
            for part in pair:
                part.move(matrix)
        for name, wire in self.wires.items():
            wire.show(name in wires)
        for name, (line, radius, colour) in wires.items():
            self._wire(name, line, radius, colour)
        return self.scene.shot()

    def outlines(self) -> list[Array]:
        """Return the visible outlines of the teeth at the start: lines (n, 2) on the picture plane, mm."""
        from contourpy import contour_generator

        rows, columns = self.regions.shape
        left, right, bottom, top = self.extent
        x = left + (np.arange(columns) + 0.5) * (right - left) / columns
        y = top - (np.arange(rows) + 0.5) * (top - bottom) / rows
        out: list[Array] = []
        for region in np.unique(self.regions[self.regions > 0]):
            seen = self.regions == region
            box = tuple(_around(seen.any(axis=axis)) for axis in (1, 0))
            lines = contour_generator(x[box[1]], y[box[0]], seen[box].astype(float)).lines(0.5)
            out += [np.asarray(line)[::2] for line in lines if len(line) > 20]
        return out

    def _flat_shot(self, pieces: list[tuple[Mesh, ...]]) -> NDArray[np.int64]:
        """Return which part is seen where: every part in a flat colour of its own."""
        parts = [mesh for pair in pieces for mesh in pair]
        code = np.repeat(np.arange(1, len(parts) + 1), [len(m.triangles) for m in parts])
        self.scene.coded(merge(parts), np.column_stack([code, 255 - code, 0 * code]).astype(np.uint8))
        shot = decoded(self.scene.shot("#000000"))
        self.scene.clear()
        return shot

    def _tooth(self, mesh: Mesh, colour: str, sealed: bool) -> Surface:
        return self.scene.shaded(mesh, colour, ambient=0.38, diffuse=0.68, specular=0.12, sealed=sealed)

    def _wire(self, name: str, line: Array, radius: float, colour: str) -> None:
        surface, normals = tube(to_viewer(line), max(radius, LEAST_RADIUS))
        if name in self.wires:
            self.wires[name].bend(surface.vertices, normals)
        else:
            self.wires[name] = self.scene.shaded(surface, colour, ambient=0.5, diffuse=0.6, bent=True, normals=normals)


def _around(seen: NDArray[np.bool_]) -> slice:
    """Return the places (n,) from the first to the last that is seen, and one more on either side."""
    found = np.flatnonzero(seen)
    return slice(max(int(found[0]) - 1, 0), int(found[-1]) + 2)


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
    return Mesh(vertices, _skin(len(line))), out.reshape(-1, 3)


@cache
def _skin(rings: int) -> NDArray[np.int64]:
    """Return the triangles of a tube."""
    ring, side = np.meshgrid(np.arange(rings - 1), np.arange(_SIDES), indexing="ij")
    a, b = ring * _SIDES + side, ring * _SIDES + (side + 1) % _SIDES
    quads = np.stack([a, b, b + _SIDES, a + _SIDES], axis=-1).reshape(-1, 4)
    return np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])
