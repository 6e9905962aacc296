"""Root triangles without slivers: short edges are drawn together to one vertex.

A cut at the crest leaves needles; hexahedra grown from them would turn over.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from biomech.mechanics.poses import Array
from biomech.tooth.roots import RootMesh

PASSES = 40
"""Rounds allowed; each draws together edges that do not touch each other."""
TURN = 0.8
"""Cosine of the angle by which a triangle may turn."""


def thinned(root: RootMesh, least: float) -> RootMesh:
    """Return `root` with edges shorter than `least` mm drawn together where shape and rim allow it.

    A vertex of the rim stays on the rim; a triangle never turns by more than TURN says.
    """
    points, normals, faces = root.vertices.copy(), root.normals.copy(), root.faces.copy()
    rim = np.zeros(len(points), dtype=bool)
    rim[root.rim] = True
    for _ in range(PASSES):
        faces, changed = _round(points, normals, faces, rim, least)
        if not changed:
            break
    used, numbers = np.unique(faces, return_inverse=True)
    normals = normals[used] / np.linalg.norm(normals[used], axis=1, keepdims=True)
    return RootMesh(points[used], numbers.reshape(-1, 3), np.flatnonzero(rim[used]), normals)


def _round(points: Array, normals: Array, faces: Any, rim: Any, least: float) -> tuple[Any, bool]:
    """Draw short edges together, the shortest first, none beside another; changes points and normals in place."""
    pairs = np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    edges, count = np.unique(pairs, axis=0, return_counts=True)
    length = np.linalg.norm(points[edges[:, 0]] - points[edges[:, 1]], axis=1)
    order = np.argsort(length)
    around: dict[int, list[int]] = {}
    for number, face in enumerate(faces.tolist()):
        for vertex in face:
            around.setdefault(vertex, []).append(number)
    busy = np.zeros(len(points), dtype=bool)
    into = np.arange(len(points))
    for edge in order[length[order] < least]:
        a, b = (int(v) for v in edges[edge])
        ring = faces[sorted({*around[a], *around[b]})]
        if busy[ring].any() or not _closes(ring, a, b, int(count[edge]), rim):
            continue
        keep, drop = (b, a) if rim[b] and not rim[a] else (a, b)
        place = points[keep] if rim[keep] and not rim[drop] else 0.5 * (points[a] + points[b])
        if not _upright(points, ring, (keep, drop), place):
            continue
        points[keep], into[drop] = place, keep
        normals[keep] += normals[drop]
        busy[ring] = True
    faces = into[faces]
    whole = (faces != np.roll(faces, 1, axis=1)).all(axis=1)
    return faces[whole], bool((into != np.arange(len(into))).any())


def _closes(ring: Any, a: int, b: int, count: int, rim: Any) -> bool:
    """Return whether drawing a and b together leaves a surface: both meet no others than those of their triangles."""
    if rim[a] and rim[b] and count == 2:
        return False
    near = [set(ring[(ring == v).any(axis=1)].ravel().tolist()) - {a, b} for v in (a, b)]
    return len(near[0] & near[1]) == count


def _upright(points: Array, ring: Any, pair: tuple[int, int], place: Array) -> bool:
    """Return whether the triangles that stay face the same way with both vertices of the pair at `place`."""
    stay = ring[~(np.isin(ring, pair).sum(axis=1) == 2)]
    old = points[stay]
    new = np.where(np.isin(stay, pair)[..., None], place, old)
    before, after = (np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0]) for t in (old, new))
    size = np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
    sliver = np.linalg.norm(before, axis=1) < 1e-3
    return bool((((before * after).sum(axis=1) > TURN * size) | sliver).all())
