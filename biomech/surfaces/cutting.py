"""Cutting a surface where a height over space is zero: exactly through its triangles."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from biomech.mechanics.poses import Array
from biomech.surfaces.topology import compact, edges_of
from biomech.tooth.meshes import Indices, Mesh

Height = Callable[[Array], Array]
"""Signed height (...) in mm of points (..., 3) over a plane or another surface, positive on the side kept."""


class Section(NamedTuple):
    """What a plane cuts out of a closed mesh: `area` mm2, `centre` (3,), and the `segments` (n, 2, 3) of its rim."""

    area: float
    centre: Array
    segments: Array


def clipped(mesh: Mesh, height: Height) -> Mesh:
    """Return the part of a mesh where `height` is positive; the new rim lies on its zero surface.

    Vertices within 1e-7 of the mesh's extent of the zero surface count as on it. May be empty.
    """
    return clipped_with(mesh, height, np.zeros((len(mesh.vertices), 0)))[0]


def clipped_with(mesh: Mesh, height: Height, values: Array) -> tuple[Mesh, Array]:
    """Return what `clipped` does, and `values` (V, n) at its vertices, straight along the edges that are cut."""
    value = np.asarray(height(mesh.vertices), dtype=np.float64)
    value = np.where(np.abs(value) < 1e-7 * np.ptp(mesh.vertices, axis=0).max(), 0.0, value)
    below = value < 0.0
    drowned = below[mesh.triangles]
    whole = mesh.triangles[~drowned.any(axis=1)]
    cut = mesh.triangles[drowned.any(axis=1) & (value[mesh.triangles] > 0.0).any(axis=1)]
    turned = _turned(cut, below)
    two = below[turned[:, 2]]  # corners: 0 above, 1 below, 2 either
    points, new, ends = _crossings(mesh.vertices, value, turned, two, height, values)
    a, c = turned[:, 0], turned[:, 2]
    p, q = ends
    faces = [whole, np.stack([a, p, q], axis=1)[two]]
    faces += [np.stack([a, p, q], axis=1)[~two], np.stack([a, q, c], axis=1)[~two]]
    triangles = np.concatenate(faces)
    x, y, z = triangles.T
    triangles = triangles[(x != y) & (y != z) & (z != x)]
    used = np.unique(triangles)
    every = np.concatenate([values, new])[used]
    if not len(triangles):
        return Mesh(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)), every
    return compact(Mesh(np.concatenate([mesh.vertices, points]), triangles)), every


def _turned(cut: Indices, below: NDArray[np.bool_]) -> Indices:
    """Return triangles (n, 3), turned so that corner 0 is above and corner 1 below; corner 2 either."""
    out = cut.copy()
    for k in range(3):
        first, second = below[cut[:, k]], below[cut[:, (k + 1) % 3]]
        rows = ~first & second
        out[rows] = cut[rows][:, [k, (k + 1) % 3, (k + 2) % 3]]
    return out


def _crossings(
    points: Array, value: Array, turned: Indices, two: NDArray[np.bool_], height: Height, values: Array
) -> tuple[Array, Array, tuple[Indices, Indices]]:
    """Return new points, the values there, and for each triangle the numbers of those on its two cut edges."""
    other = np.where(two[:, None], turned[:, [0, 2]], turned[:, [2, 1]])  # above first
    edges = np.concatenate([turned[:, :2], other])
    unique, number = np.unique(edges, axis=0, return_inverse=True)
    number = number.ravel()
    high, low = unique.T
    share = _zeros(points[high], points[low], value[high], value[low], height)[:, None]
    new, carried = ((1.0 - share) * x[high] + share * x[low] for x in (points, values))
    at = np.where(value[unique[:, 0]] == 0.0, unique[:, 0], len(points) + np.arange(len(unique)))
    index = at[number]
    return new, carried, (index[: len(turned)], index[len(turned) :])


def _zeros(high: Array, low: Array, above: Array, below: Array, height: Height) -> Array:
    """Return the shares of edges at which the height vanishes, by the false position method (one step for planes)."""
    left, right = np.zeros(len(high)), np.ones(len(high))
    share = np.zeros(len(high))
    for _ in range(30):
        share = left + (right - left) * above / np.maximum(above - below, 1e-300)
        point = high + share[:, None] * (low - high)
        value = np.asarray(height(point)) if len(point) else np.zeros(0)
        if not len(value) or np.abs(value).max() < 1e-10:
            break
        up = value > 0.0
        left, above = np.where(up, share, left), np.where(up, value, 0.5 * above)
        right, below = np.where(up, right, share), np.where(up, 0.5 * below, value)
    return share


def rim_of(mesh: Mesh) -> Indices:
    """Return the vertices (R,) on the open edges of a mesh, in rising order."""
    directed, _, count = edges_of(mesh.triangles)
    return np.unique(directed[count == 1])


def section(mesh: Mesh, point: Array, normal: Array) -> Section:
    """Return what the plane through `point` across the unit `normal` cuts out of a closed mesh; area 0 if nothing."""
    value = (mesh.vertices - point) @ normal
    value = np.where(np.abs(value) < 1e-12, 1e-12, value)
    v = value[mesh.triangles]
    cut = mesh.triangles[(v < 0.0).any(axis=1) & (v > 0.0).any(axis=1)]
    if not len(cut):
        return Section(0.0, np.array(point, dtype=np.float64), np.zeros((0, 2, 3)))
    segments = np.array([_ends(mesh, value, cut, k) for k in range(2)]).swapaxes(0, 1)
    arm = segments - point
    share = 0.5 * np.cross(arm[:, 0], arm[:, 1]) @ normal
    area = float(share.sum())
    if abs(area) < 1e-12:
        return Section(0.0, np.array(point, dtype=np.float64), segments)
    centre = point + (share[:, None] * arm.sum(axis=1) / 3.0).sum(axis=0) / area
    return Section(abs(area), np.asarray(centre), segments)


def _ends(mesh: Mesh, value: Array, cut: Indices, end: int) -> Array:
    """Return the point (n, 3) where each triangle's boundary leaves (end 0) or enters (1) the positive side."""
    out = np.zeros((len(cut), 3))
    for k in range(3):
        i, j = cut[:, k], cut[:, (k + 1) % 3]
        rows = (value[i] > 0.0) & (value[j] < 0.0) if end == 0 else (value[i] < 0.0) & (value[j] > 0.0)
        share = value[i] / np.where(rows, value[i] - value[j], 1.0)
        point = mesh.vertices[i] + share[:, None] * (mesh.vertices[j] - mesh.vertices[i])
        out[rows] = point[rows]
    return out


