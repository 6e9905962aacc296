"""The embedded root as a quadratic quadrilateral surface, its nodes on the true surface.

Anatomical coordinates (mesial, buccal, apical), mm, as in biomech.tooth.roots.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.mechanics.poses import Array
from biomech.solid.grid import Grid, Index, disk, ring_radii
from biomech.tooth.roots import Paraboloid

ACROSS = 4
"""Elements along a side of the square at the apex, hence four times as many around the root."""
RINGS = 10
"""Rings of elements between that square and the crest."""
GROWTH = 1.3
"""Growth of the rings' height from the crest to the apex; at a higher fineness its square root, and so on."""


@dataclass(frozen=True, eq=False)
class RootGrid:
    """`points` (P, 3) on the root, unit `normals` (P, 3) towards the bone, `share` (P,) of the depth, `quads` (Q, 8).

    `share` is 0 at the crest and 1 at the apex.
    """

    points: Array
    normals: Array
    share: Array
    quads: Index


def root_grid(root: Paraboloid, fineness: float = 1.0) -> RootGrid:
    """Return the grid of a `root` that begins at the crest; `fineness` multiplies the elements both ways."""
    across, radii = divisions(fineness)
    flat: Grid = disk(across, radii)
    x, y = flat.points.T
    share = 1.0 - x * x - y * y
    radius = np.hypot(x, y)
    points = root.position(radius, np.arctan2(y, x))
    return RootGrid(points, normals(root, flat.points), share, flat.quads)


def divisions(fineness: float) -> tuple[int, Array]:
    """Return the elements along a side of the square and the radii of the rings, see biomech.solid.grid.disk."""
    across, rings = (max(1, round(fineness * n)) for n in (ACROSS, RINGS))
    return across, ring_radii(rings, GROWTH ** (RINGS / rings))


def normals(root: Paraboloid, place: Array) -> Array:
    """Return the outward unit normals (P, 3) of a paraboloid at places (P, 2) of the unit disk."""
    x, y = place.T
    zero = np.zeros_like(x)
    # dp/dx and dp/dy of p = centre + slope d + (a x, b y), d = length (1 - x^2 - y^2)
    down_x, down_y = -2.0 * root.length * x, -2.0 * root.length * y
    d_x = np.stack([root.slope[0] * down_x + root.a, root.slope[1] * down_x + zero, down_x], axis=-1)
    d_y = np.stack([root.slope[0] * down_y + zero, root.slope[1] * down_y + root.b, down_y], axis=-1)
    vector = np.cross(d_x, d_y)
    return np.asarray(vector / np.linalg.norm(vector, axis=-1, keepdims=True))
