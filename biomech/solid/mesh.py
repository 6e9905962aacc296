"""Solid meshes of 20-node hexahedra: the ligament as layers grown from the root surface.

Anatomical coordinates (mesial, buccal, apical), mm, so that a mesh is never mirrored.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.solid.grid import Index
from biomech.solid.surface import RootGrid
from biomech.tooth.layer.supports import Profile

LIGAMENT, BONE, DENTINE, ENAMEL = range(4)
"""Numbers of the bodies."""
LAYERS = 2
"""Elements through the ligament."""


@dataclass(frozen=True, eq=False)
class SolidMesh:
    """Nodes `points` (N, 3), elements `hexes` (E, 20), their `body` (E,).

    `root`, `socket`: numbers of the nodes on the two faces of the ligament; `fixed`: of the nodes that are
    held; `around` (2, Q): elements of the ligament on the two sides of its middle surface, the inner first.
    """

    points: Array
    hexes: Index
    body: Index
    root: Index
    socket: Index
    fixed: Index
    around: Index


def ligament_mesh(grid: RootGrid, profile: Profile, layers: int = LAYERS) -> SolidMesh:
    """Return the ligament over a root: `layers` elements from its surface outward along its normals.

    The rim of the ligament is perpendicular to the root; root and socket faces are node sets, the socket is held.
    """
    if layers < 1:
        raise InputError(f"solid mesh: {layers} layers through the ligament; allowed: 1, 2, 3 ...")
    outward = grid.normals * profile.at(grid.share)[:, None]
    level = np.linspace(0.0, 1.0, 2 * layers + 1)
    lattice = grid.points + level[:, None, None] * outward
    hexes = extruded(grid.quads, len(grid.points), layers)
    used, place = np.unique(hexes, return_inverse=True)
    height = used // len(grid.points)
    count = len(grid.quads)
    inner, outer = (layers - 1) // 2, layers // 2
    around = np.stack([np.arange(count) + inner * count, np.arange(count) + outer * count])
    root, socket = np.flatnonzero(height == 0), np.flatnonzero(height == 2 * layers)
    body = np.full(len(hexes), LIGAMENT)
    return SolidMesh(lattice.reshape(-1, 3)[used], place.reshape(hexes.shape), body, root, socket, socket, around)


def extruded(quads: Index, count: int, layers: int) -> Index:
    """Return hexahedra (layers Q, 20) over `quads` (Q, 8): layer by layer, node = point + level `count`.

    Levels number half layers; the lower face of a hexahedron is the inner one.
    """
    out = []
    for layer in range(layers):
        low, middle, high = (quads + (2 * layer + i) * count for i in range(3))
        out.append(np.concatenate([low[:, :4], high[:, :4], low[:, 4:], high[:, 4:], middle[:, :4]], axis=1))
    return np.concatenate(out)
