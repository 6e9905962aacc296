"""The middle of the ligament: the root's surface moved outwards by half the ligament's thickness."""

from __future__ import annotations

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.surfaces.crossing import crossings
from biomech.surfaces.topology import Ruler, edges_of, face_vectors
from biomech.tooth.meshes import Indices, Mesh

_ROUNDS = 8  # of smoothing directions where the moved surface would fold


def vertex_normals(mesh: Mesh) -> Array:
    """Return outward unit normals (V, 3), the triangles' normals weighted by their angle at the vertex.

    The weighting by angle does not depend on how a flat part is triangulated (Thuermer and Wuethrich 1998, from
    memory).
    """
    face = face_vectors(mesh)
    face = face / np.maximum(np.linalg.norm(face, axis=1, keepdims=True), 1e-300)
    out = np.zeros_like(mesh.vertices)
    for k in range(3):
        here = mesh.vertices[mesh.triangles[:, k]]
        one, two = (mesh.vertices[mesh.triangles[:, (k + i) % 3]] - here for i in (1, 2))
        angle = np.arctan2(np.linalg.norm(np.cross(one, two), axis=1), np.einsum("fi,fi->f", one, two))
        for axis in range(3):
            out[:, axis] += np.bincount(mesh.triangles[:, k], angle * face[:, axis], len(out))
    return np.asarray(out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-300))


def moved_out(mesh: Mesh, by: float, place: Array, ruler: Ruler) -> tuple[Mesh, list[str]]:
    """Return the mesh moved outwards by `by` mm along its vertex normals, and a note when creases were smoothed.

    `place` (V, 3): where the vertices lie in the file, mm, for messages. Where triangles would turn over because the
    surface is more sharply hollow than `by`, the directions of moving are smoothed over the neighbours. Raises
    InputError with the place when that does not help or the moved surface cuts through itself.
    """
    way = vertex_normals(mesh)
    first = face_vectors(mesh)
    least = np.einsum("fi,fi->f", first, first)
    smoothed = np.zeros(len(way), dtype=bool)
    for _ in range(_ROUNDS):
        moved = Mesh(mesh.vertices + by * way, mesh.triangles)
        turned = np.einsum("fi,fi->f", face_vectors(moved), first) <= 1e-3 * least
        if not turned.any():
            break
        rows = _around(mesh.triangles, np.unique(mesh.triangles[turned]))
        way = np.where(rows[:, None], _smoothed(mesh.triangles, way), way)
        smoothed |= rows
    else:
        at = ruler.at(place[mesh.triangles[turned]].reshape(-1, 3)[0])
        raise InputError(
            f"the middle of the ligament, {by:g} mm outside the root, folds over at {at}: the surface is creased or "
            "rough there; smooth it, or give a thinner ligament"
        )
    pairs = crossings(moved)
    if len(pairs):
        at = ruler.at(place[mesh.triangles[pairs[0]]].reshape(-1, 3).mean(axis=0))
        raise InputError(
            f"the middle of the ligament, {by:g} mm outside the root, cuts through itself at {at}: roots or folds of "
            "the surface lie closer together there than the ligament is thick"
        )
    if not smoothed.any():
        return moved, []
    at = ruler.at(place[smoothed].mean(axis=0))
    return moved, [f"creases sharper than {by:g} mm were bridged by the ligament near {at}"]


def _around(triangles: Indices, vertices: Indices) -> Array:
    """Return which vertices are among the given ones or share a triangle with them."""
    mark = np.zeros(int(triangles.max()) + 1, dtype=bool)
    mark[vertices] = True
    mark[triangles[mark[triangles].any(axis=1)]] = True
    return mark


def _smoothed(triangles: Indices, way: Array) -> Array:
    """Return each direction (V, 3) averaged with those of its neighbours, of unit length."""
    directed, _, _ = edges_of(triangles)
    out = way.copy()
    for axis in range(3):
        out[:, axis] += np.bincount(directed[:, 0], way[directed[:, 1], axis], len(way))
    return np.asarray(out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-300))
