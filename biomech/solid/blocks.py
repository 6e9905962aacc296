"""Meshes put together from blocks: lattices of points that share their borders.

A lattice (2 i + 1, 2 j + 1, 2 k + 1, 3) is i x j x k elements of 20 nodes; points that coincide become one node.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from biomech.mechanics.poses import Array
from biomech.solid.elements import NODES, derivatives
from biomech.solid.grid import Index, joined


class Part(NamedTuple):
    """Elements of their own numbering: `points` (P, 3), `hexes` (E, 20), `body` (E,)."""

    points: Array
    hexes: Index
    body: Index


def block(lattice: Array, body: int | Index) -> Part:
    """Return the elements of a lattice, made right-handed; `body` (i, j, k) or one number for all."""
    shape = np.array(lattice.shape[:3])
    count = (shape - 1) // 2
    number = np.arange(shape.prod()).reshape(shape)
    first = 2 * np.stack(np.meshgrid(*(np.arange(n) for n in count), indexing="ij"), axis=-1).reshape(-1, 3)
    hexes = number[tuple(np.moveaxis(first[:, None] + NODES + 1, -1, 0))]
    points = lattice.reshape(-1, 3)
    middle = np.linalg.det(np.einsum("ai,eaj->eij", derivatives(np.zeros(3)), points[hexes]))
    if np.median(middle) < 0.0:
        hexes = mirrored(hexes)
    return Part(points, hexes, np.broadcast_to(body, tuple(count)).ravel())


def together(parts: list[Part]) -> tuple[Part, list[Index]]:
    """Return one part without double or unused points, and the new numbers of each part's points (-1: unused)."""
    start = np.cumsum([0] + [len(part.points) for part in parts])
    points = np.concatenate([part.points for part in parts])
    hexes = np.concatenate([part.hexes + at for part, at in zip(parts, start, strict=False)])
    body = np.concatenate([part.body for part in parts])
    used = np.unique(hexes)
    first, place = joined(points[used])
    number = np.full(len(points), -1)
    number[used] = place
    return Part(points[used][first], number[hexes], body), np.split(number, start[1:-1])


def mirrored(hexes: Index) -> Index:
    """Return hexahedra (E, 20) with their nodes in the order of the mirror image."""
    return np.asarray(hexes[:, _MIRROR])


def _mirrored() -> Index:
    """Return the order of the nodes of an element turned over along its third axis."""
    turned = NODES * np.array([1, 1, -1])
    return np.array([int(np.flatnonzero((place == NODES).all(axis=1))[0]) for place in turned])


_MIRROR = _mirrored()
