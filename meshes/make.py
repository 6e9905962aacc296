"""Make the example teeth of this folder: `python meshes/make.py [FOLDER]`.

Each is drawn from the handbook description in `biomech.tooth` (sizes, roots, crown outline) as one closed surface:
a function of space that is negative inside is contoured on a grid, then the vertices are spread evenly and moved
onto the surface. Crown and root meet at the cemento-enamel junction, roots and trunk are blended in the furcation.
No scan and no patient is behind any of them.

Coordinates are true to space (not mirrored), mm: origin where the long axis meets the junction, x mesial, y lingual,
z up. All are teeth of the patient's right side.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from biomech.tooth.crown import Crown
from biomech.tooth.model import Tooth, make_tooth
from biomech.tooth.roots import Paraboloid, Trunk

Array = NDArray[np.float64]
Field = Callable[[Array], Array]

TEETH = {
    "upper-incisor": (11, 0.50), "upper-canine": (13, 0.54), "upper-premolar-two-roots": (14, 0.56),
    "upper-premolar": (15, 0.54), "upper-molar": (16, 0.66), "lower-incisor": (41, 0.42), "lower-canine": (43, 0.52),
    "lower-premolar": (45, 0.50), "lower-molar": (46, 0.66),
}  # fmt: skip
"""Name, tooth number (ISO 3950), and the grid's spacing in mm, which makes a file of 50 to 80 kB."""
BLEND, ROUND = 0.8, 0.5
"""Widths, mm, over which roots run into the trunk and over which edges of crown and trunk are rounded."""
_ROUNDS = 12


def inside(tooth: Tooth) -> Field:
    """Return a function of points (..., 3), (mesial, buccal, apical), near the surface its distance, inside < 0."""
    roots, trunk = tooth.roots, tooth.trunk

    def field(p: Array) -> Array:
        below = _root(p, roots[0]) if trunk is None else _branched(p, trunk, roots)
        return np.where(p[..., 2] < 0.0, _crown(p, tooth.crown), below)

    return field


def _root(p: Array, root: Paraboloid) -> Array:
    """Return the distance, to first order, from a paraboloid, which goes on above its rim."""
    down = p[..., 2] - root.top
    x = (p[..., 0] - root.centre[0] - root.slope[0] * down) / root.a
    y = (p[..., 1] - root.centre[1] - root.slope[1] * down) / root.b
    value = x * x + y * y - (1.0 - down / root.length)
    across = (2.0 * x / root.a) ** 2 + (2.0 * y / root.b) ** 2
    along = 1.0 / root.length - 2.0 * (x * root.slope[0] / root.a + y * root.slope[1] / root.b)
    return value / np.sqrt(across + along**2)


def _branched(p: Array, trunk: Trunk, roots: tuple[Paraboloid, ...]) -> Array:
    share = np.clip(p[..., 2] / trunk.bottom, 0.0, 1.2)
    a, b = (u + share * (v - u) for u, v in zip(trunk.upper, trunk.lower, strict=True))
    radius = np.hypot(p[..., 0], p[..., 1])
    scaled = np.hypot(p[..., 0] / a, p[..., 1] / b)
    wall = radius * (1.0 - 1.0 / np.maximum(scaled, 1e-9))
    out = _both(np.where(scaled < 1e-6, -np.minimum(a, b), wall), p[..., 2] - trunk.bottom, 2.0 * ROUND)
    for root in roots:
        out = -_both(-out, -_both(_root(p, root), root.top - 0.5 - p[..., 2], ROUND), BLEND)
    return out


def _crown(p: Array, crown: Crown) -> Array:
    height = -p[..., 2] / crown.length
    facial, lingual, half = crown.outline(np.clip(height, 0.0, 1.0))
    side = np.where(p[..., 1] > 0.0, facial, lingual)
    power = 2.0 + 1.2 * np.clip(2.0 * height, 0.0, 1.0)
    scaled = (np.abs(p[..., 0] / half) ** power + np.abs(p[..., 1] / side) ** power) ** (1.0 / power)
    radius = np.hypot(p[..., 0], p[..., 1])
    wall = np.where(scaled < 1e-6, -half, radius * (1.0 - 1.0 / np.maximum(scaled, 1e-9)))
    top = -p[..., 2] - crown.length * crown.table(p[..., 0], p[..., 1])
    return _both(wall, 0.8 * top, ROUND)


def _both(one: Array, two: Array, width: float) -> Array:
    """Return the larger of two distances, the edge between them rounded over `width`."""
    h = np.maximum(width - np.abs(one - two), 0.0) / width
    return np.maximum(one, two) + 0.25 * width * h * h


