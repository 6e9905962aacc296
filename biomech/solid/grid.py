"""Quadrilateral grids with middle nodes: the unit disk without a degenerate pole.

The unit disk is a rounded square of n x n quadrilaterals within four fans of rings (an O-grid). A root is the
image of the disk, its apex that of the middle, its rim that of the circle: see biomech.solid.surface.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from biomech.errors import InputError
from biomech.mechanics.poses import Array

Index = NDArray[np.integer[Any]]
"""Numbers of nodes, elements or unknowns."""
CORE = 0.25
"""Radius of the square in the middle of the disk, where its sides are farthest from its centre."""
ROUND = 0.5
"""How far the square is rounded, 0 (straight sides) to 1 (a circle, whose corners would be flat)."""


@dataclass(frozen=True, eq=False)
class Grid:
    """Quadratic quadrilaterals: `points` (P, D), `quads` (Q, 8): corners counterclockwise, then middles."""

    points: Array
    quads: Index


def disk(across: int, radii: Array) -> Grid:
    """Return the O-grid of the unit disk: `across` quadrilaterals along each side of its square.

    `radii` (2 n + 1,): distances, CORE to 1, of the n rings' edges and middles, ascending, from the square to
    the circle. Every point has its own number once.
    """
    square = core(across)
    return merged([square, *fans(across, radii)])


def fans(across: int, radii: Array) -> list[Array]:
    """Return the lattices (2 n + 1, 2 across + 1, 2) of the four fans: mesial, buccal, distal, lingual; see `disk`."""
    square = core(across)
    angle = np.linspace(-0.25 * np.pi, 0.25 * np.pi, 2 * across + 1)
    circle = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    share = ((radii - CORE) / (1.0 - CORE))[:, None, None]
    fan = (1.0 - share) * square[-1] + share * circle
    return [fan @ np.array([[c, s], [-s, c]]) for c, s in ((1, 0), (0, 1), (-1, 0), (0, -1))]


def core(across: int) -> Array:
    """Return the lattice (2 across + 1, 2 across + 1, 2) of the rounded square in the middle of the disk."""
    if across < 1:
        raise InputError(f"solid mesh: {across} elements across the apex; allowed: 1, 2, 3 ...")
    line = np.linspace(-1.0, 1.0, 2 * across + 1)
    x, y = np.meshgrid(line, line, indexing="ij")
    bend = 0.5 * ROUND
    return CORE * np.stack([x * np.sqrt(1.0 - bend * y * y), y * np.sqrt(1.0 - bend * x * x)], axis=-1)


def ring_radii(rings: int, growth: float) -> Array:
    """Return `radii` for `disk`: rings whose height along the root grows apically by `growth` each.

    The depth of a paraboloid is proportional to 1 - radius^2; the rim, where pressure falls to zero within
    about a millimetre, gets the lowest rings.
    """
    height = growth ** np.arange(rings)
    depth = np.concatenate([[0.0], np.cumsum(height)]) / height.sum() * (1.0 - CORE**2)
    edges = np.sqrt(1.0 - depth)[::-1]
    out = np.empty(2 * rings + 1)
    out[::2] = edges
    out[1::2] = 0.5 * (edges[1:] + edges[:-1])
    return out


def merged(blocks: list[Array]) -> Grid:
    """Return one grid of lattices (2 m + 1, 2 n + 1, D) that share their borders."""
    quads, points, start = [], [], 0
    for block in blocks:
        rows, columns = block.shape[:2]
        number = np.arange(rows * columns).reshape(rows, columns) + start
        quads.append(lattice_quads(number))
        points.append(block.reshape(rows * columns, -1))
        start += rows * columns
    all_points, all_quads = np.concatenate(points), np.concatenate(quads)
    first, place = joined(all_points)
    used, numbers = np.unique(place[all_quads], return_inverse=True)  # without the middles of the quadrilaterals
    return Grid(all_points[first[used]], numbers.reshape(all_quads.shape))


def joined(points: Array, tolerance: float = 1e-7) -> tuple[Index, Index]:
    """Return (kept, place): numbers of the distinct `points` (P, D), and of each point among those (P,)."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    pairs = cKDTree(points).query_pairs(tolerance, output_type="ndarray")
    count = len(points)
    graph = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    _, label = connected_components(graph, directed=False)
    _, first, place = np.unique(label, return_index=True, return_inverse=True)
    return first, place.ravel()


def lattice_quads(number: Index) -> Index:
    """Return the quadrilaterals (Q, 8) of a lattice (2 m + 1, 2 n + 1) of point numbers."""
    low, high, middle = slice(None, -2, 2), slice(2, None, 2), slice(1, None, 2)
    parts = ((low, low), (high, low), (high, high), (low, high),
             (middle, low), (high, middle), (middle, high), (low, middle))  # fmt: skip
    return np.stack([number[part].ravel() for part in parts], axis=-1)
