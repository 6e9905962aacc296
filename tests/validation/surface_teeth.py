"""Closed surfaces of known shape, as files: a paraboloid root under a dome."""

from pathlib import Path

import numpy as np

from biomech.surfaces import Crest, Source

RADIUS, LENGTH = 3.0, 13.0
"""Of the root at the crest, mm: the case of the closed form."""
NECK, DOME = 3.0, 7.0  # mm of root above the crest, and of crown above that


def outline(rings: int, radius: float, length: float, inset: float) -> np.ndarray:
    """Return (radius, depth below the crest) of a meridian, (n, 2), from the dome's top to the apex.

    The root is the surface `inset` mm inside of r^2 = R^2 (1 - x/L), so that the middle of a ligament of twice that
    thickness is that paraboloid.
    """
    s = np.linspace(np.sqrt(1.0 + NECK / length), 0.0, rings)
    r, x = radius * s, length * (1.0 - s * s)
    normal = np.stack([2.0 * r, np.full_like(r, radius**2 / length)], axis=1)
    root = np.stack([r, x], axis=1) - inset * normal / np.linalg.norm(normal, axis=1, keepdims=True)
    turn = 0.5 * np.pi * np.linspace(0.0, 1.0, max(rings // 2, 6))[:-1]
    dome = np.stack([root[0, 0] * np.sin(turn), root[0, 1] - DOME * np.cos(turn)], axis=1)
    return np.concatenate([dome, root])


def turned_surface(rings: int, around: int, *, radius: float = RADIUS, length: float = LENGTH, inset: float = 0.0):
    """Return vertices and outward triangles of the solid of revolution, crest in z = 0, apex at z = +length."""
    line = outline(rings, radius, length, inset)
    angle = 2.0 * np.pi * np.arange(around) / around
    ring = np.stack([np.cos(angle), np.sin(angle), np.zeros(around)], axis=1)
    body = [r * ring + [0.0, 0.0, x] for r, x in line[1:-1]]
    points = np.concatenate([*body, [[0.0, 0.0, line[0, 1]], [0.0, 0.0, line[-1, 1]]]])
    here = np.arange(around)
    after = np.roll(here, -1)
    faces = []
    for k in range(len(body) - 1):
        a, b = k * around, (k + 1) * around
        faces += [np.stack([a + here, b + here, b + after], axis=1), np.stack([a + here, b + after, a + after], axis=1)]
    top, apex, last = len(points) - 2, len(points) - 1, (len(body) - 1) * around
    faces += [np.stack([np.full(around, top), here, after], axis=1)]
    faces += [np.stack([last + here, np.full(around, apex), last + after], axis=1)]
    triangles = np.concatenate(faces)
    corner = points[triangles]
    inside = np.einsum("fi,fi->", corner[:, 0], np.cross(corner[:, 1], corner[:, 2])) < 0
    return points, triangles[:, ::-1] if inside else triangles


def write_stl(path: Path, points: np.ndarray, triangles: np.ndarray) -> Path:
    """Write a binary STL file."""
    record = np.zeros(len(triangles), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    record["corners"] = points[triangles]
    path.write_bytes(b"made for a test".ljust(80) + len(triangles).to_bytes(4, "little") + record.tobytes())
    return path


def source(path: Path, **changes: object) -> Source:
    """Return the description of a `turned_surface` file."""
    given = {
        "file": path, "unit": "mm", "long_axis": (0.0, 0.0, 1.0), "buccal": (0.0, 1.0, 0.0), "cej": (0.0, 0.0, -1.5),
        "crest": Crest(point=(0.0, 0.0, 0.0)),
    }  # fmt: skip
    return Source(**{**given, **changes})