def surface(
    field: Field, low: Array, high: Array, spacing: float, tips: Array
) -> tuple[Array, NDArray[np.int64]]:
    """Return vertices and outward triangles of the zero surface of `field` between the corners `low` and `high`.

    `tips` (n, 3): points of the surface sharper than the grid, which keep a vertex each.
    """
    import pyvista

    size = np.ceil((high - low) / spacing).astype(int) + 1
    grid = pyvista.ImageData(dimensions=size, spacing=(spacing,) * 3, origin=low)
    grid["inside"] = field(np.asarray(grid.points, dtype=np.float64))
    found = grid.contour([0.0], scalars="inside").clean()
    points, triangles = np.asarray(found.points, dtype=np.float64), found.faces.reshape(-1, 4)[:, 1:]
    return _spread(field, points, triangles.astype(np.int64), tips)


def _spread(
    field: Field, points: Array, triangles: NDArray[np.int64], tips: Array
) -> tuple[Array, NDArray[np.int64]]:
    """Return the surface with vertices moved towards the middle of their neighbours and back onto it."""
    edges = np.concatenate([triangles[:, [k, (k + 1) % 3]] for k in range(3)])
    count = np.bincount(edges[:, 0])
    held = [int(np.linalg.norm(points - tip, axis=1).argmin()) for tip in tips]
    points[held] = tips
    for i in range(_ROUNDS):
        sums = [np.bincount(edges[:, 0], points[edges[:, 1], k]) / count for k in range(3)]
        normal = _gradient(field, points)
        step = 0.5 * (np.stack(sums, axis=1) - points)
        points = points + step - np.einsum("vi,vi->v", step, normal)[:, None] * normal
        for _ in range(2 if i < _ROUNDS - 1 else 6):
            points = points - np.clip(field(points), -0.2, 0.2)[:, None] * _gradient(field, points, unit=False)
        points[held] = tips
    corner = points[triangles]
    outward = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    facing = np.einsum("fi,fi->", outward, _gradient(field, corner.mean(axis=1))) > 0.0
    return points, triangles if facing else triangles[:, ::-1]


def _gradient(field: Field, points: Array, unit: bool = True) -> Array:
    """Return the direction (V, 3) in which the field grows; not of unit length: that over the slope."""
    h = 1e-4
    slope = np.stack([(field(points + h * e) - field(points - h * e)) / (2.0 * h) for e in np.eye(3)], axis=1)
    size = np.linalg.norm(slope, axis=1, keepdims=True)
    return slope / np.maximum(size if unit else size**2, 1e-9)


def example(number: int, spacing: float) -> tuple[Array, NDArray[np.int64]]:
    """Return vertices (V, 3) and outward triangles (F, 3) of a tooth of the right side, in the file's axes."""
    tooth = make_tooth(number)
    a = tooth.anatomy
    wide = 0.5 * max(a.md_crown, a.bl_crown, a.bl_cervix) + 2.5
    low, high = np.array([-wide, -wide, -a.crown_length - 1.0]), np.array([wide, wide, tooth.root_length + 1.0])
    # off the planes of symmetry, so that no vertex of the grid lies on the surface
    tips = np.array([root.apex for root in tooth.roots])
    points, triangles = surface(inside(tooth), low + 0.013, high, spacing, tips)
    signs = np.array([1.0, -1.0, tooth.jaw_sign])
    return points * signs, triangles if np.prod(signs) > 0 else triangles[:, ::-1]


def write_ply(path: Path, points: Array, triangles: NDArray[np.int64], comment: str) -> None:
    """Write a binary PLY file."""
    head = (
        f"ply\nformat binary_little_endian 1.0\ncomment {comment}\nelement vertex {len(points)}\n"
        "property float x\nproperty float y\nproperty float z\n"
        f"element face {len(triangles)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    faces = np.zeros(len(triangles), dtype=[("count", "u1"), ("index", "<i4", 3)])
    faces["count"], faces["index"] = 3, triangles
    path.write_bytes(head.encode() + points.astype("<f4").tobytes() + faces.tobytes())


def main(folder: Path) -> None:
    """Write all example teeth into `folder`."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, (number, spacing) in TEETH.items():
        points, triangles = example(number, spacing)
        path = folder / f"{name}.ply"
        write_ply(path, points, triangles, "generated from average sizes, no patient; mm")
        print(f"{path.name}: {len(triangles)} triangles, {path.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
