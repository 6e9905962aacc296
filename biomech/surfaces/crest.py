"""The bone crest as a height over space, in (mesial, buccal, apical), mm: positive in the bone."""

from __future__ import annotations

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.surfaces.axes import Axes
from biomech.surfaces.cutting import Height, nearest_on
from biomech.surfaces.source import Crest, Source, in_mm, unit_vector
from biomech.tooth.meshes import Mesh

LEAN = 60.0
"""Largest angle, degrees, between the normal of the crest's plane and the long axis."""
FAR = 3.0
"""Distance (mm) from the surface up to which points of a crest curve are taken to belong to the tooth."""


def crest_height(source: Source, axes: Axes, mesh: Mesh, bone_level: float | None) -> tuple[Height, str]:
    """Return the height over the crest and what it is in words; `mesh` in the axes of the tooth.

    Without a crest in `source` it lies `bone_level` mm below the junction, across the long axis.
    """
    crest = source.crest
    if crest is None:
        level = 1.5 if bone_level is None else bone_level
        origin = "" if bone_level is not None else ", the average (from memory)"
        return _level(level), f"bone crest {level:g} mm below the cemento-enamel junction{origin}"
    if crest.curve:
        return _curve(crest, source, axes, mesh), f"bone crest along a curve of {len(crest.curve)} points"
    assert crest.point is not None
    point = axes.points(in_mm(crest.point, source.ruler))
    if crest.below is not None:
        return _level(float(point[2]) + crest.below), f"bone crest {crest.below:g} mm below the point given"
    if crest.normal is None:
        return _level(float(point[2])), "bone crest a plane across the long axis through the point given"
    normal = axes.rows @ unit_vector(crest.normal, "crest.normal")
    normal = normal if normal[2] > 0.0 else -normal
    lean = float(np.degrees(np.arccos(np.clip(normal[2], -1.0, 1.0))))
    if lean > LEAN:
        raise InputError(
            f"crest.normal leans {lean:.0f} deg from the long axis; allowed: up to {LEAN:g} deg (the plane of the "
            "crest runs across the root)"
        )
    return lambda p: (p - point) @ normal, f"bone crest a plane that leans {lean:.1f} deg"


def _level(depth: float) -> Height:
    return lambda p: np.asarray(p[..., 2] - depth)


def _curve(crest: Crest, source: Source, axes: Axes, mesh: Mesh) -> Height:
    """Return depth less that of the curve at the same angle about its middle, between points straight in angle."""
    given = np.array([in_mm(p, source.ruler) for p in crest.curve])
    points = axes.points(given)
    if len(points) > 1 and np.linalg.norm(points[0] - points[-1]) < 1e-6:
        given, points = given[:-1], points[:-1]
    if len(points) < 4:
        raise InputError(f"crest.curve has {len(points)} different points; allowed: at least 4, around the tooth")
    for number, (raw, point) in enumerate(zip(given, points, strict=True), 1):
        _, far = nearest_on(mesh, point)
        if far > FAR:
            raise InputError(
                f"crest.curve: point {number}, {source.ruler.at(raw)}, lies {far:.2g} mm off the surface; allowed: up "
                f"to {FAR:g} mm"
            )
    middle = points[:, :2].mean(axis=0)
    angle = np.unwrap(np.arctan2(*(points[:, :2] - middle).T[::-1]))
    step = np.diff(np.append(angle, angle[0] + 2.0 * np.pi * np.sign(angle[-1] - angle[0])))
    if not ((step > 1e-9).all() or (step < -1e-9).all()) or np.abs(step).max() >= np.pi:
        raise InputError("crest.curve does not run once around the tooth; give its points in order")
    order = np.argsort(angle % (2.0 * np.pi))
    at, depth = (angle % (2.0 * np.pi))[order], points[order, 2]

    def height(p: Array) -> Array:
        here = np.arctan2(p[..., 1] - middle[1], p[..., 0] - middle[0])
        return np.asarray(p[..., 2] - np.interp(here, at, depth, period=2.0 * np.pi))

    return height
