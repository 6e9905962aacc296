"""The 20-node serendipity hexahedron: nodes, shape functions and the 2 x 2 x 2 Gauss rule.

Nodes are numbered as in VTK and meshio ("hexahedron20"): corners of the face zeta = -1 counterclockwise, those
of zeta = +1, then the middles of the edges of the lower face, of the upper face, and of the four between them.
With the 2 x 2 x 2 rule (reduced integration) the element does not lock in a thin, nearly incompressible layer
and its stresses are best at the Gauss points; the spurious modes it has alone cannot spread in a mesh that is
held (Zienkiewicz, Taylor, Too 1971, Int J Numer Methods Eng 3:275; Barlow 1976 ibid 10:243; from memory).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from biomech.mechanics.poses import Array

CORNERS = np.array(
    [[-1, -1, -1], [1, -1, -1], [1, 1, -1], [-1, 1, -1], [-1, -1, 1], [1, -1, 1], [1, 1, 1], [-1, 1, 1]]
)
"""Places (8, 3) of the corners in the reference cube."""
EDGES = np.array(
    [[0, 1], [1, 2], [2, 3], [3, 0], [4, 5], [5, 6], [6, 7], [7, 4], [0, 4], [1, 5], [2, 6], [3, 7]]
)
"""Corners (12, 2) of the edges, in the order of their middle nodes."""
NODES = np.concatenate([CORNERS, CORNERS[EDGES].sum(axis=1) // 2])
"""Places (20, 3) of all nodes in the reference cube."""


def shapes(points: Array) -> Array:
    """Return the shape functions (..., 20) at `points` (..., 3) of the reference cube."""
    x = np.asarray(points, dtype=np.float64)[..., None, :]
    factor = 1.0 + x * NODES  # 1 + xi xi_a; the edge nodes have one coordinate 0, replaced below
    corner = 0.125 * factor[..., :8, :].prod(axis=-1) * ((x * CORNERS).sum(axis=-1) - 2.0)
    bubble = np.where(NODES == 0, 1.0 - x * x, factor)
    return np.concatenate([corner, 0.25 * bubble[..., 8:, :].prod(axis=-1)], axis=-1)


def derivatives(points: Array) -> Array:
    """Return the derivatives (..., 20, 3) of the shape functions along the three axes of the cube."""
    x = np.asarray(points, dtype=np.float64)[..., None, :]
    factor = np.where(NODES == 0, 1.0 - x * x, 1.0 + x * NODES)
    slope = np.where(NODES == 0, -2.0 * x, np.broadcast_to(NODES, factor.shape))
    out = np.empty(factor.shape)
    total = (x * CORNERS).sum(axis=-1) - 2.0
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        others = factor[..., j] * factor[..., k]
        out[..., 8:, i] = 0.25 * (slope[..., i] * others)[..., 8:]
        own = slope[..., :8, i] * total + factor[..., :8, i] * CORNERS[:, i]
        out[..., :8, i] = 0.125 * own * others[..., :8]
    return out


@lru_cache(maxsize=8)
def gauss(order: int = 2) -> tuple[Array, Array]:
    """Return points (order^3, 3) and weights (order^3,) of the product rule; the last axis runs fastest."""
    node, weight = np.polynomial.legendre.leggauss(order)
    points = np.stack(np.meshgrid(node, node, node, indexing="ij"), axis=-1).reshape(-1, 3)
    weights = np.einsum("i,j,k->ijk", weight, weight, weight).ravel()
    for array in (points, weights):
        array.setflags(write=False)
    return points, weights
