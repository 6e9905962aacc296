"""Holes of a surface: their edges in order; small ones closed, larger ones refused with the place."""

from __future__ import annotations

import numpy as np

from biomech.errors import InputError
from biomech.surfaces.topology import HOLE_EDGES, HOLE_WIDTH, Ruler, edges_of
from biomech.tooth.meshes import Indices, Mesh


def loops(mesh: Mesh, ruler: Ruler) -> list[Indices]:
    """Return the vertices of each open rim in the order of its triangles' edges.

    Raises InputError where two rims touch in a vertex.
    """
    directed, _, count = edges_of(mesh.triangles)
    open_edges = directed[count == 1]
    after = dict(open_edges.tolist())
    if len(after) < len(open_edges):
        values, times = np.unique(open_edges[:, 0], return_counts=True)
        at = ruler.at(mesh.vertices[values[times.argmax()]])
        raise InputError(f"two holes touch in one vertex at {at}; close them in the program the surface comes from")
    out = []
    while after:
        start, here = after.popitem()
        ring = [start]
        while here != start and here in after:
            ring.append(here)
            here = after.pop(here)
        out.append(np.array(ring, dtype=np.int64))
    return out


def closed(mesh: Mesh, ruler: Ruler) -> tuple[Mesh, list[str]]:
    """Return the mesh with small holes closed by a fan about their middle, and what was closed.

    Raises InputError for a hole of more than HOLE_EDGES edges or wider than HOLE_WIDTH mm.
    """
    rims = loops(mesh, ruler)
    points, triangles = [mesh.vertices], [mesh.triangles]
    notes, total = [], len(mesh.vertices)
    for ring in rims:
        place = mesh.vertices[ring]
        middle = place.mean(axis=0)
        width = 2.0 * float(np.linalg.norm(place - middle, axis=1).max())
        at = ruler.at(middle)
        if len(ring) > HOLE_EDGES or width > HOLE_WIDTH:
            raise InputError(
                f"the surface is open: a hole of {len(ring)} edges, {width:.2g} mm wide, at {at}; allowed: holes of up "
                f"to {HOLE_EDGES} edges and {HOLE_WIDTH:g} mm, which are closed here"
            )
        after = np.roll(ring, -1)
        if len(ring) == 3:
            triangles.append(ring[None, ::-1])
        else:
            points.append(middle[None])
            triangles.append(np.stack([after, ring, np.full(len(ring), total)], axis=1))
            total += 1
        notes.append(f"a hole of {len(ring)} edges, {width:.2g} mm wide, at {at} was closed")
    return Mesh(np.concatenate(points), np.concatenate(triangles)), notes
