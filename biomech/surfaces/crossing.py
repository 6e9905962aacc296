"""Triangles of a surface that cut through each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from biomech.mechanics.poses import Array
from biomech.tooth.meshes import Indices, Mesh

_EPS = 1e-9


def crossings(mesh: Mesh) -> Indices:
    """Return pairs (n, 2) of triangles that cut each other; those that only touch in a shared corner do not count.

    Neighbours across an edge count when one is folded back onto the other.
    """
    corner = mesh.vertices[mesh.triangles]
    pairs = _near(corner)
    shared = (mesh.triangles[pairs[:, 0]][:, :, None] == mesh.triangles[pairs[:, 1]][:, None, :]).sum(axis=(1, 2))
    folded = pairs[shared == 2]
    folded = folded[_folded(mesh, folded)]
    apart = pairs[shared < 2]
    apart = apart[_both_sides(corner, apart)]
    hit = np.zeros(len(apart), dtype=bool)
    for one, two in ((0, 1), (1, 0)):
        for k in range(3):
            start, end = corner[apart[:, one], k], corner[apart[:, one], (k + 1) % 3]
            hit |= _pierces(start, end, corner[apart[:, two]])
    return np.concatenate([apart[hit], folded])


def _near(corner: Array) -> Indices:
    """Return the pairs (n, 2) of triangles whose boxes overlap; triangles are searched by classes of size."""
    from scipy.spatial import cKDTree

    low, high = corner.min(axis=1), corner.max(axis=1)
    centre, radius = 0.5 * (low + high), 0.5 * np.linalg.norm(high - low, axis=1)
    size = np.floor(np.log2(np.maximum(radius, radius.max() * 1e-6))).astype(int)
    members = {s: np.flatnonzero(size == s) for s in np.unique(size)}
    trees = {s: cKDTree(centre[m]) for s, m in members.items()}
    found = []
    for a, mine in members.items():
        for b, theirs in members.items():
            if b < a:
                continue
            reach = radius[mine].max() + radius[theirs].max()
            if a == b:
                pairs = mine[trees[a].query_pairs(reach, output_type="ndarray")]
            else:
                near = trees[a].sparse_distance_matrix(trees[b], reach, output_type="ndarray")
                pairs = np.stack([mine[near["i"]], theirs[near["j"]]], axis=1)
            found.append(pairs)
    pairs = np.concatenate(found)
    i, j = pairs.T
    keep = ((low[i] <= high[j]) & (low[j] <= high[i])).all(axis=1)
    return np.asarray(pairs[keep])


def _both_sides(corner: Array, pairs: Indices) -> NDArray[np.bool_]:
    """Return where each triangle reaches to both sides of the other's plane, the condition of a cut."""
    out = np.ones(len(pairs), dtype=bool)
    for one, two in ((0, 1), (1, 0)):
        t = corner[pairs[:, one]]
        normal = np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0])
        side = np.einsum("ni,nki->nk", normal, corner[pairs[:, two]] - t[:, :1])
        slack = _EPS * np.linalg.norm(normal, axis=1) * np.abs(t).max()
        out &= (side.max(axis=1) > slack) & (side.min(axis=1) < -slack)
    return out


def _pierces(start: Array, end: Array, triangle: Array) -> NDArray[np.bool_]:
    """Return where the segment from start to end (n, 3) passes through the inside of triangle (n, 3, 3)."""
    way, one, two = end - start, triangle[:, 1] - triangle[:, 0], triangle[:, 2] - triangle[:, 0]
    across = np.cross(way, two)
    det = np.einsum("ni,ni->n", one, across)
    flat = np.abs(det) <= _EPS * np.linalg.norm(way, axis=1) * np.linalg.norm(np.cross(one, two), axis=1)
    inverse = 1.0 / np.where(flat, 1.0, det)
    from_corner = start - triangle[:, 0]
    u = np.einsum("ni,ni->n", from_corner, across) * inverse
    other = np.cross(from_corner, one)
    v = np.einsum("ni,ni->n", way, other) * inverse
    t = np.einsum("ni,ni->n", two, other) * inverse
    least, most = 1e-6, 1.0 - 1e-6
    return np.asarray(~flat & (u > least) & (v > least) & (u + v < most) & (t > least) & (t < most))


def _folded(mesh: Mesh, pairs: Indices) -> NDArray[np.bool_]:
    """Return which neighbours (n, 2) lie flat on each other: their planes agree, their areas overlap."""
    corner = mesh.vertices[mesh.triangles]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)
    cosine = np.einsum("ni,ni->n", normal[pairs[:, 0]], normal[pairs[:, 1]])
    return np.asarray(cosine < -1.0 + 1e-9)
