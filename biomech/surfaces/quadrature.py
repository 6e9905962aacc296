"""Quadrature of a triangulated root: few points that carry the springs' stiffness of all its triangles.

Three points on every triangle, thousands in all, would make a law that is not linear pay for each of them at every
step. So the root is divided into regions of similar place and direction, and in each the smallest set of its points
is taken, with positive weights, that has the same area and the same 6x6 of springs along the normals and of equal
springs in all directions as all of them (non-negative least squares, whose solutions have no more points than
conditions; the idea of Caratheodory's theorem). Normals are those of the vertices, interpolated: a facet's own would
resist turning a round root about its axis.
"""

from __future__ import annotations

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.surfaces.topology import face_vectors
from biomech.tooth.meshes import Indices, Mesh
from biomech.tooth.roots import RootMesh, Surface
from biomech.tooth.support import motion_matrix

REGIONS = 12
"""Regions of a root; each keeps some 15 points."""
CLOSE = 1e-6
"""What the stiffnesses of the few points may differ from those of the triangles, share of the diagonal's size."""
_TURN = 3.0  # mm of distance that a full change of normal counts as, when regions are formed
_UPPER = np.triu_indices(6)


def full_surface(root: RootMesh) -> Surface:
    """Return three points on every triangle, exact for polynomials of degree two on each, with smooth normals."""
    mesh = Mesh(root.vertices, root.faces)
    area = np.linalg.norm(face_vectors(mesh), axis=1)
    corner, normal = mesh.vertices[mesh.triangles], root.normals[mesh.triangles]
    middle = 0.5 * (corner + corner[:, [1, 2, 0]])
    normals = (normal + normal[:, [1, 2, 0]]).reshape(-1, 3)
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-300)
    return Surface(middle.reshape(-1, 3), normals, np.repeat(area / 3.0, 3))


def root_surface(root: RootMesh, regions: int = REGIONS) -> Surface:
    """Return the quadrature of a root, see the module: the points of `regions` parts, each with its own few."""
    full = full_surface(root)
    if not full.area > 0.0:
        raise InputError("the embedded root has no area")
    centre = full.weights @ full.points / full.area
    size = float(np.sqrt(full.weights @ ((full.points - centre) ** 2).sum(axis=1) / full.area))
    moments = _moments(full, centre, size) * (full.weights / full.area)
    points, weights = [], []
    for part in _regions(full, regions):
        keep, share = _fewest(moments[:, part])
        points.append(part[keep])
        weights.append(full.weights[part[keep]] * share)
    kept, weight = np.concatenate(points), np.concatenate(weights)
    if np.abs(moments[:, kept] @ (weight / full.weights[kept]) - moments.sum(axis=1)).max() > CLOSE:
        return full
    return Surface(full.points[kept], full.normals[kept], weight)


def _moments(surface: Surface, centre: Array, size: float) -> Array:
    """Return what each point adds per unit weight to the area and the two stiffnesses (43, P), about `centre`.

    Lengths are divided by `size`, so that all are of one magnitude.
    """
    b = motion_matrix((surface.points - centre) / size)
    along = np.einsum("pi,pia->pa", surface.normals, b)
    isotropic = np.einsum("pia,pib->pab", b, b)[:, _UPPER[0], _UPPER[1]]
    normal = along[:, _UPPER[0]] * along[:, _UPPER[1]]
    return np.concatenate([np.ones((1, len(b))), isotropic.T, normal.T])


def _fewest(moments: Array) -> tuple[Indices, Array]:
    """Return few points of a region (43, P), and by what their weights grow, so that its moments stay the same."""
    from scipy.optimize import nnls

    basis, size, _ = np.linalg.svd(moments, full_matrices=False)
    rank = int(np.sum(size > 1e-2 * CLOSE))
    reduced = basis[:, :rank].T @ moments
    scale = np.linalg.norm(reduced, axis=0).max()
    try:
        share, _ = nnls(reduced / scale, reduced.sum(axis=1) / scale, maxiter=20 * reduced.shape[1])
    except RuntimeError:  # no end within the iterations allowed: all points stay
        return np.arange(moments.shape[1]), np.ones(moments.shape[1])
    keep = np.flatnonzero(share)
    return keep, share[keep]


def _regions(surface: Surface, count: int) -> list[Indices]:
    """Return the points of each region: halved again and again, by area, across the widest direction."""
    place = np.concatenate([surface.points, _TURN * surface.normals], axis=1)
    parts = [np.arange(len(place))]
    while len(parts) < count:
        at = int(np.argmax([surface.weights[p].sum() if len(p) > 1 else 0.0 for p in parts]))
        part = parts.pop(at)
        axis = int(np.ptp(place[part], axis=0).argmax())
        order = part[np.argsort(place[part, axis], kind="stable")]
        area = np.cumsum(surface.weights[order])
        half = int(np.clip(np.searchsorted(area, 0.5 * area[-1]), 1, len(order) - 1))
        parts += [order[:half], order[half:]]
    return parts
