"""The mesh of the ligament of a root given as triangles: graded towards the crest, curved where the normals say so."""

from __future__ import annotations

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.tooth.layer.mesh import Block, Indices, LayerMesh
from biomech.tooth.layer.rings import GROWTH, Thickness
from biomech.tooth.roots import RootMesh

QUADRATIC_UP_TO = 2000
"""Vertices up to which a mesh gets nodes in the middle of its edges: beyond, linear elements are fine enough."""

_LEAST = 1e-9  # of the mean area


def triangle_layer(root: RootMesh, thickness: Thickness, edge: float, *, curved: bool | None = None) -> LayerMesh:
    """Return the layer mesh of a root in the coordinates of `root`, whose vertices lie in the middle of the ligament.

    `edge` mm: height of the elements next to the crest; edges of `root` that leave the rim are divided until it is
    reached. `curved`: quadratic elements on a surface bent after the vertex normals, instead of linear ones on flat
    triangles; by default up to `QUADRATIC_UP_TO` vertices. Raises InputError for a rim that is no closed line and for
    triangles without area.
    """
    check_rim(root)
    corner = root.vertices[root.faces]
    area = np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1)
    if not area.min() > _LEAST * area.mean():
        _refuse(root, root.faces[int(np.argmin(area)), 0], "with a triangle without area")
    points, normals, faces = _graded(root, edge)
    rim = np.zeros(len(points), dtype=np.bool_)
    rim[root.rim] = True
    if curved is None:
        curved = len(points) <= QUADRATIC_UP_TO
    if not curved:
        return LayerMesh(points, thickness(points), rim, (Block(faces),))
    points, rim, faces = _quadratic(points, normals, faces, rim)
    return LayerMesh(points, thickness(points), rim, (Block(faces),))


def check_rim(root: RootMesh) -> None:
    """Raise InputError unless the open edges of the mesh are the rim at the crest, each vertex of it in two."""
    pairs, count = _edges(root.faces)
    ends = pairs[count == 1]
    if (count > 2).any():
        _refuse(root, pairs[count > 2][0, 0], "where more than two triangles share an edge")
    if not len(ends):
        raise InputError("the root surface has no rim at the crest: a closed surface has no crest to be cut at")
    wanted = np.zeros(len(root.vertices), dtype=np.bool_)
    wanted[root.rim] = True
    astray = ends[~wanted[ends].all(axis=1)]
    if len(astray):
        _refuse(root, astray[0, 0], "with an open edge away from the crest")
    if (np.bincount(ends.ravel(), minlength=len(wanted))[root.rim] != 2).any():
        _refuse(root, root.rim[0], "whose rim at the crest is no closed line")


def _refuse(root: RootMesh, vertex: int, what: str) -> None:
    at = ", ".join(f"{x:.2f}" for x in root.vertices[vertex])
    raise InputError(f"the root has a surface {what} near ({at}) mm; repair the mesh")


def _edges(faces: Indices) -> tuple[Indices, Indices]:
    """Return the edges (n, 2), ends in rising order, and by how many triangles each is used (n,)."""
    pairs = np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    found, count = np.unique(pairs, axis=0, return_counts=True)
    return found, count


def _graded(root: RootMesh, edge: float) -> tuple[Array, Array, Indices]:
    """Return points, normals and triangles with every edge that leaves the rim divided towards it."""
    on = np.zeros(len(root.vertices), dtype=np.bool_)
    on[root.rim] = True
    pairs, _ = _edges(root.faces)
    leaving = pairs[on[pairs].sum(axis=1) == 1]
    leaving = np.where(on[leaving[:, :1]], leaving, leaving[:, ::-1])  # the end on the rim first
    length = float(np.median(np.linalg.norm(np.diff(root.vertices[leaving], axis=1), axis=-1)))
    steps = max(int(np.ceil(np.log(max(length / edge, 1.0)) / np.log(GROWTH))), 0)
    if steps == 0:
        return root.vertices, root.normals, root.faces
    shares = (edge / length) ** (np.arange(steps, 0, -1) / steps)
    points, normals = _along(root.vertices, root.normals, leaving, shares)
    # number of the k-th point on the edge from rim vertex r to v: row of the edge, column k; ends included
    rows = len(root.vertices) + np.arange(len(leaving) * steps).reshape(len(leaving), steps)
    rows = np.column_stack([leaving[:, 0], rows, leaving[:, 1]])
    place = {(int(r), int(v)): row for (r, v), row in zip(leaving, rows, strict=True)}
    faces = [root.faces[~on[root.faces].any(axis=1) | on[root.faces].all(axis=1)]]
    for face in root.faces[on[root.faces].any(axis=1) & ~on[root.faces].all(axis=1)]:
        faces.append(_strips(face, on, place))
    return (
        np.concatenate([root.vertices, points]), np.concatenate([root.normals, normals]), np.concatenate(faces),
    )  # fmt: skip


def _strips(face: Indices, on: np.ndarray, place: dict[tuple[int, int], Indices]) -> Indices:
    """Return the triangles of one face with one or two corners on the rim, its leaving edges divided."""
    two = on[face].sum() == 2
    lone = int(np.flatnonzero(~on[face] if two else on[face])[0])
    a, b, c = (int(face[(lone + i) % 3]) for i in range(3))  # a: the lone corner, the face still anticlockwise
    # both divided edges from a's two neighbours' side: left along a-b, right along a-c, from a outwards
    left = place[b, a][::-1] if two else place[a, b]
    right = place[c, a][::-1] if two else place[a, c]
    out = [[left[0], left[1], right[1]]]
    for k in range(1, len(left) - 1):
        out += [[left[k], left[k + 1], right[k + 1]], [left[k], right[k + 1], right[k]]]
    return np.array(out, dtype=np.int64)


def _quadratic(
    points: Array, normals: Array, faces: Indices, rim: np.ndarray
) -> tuple[Array, np.ndarray, Indices]:
    """Return points, rim and triangles (F, 6) with nodes in the middle of all edges, on the curved surface."""
    pairs = np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    edges, back, count = np.unique(pairs, axis=0, return_inverse=True, return_counts=True)
    middle, _ = _along(points, normals, edges, np.array([0.5]))
    nodes = np.concatenate([faces, len(points) + back.reshape(-1, 3)], axis=1)
    return np.concatenate([points, middle]), np.concatenate([rim, count == 1]), nodes


def _along(points: Array, normals: Array, edges: Indices, shares: Array) -> tuple[Array, Array]:
    """Return points and unit normals (len(edges) * len(shares), 3) at shares of curved edges, edge by edge.

    The cubic with the ends' tangent planes (point-normal triangles, Vlachos et al. 2001, from memory).
    """
    (p, q), (n, m) = np.moveaxis(points[edges], 1, 0), np.moveaxis(normals[edges], 1, 0)
    rise, fall = ((q - p) * n).sum(axis=1, keepdims=True), ((p - q) * m).sum(axis=1, keepdims=True)
    near, far = (2 * p + q - rise * n) / 3, (2 * q + p - fall * m) / 3
    s = shares[None, :, None]
    control = [x[:, None, :] for x in (p, near, far, q)]
    bernstein = [(1 - s) ** 3, 3 * s * (1 - s) ** 2, 3 * s**2 * (1 - s), s**3]
    at = sum(c * b for c, b in zip(control, bernstein, strict=True))
    normal = (1 - s) * n[:, None, :] + s * m[:, None, :]
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
    return np.asarray(at).reshape(-1, 3), normal.reshape(-1, 3)
