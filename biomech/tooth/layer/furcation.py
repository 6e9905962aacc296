"""The meshes of trunk and roots joined at the furcation.

The ligament space is one, so the pressure is continuous from trunk to roots. What joins them is the roof of the
furcation, a strip of layer between the lower ring of the trunk and the upper rings of the roots. The handbook root has
no roof (its bed of springs has none, and the bases of its roots touch), so here too it bears no load and stores no
volume: it only lets pressure through. `bearing_roof` makes it a ligament like the rest, to see what that changes;
biomech.tooth.roof says by how much.
"""

from __future__ import annotations

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.tooth.layer.mesh import Block, Indices, LayerMesh
from biomech.tooth.layer.rings import Patch, Thickness, root_patch, trunk_patch
from biomech.tooth.roots import Paraboloid, Trunk

DRAWN = 0.8
"""Share to which the bases of the roots are drawn in before they are linked to their neighbours; it only decides which
nodes are linked, the strips are as long as the places of the nodes make them."""


def root_layer(
    trunk: Trunk | None, roots: tuple[Paraboloid, ...], thickness: Thickness, edge: float, *,
    fineness: int = 1, bearing_roof: bool = False,
) -> LayerMesh:
    """Return the mesh of the ligament of an embedded root (its own surface, not the middle of the ligament).

    `trunk`, `roots` cut at the crest, anatomical coordinates; `edge` mm: height of the elements next to the crest.
    From 330 to 520 nodes for one root, 360 to 680 for several, times the square of `fineness`.
    """
    single = len(roots) == 1
    around, bulk = (12 * fineness, 6 * fineness) if single else (8 * fineness, 4 * fineness)
    if trunk is None:
        patches = [root_patch(root, thickness, edge, around, bulk) for root in roots]
        return _assembled(patches, [patch.upper for patch in patches], [])
    wall = trunk_patch(trunk, thickness, edge, 12 * fineness, 2 * fineness)
    patches = [wall, *(root_patch(root, thickness, np.inf, around, bulk) for root in roots)]
    starts = np.cumsum([0] + [len(p.points) for p in patches])
    lower = wall.lower
    assert lower is not None
    rings = [lower] + [p.upper + n for p, n in zip(patches[1:], starts[1:], strict=False)]
    roof = Block(_linked(_drawn(trunk, roots, around, 12 * fineness), rings), bears=bearing_roof)
    return _assembled(patches, [wall.upper], [roof])


def _assembled(patches: list[Patch], rims: list[Indices], extra: list[Block]) -> LayerMesh:
    """Return one mesh of several patches; `rims` are counted within the patch of the same place in the list."""
    starts = np.cumsum([0] + [len(p.points) for p in patches])
    blocks = [Block(b.nodes + n, b.bears) for p, n in zip(patches, starts, strict=False) for b in p.blocks]
    rim = np.zeros(starts[-1], dtype=np.bool_)
    for start, ring in zip(starts, rims, strict=False):
        rim[ring + start] = True
    points, thickness = np.concatenate([p.points for p in patches]), np.concatenate([p.thickness for p in patches])
    return LayerMesh(points, thickness, rim, (*blocks, *extra))


def _drawn(trunk: Trunk, roots: tuple[Paraboloid, ...], around: int, wall: int) -> list[Array]:
    """Return the rings at the furcation in the plane, the trunk's a unit circle, the roots' drawn in."""
    half = np.array(trunk.lower)
    out = [_circle(wall)]
    for root in roots:
        out.append(np.array(root.centre) / half + DRAWN * np.array([root.a, root.b]) / half * _circle(around))
    return out


def _circle(elements: int) -> Array:
    turn = np.arange(2 * elements) * np.pi / elements
    return np.stack([np.cos(turn), np.sin(turn)], axis=1)


def _linked(plane: list[Array], rings: list[Indices]) -> Indices:
    """Return triangles (E, 3) that fill the first ring of plane points outside the others, as node numbers."""
    from scipy.spatial import Delaunay

    found = Delaunay(np.concatenate(plane))
    owner = np.repeat(np.arange(len(plane)), [len(ring) for ring in plane])[found.simplices]
    inside_root = (owner == owner[:, :1]).all(axis=1) & (owner[:, 0] > 0)
    simplices = found.simplices[~inside_root]
    a, b, c = np.moveaxis(np.concatenate(plane)[simplices], 1, 0)
    turn = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    simplices = np.where(turn[:, None] > 0, simplices, simplices[:, ::-1])[np.abs(turn) > 1e-9]
    nodes: Indices = np.concatenate(rings)[simplices]
    linked = {int(i) for i in np.unique(nodes)}
    if not all(linked & {int(i) for i in ring} for ring in rings):
        raise InputError("the roots of a tooth do not meet its trunk at the furcation")
    return nodes