def nearest_on(mesh: Mesh, point: Array) -> tuple[Array, float]:
    """Return the point (3,) of the surface nearest to `point` (3,), and its distance, mm."""
    a, b, c = (mesh.vertices[mesh.triangles[:, k]] for k in range(3))
    candidates = [_on_segment(a, b, point), _on_segment(b, c, point), _on_segment(c, a, point)]
    normal = np.cross(b - a, c - a)
    size = np.maximum(np.einsum("fi,fi->f", normal, normal), 1e-300)
    foot = point - (np.einsum("fi,fi->f", point - a, normal) / size)[:, None] * normal
    inside = np.ones(len(a), dtype=bool)
    for p, q in ((a, b), (b, c), (c, a)):
        inside &= np.einsum("fi,fi->f", np.cross(q - p, foot - p), normal) >= 0.0
    candidates.append(foot[inside])
    every = np.concatenate(candidates)
    far = np.linalg.norm(every - point, axis=1)
    best = int(far.argmin())
    return every[best], float(far[best])


def _on_segment(start: Array, end: Array, point: Array) -> Array:
    way = end - start
    length = np.maximum(np.einsum("fi,fi->f", way, way), 1e-300)
    share = np.clip(np.einsum("fi,fi->f", point - start, way) / length, 0.0, 1.0)
    return np.asarray(start + share[:, None] * way)
