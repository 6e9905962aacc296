"""From the triangles of a file to one closed surface that faces outwards, with what was repaired."""

from __future__ import annotations

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.surfaces import topology
from biomech.surfaces.holes import closed
from biomech.surfaces.topology import Ruler
from biomech.tooth.meshes import Indices, Mesh


def clean(mesh: Mesh, ruler: Ruler) -> tuple[Mesh, list[str]]:
    """Return the surface of one tooth (mm), closed and facing outwards, and what was repaired, a sentence each.

    Raises InputError with reason and place for what cannot be repaired safely: open, branching and one-sided surfaces,
    and several in one file. Whether it cuts through itself is not looked at here.
    """
    notes = []
    count = len(mesh.triangles)
    mesh, copies = topology.without_copies(topology.welded(mesh))
    if len(mesh.triangles) < 20:
        raise InputError(
            f"of {count} triangles {len(mesh.triangles)} are left when vertices at one place are joined; a tooth needs "
            "hundreds"
        )
    dropped = count - copies - len(mesh.triangles)
    if dropped:
        notes.append(f"{dropped} triangles without area were dropped")
    if copies:
        notes.append(f"{copies} triangles stood twice and were dropped once")
    topology.refuse_branching(mesh, ruler)
    mesh, needles = topology.without_needles(mesh)
    if needles:
        notes.append(f"{needles} triangles with corners on a line were turned into their neighbours")
        topology.refuse_branching(mesh, ruler)
    mesh, said = topology.one_shell(mesh, ruler)
    notes += said
    mesh, turned = topology.oriented(mesh, ruler)
    if turned:
        notes.append(f"{turned} triangles faced the other way than their neighbours and were turned")
    mesh, said = closed(mesh, ruler)
    notes += said
    if topology.volume(mesh) < 0.0:
        mesh = Mesh(mesh.vertices, mesh.triangles[:, ::-1].copy())
        notes.append("all triangles faced inwards and were turned")
    return mesh, notes


def refuse_crossing(mesh: Mesh, pairs: Indices, height: Array, ruler: Ruler) -> list[str]:
    """Raise InputError when triangles that cut each other (n, 2) reach into the bone; return a note on others.

    `height` (V,): of the vertices above the bone crest, positive in the bone and in a margin before it. On the crown,
    where scans of fissures often are so, they change neither the root nor its support.
    """
    if not len(pairs):
        return []
    deep = (height[mesh.triangles[pairs]] > 0.0).any(axis=(1, 2))
    first = pairs[int(np.argmax(deep))]
    at = ruler.at(mesh.vertices[mesh.triangles[first]].reshape(-1, 3).mean(axis=0))
    if deep.any():
        raise InputError(
            f"the surface cuts through itself: {len(pairs)} pairs of triangles, the first at {at}; repair it in the "
            "program it comes from"
        )
    return [f"the surface cuts through itself on the crown, {len(pairs)} pairs of triangles, near {at}: left as it is"]
