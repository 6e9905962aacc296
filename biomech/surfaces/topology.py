"""What a tooth's surface must be: one closed, two-sided shell without edges shared by more than two triangles.

Safe repairs are made and said; everything else is refused with the reason and the place, in the coordinates of
the file.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.tooth.meshes import Indices, Mesh

WELD = 1e-5
"""Distance of vertices taken as one, share of the surface's extent: the rounding of numbers in files."""
HOLE_EDGES, HOLE_WIDTH = 12, 2.0
"""Largest hole that is closed: its edges, and its width in mm. A convention: no feature of a tooth is lost."""
NEEDLES = 300
"""Triangles without area, corners on a line, that are turned into their neighbours; more are not a surface."""
CRUMB = 0.01
"""Share of the area below which a separate piece is dropped as a crumb of the scan."""


@dataclass(frozen=True)
class Ruler:
    """The file's `unit` and how many mm it has: `factor`. Meshes are in mm, messages in the file's coordinates."""

    unit: str
    factor: float

    def at(self, point: Array) -> str:
        """Return a point (3,), mm, as "(x, y, z) unit" of the file."""
        values = np.round(np.asarray(point, dtype=np.float64), 3) / self.factor
        return "(" + ", ".join(f"{x + 0.0:.6g}" for x in values) + f") {self.unit}"


def face_vectors(mesh: Mesh) -> Array:
    """Return the area vectors (F, 3), mm2, of the triangles, outward where they turn anticlockwise."""
    a, b, c = (mesh.vertices[mesh.triangles[:, k]] for k in range(3))
    return np.asarray(0.5 * np.cross(b - a, c - a))


def volume(mesh: Mesh) -> float:
    """Return the volume (mm3) inside a closed mesh, negative when its triangles face inwards."""
    centre = mesh.vertices.mean(axis=0)
    middle = mesh.vertices[mesh.triangles].mean(axis=1) - centre
    return float(np.einsum("fi,fi->", middle, face_vectors(mesh)) / 3.0)


def compact(mesh: Mesh) -> Mesh:
    """Return the mesh without vertices that no triangle uses."""
    used = np.unique(mesh.triangles)
    number = np.full(len(mesh.vertices), -1, dtype=np.int64)
    number[used] = np.arange(len(used))
    return Mesh(mesh.vertices[used], number[mesh.triangles])


def edges_of(triangles: Indices) -> tuple[Indices, Indices, Indices]:
    """Return directed edges (3F, 2), the undirected edge each belongs to (3F,), and how often that occurs (3F,).

    Edge k F + f is that from corner k of triangle f to the next.
    """
    directed = np.concatenate([triangles[:, [k, (k + 1) % 3]] for k in range(3)])
    low, high = directed.min(axis=1), directed.max(axis=1)
    key = low * (int(triangles.max()) + 1) + high
    _, group, count = np.unique(key, return_inverse=True, return_counts=True)
    return directed, group.ravel(), count[group.ravel()]


def welded(mesh: Mesh) -> Mesh:
    """Return the mesh with vertices closer than WELD of its extent made one, and triangles that vanish dropped."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    points, group = np.unique(mesh.vertices, axis=0, return_inverse=True)
    triangles = group.ravel()[mesh.triangles]
    pairs = cKDTree(points).query_pairs(WELD * float(np.ptp(points, axis=0).max()), output_type="ndarray")
    if len(pairs):
        links = coo_matrix((np.ones(len(pairs)), pairs.T), shape=(len(points), len(points)))
        _, label = connected_components(links, directed=False)
        _, first = np.unique(label, return_index=True)
        points, triangles = points[first], label[triangles].astype(np.int64)
    a, b, c = triangles.T
    return compact(Mesh(points, triangles[(a != b) & (b != c) & (c != a)]))


def without_copies(mesh: Mesh) -> tuple[Mesh, int]:
    """Return the mesh with every triangle once, and how many copies were dropped."""
    _, first = np.unique(np.sort(mesh.triangles, axis=1), axis=0, return_index=True)
    return Mesh(mesh.vertices, mesh.triangles[np.sort(first)]), len(mesh.triangles) - len(first)


def without_needles(mesh: Mesh) -> tuple[Mesh, int]:
    """Return the mesh without triangles whose corners lie on a line, and how many there were.

    The long edge of such a triangle is turned in the quadrilateral it forms with its neighbour, so that no gap opens.
    """
    triangles, turned = mesh.triangles.copy(), 0
    extent = float(np.ptp(mesh.vertices, axis=0).max())
    for _ in range(NEEDLES):
        flat = _flattest(Mesh(mesh.vertices, triangles), extent)
        if flat is None:
            break
        face, corner = flat
        b, c, a = (int(triangles[face, (corner + k) % 3]) for k in range(3))  # b lies between a and c
        other = np.flatnonzero((triangles == a).any(axis=1) & (triangles == c).any(axis=1))
        other = other[other != face]
        if len(other) != 1:
            break
        d = int(next(v for v in triangles[other[0]] if v not in (a, c)))
        triangles[face], triangles[other[0]] = (a, b, d), (b, c, d)
        turned += 1
    return Mesh(mesh.vertices, triangles), turned


def _flattest(mesh: Mesh, extent: float) -> tuple[int, int] | None:
    """Return a triangle with corners on a line and the number of its middle corner, or None."""
    corner = mesh.vertices[mesh.triangles]
    length = np.linalg.norm(corner[:, [2, 0, 1]] - corner[:, [1, 2, 0]], axis=2)  # opposite to each corner
    height = 2.0 * np.linalg.norm(face_vectors(mesh), axis=1) / length.max(axis=1)
    face = int(height.argmin())
    return (face, int(length[face].argmax())) if height[face] < 0.1 * WELD * extent else None


def refuse_branching(mesh: Mesh, ruler: Ruler) -> None:
    """Raise InputError when an edge belongs to more than two triangles."""
    directed, group, count = edges_of(mesh.triangles)
    if count.max() > 2:
        wrong = int(np.argmax(count > 2))
        edges = len(np.unique(group[count > 2]))
        raise InputError(
            f"{edges} edges belong to more than two triangles (non-manifold), the first at "
            f"{ruler.at(mesh.vertices[directed[wrong]].mean(axis=0))}; a tooth must be one simple surface"
        )


def neighbours(triangles: Indices) -> tuple[Indices, NDArray[np.bool_]]:
    """Return pairs (n, 2) of triangles that share an edge, and whether both run through it the same way (n,)."""
    directed, group, _ = edges_of(triangles)
    order = np.argsort(group, kind="stable")
    same = group[order][1:] == group[order][:-1]
    one, two = order[:-1][same], order[1:][same]
    return np.stack([one, two], axis=1) % len(triangles), directed[one, 0] == directed[two, 0]


def shells(triangles: Indices) -> Indices:
    """Return the number of the shell (F,) each triangle belongs to; triangles of a shell share edges."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    pairs, _ = neighbours(triangles)
    links = coo_matrix((np.ones(len(pairs)), pairs.T), shape=(len(triangles), len(triangles)))
    return np.asarray(connected_components(links, directed=False)[1], dtype=np.int64)


