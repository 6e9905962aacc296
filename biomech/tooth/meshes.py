"""Triangulated crowns and roots, for pictures and files. Triangles turn anticlockwise seen from outside."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from biomech.mechanics.poses import Array
from biomech.tooth.crown import Crown
from biomech.tooth.roots import Paraboloid, Trunk

Indices = NDArray[np.int64]
_ROOF = 1.5  # mm, height of the drawn dome below the furcation


class Mesh(NamedTuple):
    """Vertices (V, 3) in mm and triangles (F, 3) of vertex indices, anticlockwise seen from outside."""

    vertices: Array
    triangles: Indices

    def mapped(self, signs: Array) -> Mesh:
        """Return the mesh with coordinates multiplied by `signs` (3,); triangles keep facing outwards."""
        triangles = self.triangles if np.prod(signs) > 0 else self.triangles[:, ::-1]
        return Mesh(self.vertices * signs, triangles.copy())


def merge(meshes: list[Mesh]) -> Mesh:
    """Return one mesh holding several."""
    shifts = np.cumsum([0] + [len(m.vertices) for m in meshes[:-1]])
    triangles = [m.triangles + shift for m, shift in zip(meshes, shifts, strict=True)]
    return Mesh(np.concatenate([m.vertices for m in meshes]), np.concatenate(triangles))


def thinned(mesh: Mesh, spacing: float) -> Mesh:
    """Return a coarser mesh for pictures: vertices within a cube of `spacing` mm become their mean.

    A mesh whose edges are no shorter than that on average is returned as it is.
    """
    corner = mesh.vertices[mesh.triangles]
    if not len(corner) or np.linalg.norm(corner[:, 1] - corner[:, 0], axis=1).mean() >= spacing:
        return mesh
    cell = np.floor((mesh.vertices - mesh.vertices.min(axis=0)) / spacing).astype(np.int64)
    _, group = np.unique(cell, axis=0, return_inverse=True)
    group = group.ravel()
    count = np.bincount(group)
    vertices = np.stack([np.bincount(group, weights=x) / count for x in mesh.vertices.T], axis=1)
    triangles = group[mesh.triangles]
    a, b, c = triangles.T
    triangles = triangles[(a != b) & (b != c) & (c != a)]
    _, first = np.unique(np.sort(triangles, axis=1), axis=0, return_index=True)
    return Mesh(vertices, triangles[np.sort(first)])


def crown_mesh(crown: Crown, around: int = 48) -> Mesh:
    """Return the crown in (mesial, buccal, occlusal), open at the cemento-enamel junction.

    Walls rise from the cervix to the rim of the occlusal table (posterior teeth) or to the incisal edge; the
    table is closed by shrinking rings whose height follows the cusps.
    """
    angle = _turn(around)
    rim = _ring(crown, np.ones(around), angle)
    top = crown.table(rim[:, 0], rim[:, 1])
    rings = []
    for share in np.linspace(0.0, 1.0, 17):
        ring = _ring(crown, np.full(around, share), angle)
        rings.append(np.column_stack([ring, crown.length * share * top]))
    for share in (0.88, 0.76, 0.64, 0.52, 0.40, 0.28, 0.16):
        flat = share * rim
        rings.append(np.column_stack([flat, crown.length * crown.table(flat[:, 0], flat[:, 1])]))
    centre = np.array([0.0, 0.0, crown.length * float(crown.table(np.zeros(1), np.zeros(1))[0])])
    return _loft(np.array(rings), centre)


def root_mesh(trunk: Trunk | None, roots: tuple[Paraboloid, ...], around: int = 32) -> Mesh:
    """Return the root in (mesial, buccal, apical), open at the cemento-enamel junction."""
    angle = _turn(around)
    parts = []
    if trunk is not None:
        parts.append(_trunk_mesh(trunk, angle))
    for root in roots:
        s = np.sin(0.5 * np.pi * np.linspace(1.0, 0.0, 14)[:-1])
        rings = np.array([root.position(np.full(around, x), angle) for x in s])
        parts.append(_loft(rings, root.apex))
    return merge(parts)


def _trunk_mesh(trunk: Trunk, angle: Array) -> Mesh:
    """Return the wall of the trunk with a rounded roof of the furcation (for the eye only)."""
    turn = np.column_stack([np.cos(angle), np.sin(angle)])
    rings = []
    for depth in np.linspace(trunk.top, trunk.bottom, 6):
        rings.append(np.column_stack([np.array(trunk.half_axes(depth)) * turn, np.full(len(angle), depth)]))
    for share in np.linspace(0.0, 1.0, 8)[1:-1]:
        dome = np.cos(0.5 * np.pi * share), trunk.bottom + _ROOF * np.sin(0.5 * np.pi * share)
        rings.append(np.column_stack([dome[0] * np.array(trunk.lower) * turn, np.full(len(angle), dome[1])]))
    return _loft(np.array(rings), np.array([0.0, 0.0, trunk.bottom + _ROOF]))


def _turn(around: int) -> Array:
    """Return `around` equally spaced angles."""
    return np.linspace(0.0, 2.0 * np.pi, around, endpoint=False, dtype=np.float64)


def _ring(crown: Crown, height: Array, angle: Array) -> Array:
    """Return the outline (n, 2) at `height`: a superellipse, rounder at the cervix than at the top."""
    facial, lingual, half = crown.outline(height)
    power = 2.0 / (2.0 + 1.2 * np.clip(2.0 * height, 0.0, 1.0))
    c, s = np.cos(angle), np.sin(angle)
    mesial = half * np.sign(c) * np.abs(c) ** power
    buccal = np.where(s > 0, facial, lingual) * np.sign(s) * np.abs(s) ** power
    return np.column_stack([mesial, buccal])


def _loft(rings: Array, end: Array) -> Mesh:
    """Join rings (R, n, 3) into a wall and close the last one to the point `end`.

    Seen against the direction of growth the rings turn anticlockwise, so that triangles face outwards.
    """
    count, around = rings.shape[:2]
    vertices = np.concatenate([rings.reshape(-1, 3), end[None]])
    here = np.arange(around)
    after = np.roll(here, -1)
    faces = []
    for k in range(count - 1):
        low, high = k * around, (k + 1) * around
        faces.append(np.column_stack([low + here, low + after, high + after]))
        faces.append(np.column_stack([low + here, high + after, high + here]))
    last = (count - 1) * around
    faces.append(np.column_stack([last + here, last + after, np.full(around, len(vertices) - 1)]))
    return Mesh(vertices, np.concatenate(faces).astype(np.int64))
