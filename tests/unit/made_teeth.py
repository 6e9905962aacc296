"""Small closed surfaces for tests of surface files."""

from pathlib import Path

import numpy as np

from biomech.surfaces import Crest, Source

MESHES = Path(__file__).parents[2] / "meshes"
SMALL = (20, 24)


def made(rings, around):
    """Return vertices and outward triangles: a round paraboloid root (R 3 at z = 0, apex at z = 13) under a dome."""
    s = np.linspace(np.sqrt(1.0 + 3.0 / 13.0), 0.0, rings)
    root = np.stack([3.0 * s, 13.0 * (1.0 - s * s)], axis=1)
    turn = 0.5 * np.pi * np.linspace(0.0, 1.0, rings // 2)[:-1]
    line = np.concatenate([np.stack([root[0, 0] * np.sin(turn), root[0, 1] - 7.0 * np.cos(turn)], axis=1), root])
    angle = 2.0 * np.pi * np.arange(around) / around
    ring = np.stack([np.cos(angle), np.sin(angle), np.zeros(around)], axis=1)
    body = [r * ring + [0.0, 0.0, z] for r, z in line[1:-1]]
    points = np.concatenate([*body, [[0.0, 0.0, line[0, 1]], [0.0, 0.0, line[-1, 1]]]])
    here, faces = np.arange(around), []
    after = np.roll(here, -1)
    for k in range(len(body) - 1):
        a, b = k * around, (k + 1) * around
        faces += [np.stack([a + here, a + after, b + here], axis=1), np.stack([b + here, a + after, b + after], axis=1)]
    top, apex, last = len(points) - 2, len(points) - 1, (len(body) - 1) * around
    faces += [np.stack([here, np.full(around, top), after], axis=1)]
    faces += [np.stack([last + here, last + after, np.full(around, apex)], axis=1)]
    return points, np.concatenate(faces)


def given_source(path, *, z=1.0, molar=False, **changes):
    """Return the description of a `made` file; with `molar` that of a file of the folder meshes (z = -1: lower)."""
    given = {"unit": "mm", "long_axis": (0.0, 0.0, z), "buccal": (0.0, 1.0, 0.0), "cej": (0.0, 0.0, -1.5)}
    given["crest"] = Crest(point=(0.0, 0.0, 0.0))
    if molar:
        given |= {"buccal": (0.0, -1.0, 0.0), "cej": (0.0, 0.0, 0.0), "crest": Crest(point=(0.0, 0.0, 1.5 * z))}
    return Source(path, **{**given, **changes})


def write_stl(path, points, triangles):
    """Write a binary STL file and return its path."""
    record = np.zeros(len(triangles), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    record["corners"] = points[triangles]
    path.write_bytes(b"made for a test".ljust(80) + len(triangles).to_bytes(4, "little") + record.tobytes())
    return path


def write_ascii_stl(path, points, triangles):
    """Write a text STL file and return its path."""
    lines = ["solid made"]
    for corners in points[triangles]:
        lines += ["facet normal 0 0 0", "outer loop", *(f"vertex {x:.6f} {y:.6f} {z:.6f}" for x, y, z in corners)]
        lines += ["endloop", "endfacet"]
    path.write_text("\n".join([*lines, "endsolid made", ""]))
    return path