def one_shell(mesh: Mesh, ruler: Ruler) -> tuple[Mesh, list[str]]:
    """Return the largest shell; crumbs and closed shells inside it are dropped and said, others refused."""
    label = shells(mesh.triangles)
    if label.max() == 0:
        return mesh, []
    area = np.bincount(label, weights=np.linalg.norm(face_vectors(mesh), axis=1))
    main = int(area.argmax())
    whole = compact(Mesh(mesh.vertices, mesh.triangles[label == main]))
    low, high = whole.vertices.min(axis=0), whole.vertices.max(axis=0)
    notes = []
    for part in np.flatnonzero(np.arange(len(area)) != main):
        piece = mesh.vertices[np.unique(mesh.triangles[label == part])]
        at = ruler.at(piece.mean(axis=0))
        inside = (piece > low).all() and (piece < high).all() and all(_inside(whole, p) for p in piece[:5])
        if inside:
            notes.append(f"an inner surface at {at} (a pulp chamber?) was dropped: the tooth is taken as solid")
        elif area[part] < CRUMB * area[main]:
            notes.append(f"a separate crumb at {at} was dropped")
        else:
            raise InputError(
                f"it holds {len(area)} separate surfaces; besides the largest there is one of {area[part]:.3g} mm2 "
                f"at {at}; allowed: one tooth a file"
            )
    return whole, notes


def _inside(mesh: Mesh, point: Array) -> bool:
    """Return whether a point (3,) lies within a mesh, by the solid angle its triangles fill."""
    r = mesh.vertices[mesh.triangles] - point
    size = np.linalg.norm(r, axis=2)
    a, b, c = r[:, 0], r[:, 1], r[:, 2]
    top = np.einsum("fi,fi->f", a, np.cross(b, c))
    low = size.prod(axis=1) + sum(
        np.einsum("fi,fi->f", r[:, i], r[:, j]) * size[:, k] for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1))
    )
    return bool(abs(float(np.arctan2(top, low).sum())) > np.pi)


def oriented(mesh: Mesh, ruler: Ruler) -> tuple[Mesh, int]:
    """Return the mesh with all triangles turning the same way, and how many were turned.

    Raises InputError for a one-sided surface.
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import breadth_first_order

    pairs, against = neighbours(mesh.triangles)
    if not against.any():
        return mesh, 0
    count = len(mesh.triangles)
    weight = np.where(against, 2.0, 1.0)
    links = coo_matrix((weight, pairs.T), shape=(count, count)).tocsr()
    links = links.maximum(links.T)
    order, before = breadth_first_order(links, 0, directed=False)
    flip = np.zeros(count, dtype=bool)
    odd = np.asarray(links[order[1:], before[order[1:]]]).ravel() > 1.5
    for face, parent, turn in zip(order[1:].tolist(), before[order[1:]].tolist(), odd.tolist(), strict=True):
        flip[face] = flip[parent] ^ turn
    if flip.sum() > count / 2:
        flip = ~flip
    triangles = np.where(flip[:, None], mesh.triangles[:, ::-1], mesh.triangles)
    pairs, against = neighbours(triangles)
    if against.any():
        at = ruler.at(mesh.vertices[triangles[pairs[np.argmax(against), 0]]].mean(axis=0))
        raise InputError(f"the surface has only one side (a twisted band), seen at {at}")
    return Mesh(mesh.vertices, triangles), int(flip.sum())
