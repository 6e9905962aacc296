"""The tooth itself as a solid: root within the crest, neck and crown, for a single-rooted tooth.

The root is a cube in the middle of five blocks (below and around it), so that no element degenerates; above the crest
the cross-section there is stacked up through the neck to the edge of the crown. Cross-sections of the crown are
ellipses with the extents of biomech.tooth.crown. The outermost elements of the crown are enamel.
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from biomech.mechanics.poses import Array
from biomech.solid.blocks import Part, block
from biomech.solid.grid import CORE, Index, core, fans, lattice_quads
from biomech.solid.mesh import DENTINE, ENAMEL
from biomech.tooth.model import Tooth
from biomech.tooth.roots import Paraboloid

CUBE = 0.6
"""Width of the cube over that of the root."""
DEEP = 0.85
"""Depth of the cube over that of the root."""
RADIAL = 2
"""Elements between the cube and the surface; the outer layer of the crown is enamel."""
STEP = 1.5
"""Height of an element of neck and crown, mm, at most."""
PATCH = 1.5
"""Half the height, mm, of the patch of the crown that carries the bracket; its half width is a sixteenth of a turn."""


class Body(NamedTuple):
    """The tooth as `parts`; `patch` (Q, 8): facets under the bracket, numbers of the points of part `carrier`."""

    parts: list[Part]
    patch: Index
    carrier: int


def tooth_body(tooth: Tooth, root: Paraboloid, across: int, radii: Array) -> Body:
    """Return the solid of a single-rooted `tooth` whose embedded part is `root`, anatomical coordinates.

    `across`, `radii`: the grid of the root surface, see biomech.solid.surface.divisions.
    """
    flat, spread = core(across), fans(across, radii)
    middle = _cube(root, flat, radii)
    sides = [middle[-1], middle[:, -1][::-1], middle[0][::-1], middle[:, 0]]  # as the fans run: counterclockwise
    parts = [block(middle, DENTINE), block(_between(_on(root, flat), middle[:, :, 0]), DENTINE)]
    section = [middle[:, :, -1]]
    for fan, side in zip(spread, sides, strict=True):
        lattice = _between(_on(root, fan), side.swapaxes(0, 1))
        parts.append(block(lattice, DENTINE))
        section.append(lattice[:, -1])
    crown, patch = _stack(tooth, root, section)
    return Body([*parts, *crown], patch, len(parts) + 2)


def _on(root: Paraboloid, place: Array) -> Array:
    """Return the points of the root at places (..., 2) of the unit disk."""
    x, y = place[..., 0], place[..., 1]
    return root.position(np.hypot(x, y), np.arctan2(y, x))


def _cube(root: Paraboloid, flat: Array, radii: Array) -> Array:
    """Return the lattice (2 n + 1, 2 n + 1, 2 m + 1, 3) of the cube, from its bottom to the crest."""
    down = DEEP * root.length * (1.0 - radii**2)
    wide = CUBE * radii / CORE
    x = root.centre[0] + root.slope[0] * down + root.a * wide * flat[:, :, None, 0]
    y = root.centre[1] + root.slope[1] * down + root.b * wide * flat[:, :, None, 1]
    return np.stack([x, y, np.broadcast_to(root.top + down, x.shape)], axis=-1)


def _between(outer: Array, inner: Array) -> Array:
    """Return the lattice (2 RADIAL + 1, ..., 3) between two surfaces."""
    share = np.linspace(0.0, 1.0, 2 * RADIAL + 1)[:, None, None, None]
    return np.asarray((1.0 - share) * outer + share * inner)


def _stack(tooth: Tooth, root: Paraboloid, section: list[Array]) -> tuple[list[Part], Index]:
    """Return the parts above the crest over the lattices of the `section` there, and the facets of the patch."""
    levels = _levels(tooth)
    extents = np.array([_ellipse(tooth, depth) for depth in levels])  # centre (2), half-axes (2)
    parts = []
    for i, flat in enumerate(section):
        place = (flat[..., :2] - root.centre) / [root.a, root.b]
        lateral = extents[:, :2] + extents[:, 2:] * place[..., None, :]
        depth = np.broadcast_to(levels[:, None], (*lateral.shape[:-1], 1))
        lattice = np.concatenate([lateral, depth], axis=-1)
        bodies = np.full(((lattice.shape[0] - 1) // 2, 1, (len(levels) - 1) // 2), DENTINE)
        bodies = np.broadcast_to(bodies, (bodies.shape[0], (lattice.shape[1] - 1) // 2, bodies.shape[2])).copy()
        if i > 0:
            bodies[0][:, levels[1::2] < 0.0] = ENAMEL
        parts.append(block(lattice, bodies))
    shape = (2 * RADIAL + 1, section[2].shape[1], len(levels))
    facets = np.arange(np.prod(shape)).reshape(shape)[0]
    return parts, _patch(tooth, facets, levels)


def _levels(tooth: Tooth) -> Array:
    """Return the depths (2 n + 1,) of the layers above the crest and of their middles, from the crest upward."""
    bracket = tooth.bracket_height - tooth.crown_length
    marks = [tooth.bone_level, 0.0, min(bracket + PATCH, -0.5), max(bracket - PATCH, 0.3 - tooth.crown_length)]
    marks = [m for m in [*marks, -tooth.crown_length] if m <= tooth.bone_level]
    edges = [marks[0]]
    for low, high in pairwise(marks):
        if low - high > 1e-6:
            edges += list(np.linspace(low, high, 1 + int(np.ceil((low - high) / STEP)))[1:])
    out = np.empty(2 * len(edges) - 1)
    out[::2] = edges
    out[1::2] = 0.5 * (np.array(edges[1:]) + edges[:-1])
    return out


def _ellipse(tooth: Tooth, depth: float) -> tuple[float, float, float, float]:
    """Return centre (mesial, buccal) and half-axes (mesial, buccal) of the cross-section at `depth`."""
    whole = tooth.roots[0]
    if depth >= 0.0:
        part = whole.cut(depth)
        return (*part.centre, part.a, part.b)
    facial, lingual, width = tooth.crown.outline(np.array(-depth / tooth.crown_length))
    return 0.0, float(0.5 * (facial - lingual)), float(width), float(0.5 * (facial + lingual))


def _patch(tooth: Tooth, facets: Index, levels: Array) -> Index:
    """Return the facets (Q, 8) of the buccal surface within the patch of the bracket."""
    across = (facets.shape[0] - 1) // 2
    near = (np.abs(np.arange(across) + 0.5 - 0.5 * across) <= 0.25 * across)[:, None]
    bracket = tooth.bracket_height - tooth.crown_length
    high = np.abs(levels[1::2] - bracket) < PATCH
    return np.asarray(lattice_quads(facets)[(near & high).ravel()])
