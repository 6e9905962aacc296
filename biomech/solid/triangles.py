"""The grid of a root given as triangles: each curved triangle becomes three quadrilaterals.

Curved after the vertex normals as in biomech.tooth.layer.triangles.
"""

from __future__ import annotations

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.solid.grid import joined
from biomech.solid.kernel import strain_matrices
from biomech.solid.mesh import SolidMesh, ligament_mesh
from biomech.solid.surface import RootGrid
from biomech.solid.thinning import thinned
from biomech.tooth.layer.supports import Profile
from biomech.tooth.layer.triangles import triangle_layer
from biomech.tooth.roots import RootMesh

SHORTEST = (0.35, 0.5, 0.7)
"""Lengths of an edge, mm, below which it is drawn together: the first that leaves a sound solid."""

_CORNERS = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.5, 0.0], [0.5, 0.5], [0.0, 0.5], [1 / 3, 1 / 3]])
_QUADS = np.array([[0, 3, 6, 5], [1, 4, 6, 3], [2, 5, 6, 4]])


def triangle_mesh(root: RootMesh, profile: Profile) -> SolidMesh:
    """Return the ligament over a root given as triangles, see `triangle_grid`, one element thick.

    Raises InputError naming an element that no thinning turns the right way out.
    """
    for shortest in SHORTEST:
        mesh = ligament_mesh(triangle_grid(root, profile, shortest), profile, 1)
        try:
            strain_matrices(mesh.points, mesh.hexes)
        except InputError:
            if shortest == SHORTEST[-1]:
                raise
        else:
            break
    return mesh


def triangle_grid(root: RootMesh, profile: Profile, shortest: float) -> RootGrid:
    """Return the grid of a `root` whose vertices lie in the middle of the ligament, anatomical coordinates.

    Its points lie half a thickness inside that, on the root; edges are drawn together below `shortest` mm.
    Raises InputError as `triangle_layer` does.
    """
    root = thinned(root, shortest)
    layer = triangle_layer(root, lambda points: np.full(len(points), profile.mean), np.inf, curved=True)
    nodes = layer.points[layer.blocks[0].nodes]  # (F, 6, 3)
    place = _CORNERS[_QUADS]  # (3, 4, 2)
    place = np.concatenate([place, 0.5 * (place + np.roll(place, -1, axis=1))], axis=1).reshape(-1, 2)
    value, slope = _quadratic(place)
    points = np.einsum("pa,fai->fpi", value, nodes).reshape(-1, 3)
    tangent = np.einsum("pda,fai->fpdi", slope, nodes)
    vector = np.cross(tangent[:, :, 0], tangent[:, :, 1]).reshape(-1, 3)
    first, number = joined(points)
    normals = np.zeros((len(first), 3))
    np.add.at(normals, number, vector)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    middle = points[first]
    depth = middle[:, 2]
    share = (depth - depth.min()) / (depth.max() - depth.min())
    inner = middle - 0.5 * profile.at(share)[:, None] * normals
    return RootGrid(inner, normals, share, number.reshape(-1, 8))


def _quadratic(place: Array) -> tuple[Array, Array]:
    """Return shape functions (P, 6) and slopes (P, 2, 6) of the six-node triangle: corners, middles of 01, 12, 20."""
    b = np.column_stack([1.0 - place.sum(axis=1), place])
    db = np.array([[-1.0, 1.0, 0.0], [-1.0, 0.0, 1.0]])
    following = np.roll(b, -1, axis=1)
    value = np.concatenate([b * (2.0 * b - 1.0), 4.0 * b * following], axis=1)
    corner = (4.0 * b - 1.0)[:, None, :] * db
    edge = 4.0 * (b[:, None, :] * np.roll(db, -1, axis=1) + following[:, None, :] * db)
    return value, np.concatenate([corner, edge], axis=2)
