"""Meshes of handbook roots: rings of curved elements around, finer towards the crest, closed at the apex."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from biomech.mechanics.poses import Array
from biomech.tooth.layer.mesh import Block, Indices
from biomech.tooth.roots import Paraboloid, Trunk

GROWTH = 2.5
"""Ratio of the heights of neighbouring rings near the crest, where the pressure rises over a length often below t."""

Thickness = Callable[[Array], Array]
"""Thickness (...) mm of the layer at points (..., 3) of a root, anatomical coordinates."""


@dataclass(frozen=True, eq=False)
class Patch:
    """A piece of mesh: `points` (N, 3) in the middle of the layer, `thickness` (N,), elements, and its end rings.

    `upper`, `lower` (2 around,): nodes of the ring towards the crest and, for a trunk, of that towards the apex.
    """

    points: Array
    thickness: Array
    blocks: tuple[Block, ...]
    upper: Indices
    lower: Indices | None = None


def root_patch(root: Paraboloid, thickness: Thickness, edge: float, around: int, bulk: int) -> Patch:
    """Return the mesh of a root: `around` elements on the circumference, `bulk` rings and more towards its rim.

    `edge`: height of the ring next to the rim, mm. Points lie half a thickness off the root along its normal.
    """
    rim_slope = float(np.hypot(2 * root.length, max(root.a, root.b)))
    bounds = 1.0 - graded(edge / rim_slope, bulk)[::-1]  # in the radius parameter, apex first
    s = np.empty(2 * len(bounds) - 1)
    s[::2], s[1::2] = bounds, 0.5 * (bounds[1:] + bounds[:-1])
    turn = np.arange(2 * around) * np.pi / around
    ring, place = np.meshgrid(s[2:], turn, indexing="ij")
    radius = np.concatenate([[0.0], np.full(around, s[1]), ring.ravel()])
    angle = np.concatenate([[0.0], turn[::2], place.ravel()])
    points, t = _off(root.position(radius, angle), root.outward(radius, angle), thickness)
    nodes = 1 + around + np.arange(ring.size).reshape(ring.shape)
    quads = Block(_quads(nodes.T, closed=True))
    here = np.arange(around)
    after = (here + 1) % around
    fan = [np.zeros_like(here), nodes[0, ::2], nodes[0, ::2][after], 1 + here, nodes[0, 1::2], 1 + after]
    return Patch(points, t, (Block(np.stack(fan, axis=1)), quads), nodes[-1])


def trunk_patch(trunk: Trunk, thickness: Thickness, edge: float, around: int, bulk: int) -> Patch:
    """Return the mesh of the wall of a trunk, see `root_patch`."""
    bounds = graded(edge / (trunk.bottom - trunk.top), bulk)
    x = np.empty(2 * len(bounds) - 1)
    x[::2], x[1::2] = bounds, 0.5 * (bounds[1:] + bounds[:-1])
    turn = np.arange(2 * around) * np.pi / around
    share, angle = np.meshgrid(x, turn, indexing="ij")
    nodes = np.arange(share.size).reshape(share.shape)
    points, t = _off(trunk.position(share, angle), trunk.outward(share, angle), thickness)
    wall = Block(_quads(nodes[::-1].T, closed=True))
    return Patch(points.reshape(-1, 3), t.ravel(), (wall,), nodes[0], nodes[-1])


def graded(edge: float, bulk: int) -> Array:
    """Return boundaries of rings from 0 (the rim) to 1: the first `edge` high, growing to 1 / `bulk`."""
    sizes = [min(edge, 1.0 / bulk)]
    while sizes[-1] * GROWTH < 1.0 / bulk and sum(sizes) < 0.5:
        sizes.append(sizes[-1] * GROWTH)
    start = sum(sizes)
    count = max(int(np.ceil((1.0 - start) * bulk)), 1)
    return np.concatenate([[0.0], np.cumsum(sizes), np.linspace(start, 1.0, count + 1)[1:]])


def _off(points: Array, outward: Array, thickness: Thickness) -> tuple[Array, Array]:
    """Return the points moved to the middle of the layer, and its thickness there."""
    t = thickness(points)
    normal = outward / np.linalg.norm(outward, axis=-1, keepdims=True)
    return points + 0.5 * t[..., None] * normal, t


def _quads(nodes: Indices, *, closed: bool) -> Indices:
    """Return the quadrilaterals (E, 9) of a grid of nodes (m, n), by twos; `closed`: around the first axis."""
    first = np.arange(0, nodes.shape[0] if closed else nodes.shape[0] - 2, 2)
    rows = [(first + i) % nodes.shape[0] for i in range(3)]
    last = np.arange(0, nodes.shape[1] - 2, 2)
    columns = [last + j for j in range(3)]
    # second axis first, so that the normal of (along the second, along the first) points outwards
    out = [nodes[np.ix_(rows[i], columns[j])].ravel() for j in range(3) for i in range(3)]
    return np.stack(out, axis=1)
