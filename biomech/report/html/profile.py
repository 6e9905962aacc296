"""Outline of a surface seen along the arch: the silhouette of crowns and roots in buccolingual section."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from biomech.mechanics.poses import Array
from biomech.tooth.meshes import Mesh

LEAST = 0.3
"""Width, mm, that a strip has somewhere at least: the tip of a cusp on one level alone is none."""
JOINED = 0.02
"""Gap, mm, up to which two pieces of one level are one."""


class Strip(NamedTuple):
    """A piece of a silhouette: heights `z` (k,), and its `left` and `right` edge (k,) there, mm."""

    z: Array
    left: Array
    right: Array


def silhouette(mesh: Mesh, step: float = 0.25) -> list[Strip]:
    """Return the silhouette of a mesh seen along its first axis: strips from low to high, on levels `step` mm apart.

    A strip ends and others begin where the number of pieces changes, as at a furcation.
    """
    low, high = mesh.vertices[:, 2].min(), mesh.vertices[:, 2].max()
    count = max(2, round((high - low) / step) + 1)
    inset = 1e-3 * (high - low)  # the very ends are points
    levels = np.linspace(low + inset, high - inset, count)
    done: list[Strip] = []
    open_: list[list[tuple[float, float, float]]] = []
    before: float | None = None
    for z in levels.tolist():
        pieces = _pieces(mesh, z)
        if len(pieces) != len(open_):
            done += [_strip(rows) for rows in open_]
            # what begins does so at the height at which the other ended, so that no gap shows
            open_ = [[] if before is None else [(before, a, b)] for a, b in pieces]
        for rows, (a, b) in zip(open_, pieces, strict=True):
            rows.append((z, a, b))
        before = z
    return [strip for strip in [*done, *map(_strip, open_)] if (strip.right - strip.left).max() > LEAST]


def _strip(rows: Sequence[tuple[float, float, float]]) -> Strip:
    z, left, right = np.array(rows).T
    return Strip(z, left, right)


def _pieces(mesh: Mesh, z: float) -> list[tuple[float, float]]:
    """Return the intervals that the cut of a mesh at the height `z` covers, from left to right."""
    corner = mesh.vertices[mesh.triangles][:, :, 1:]  # (F, 3, 2): across, up
    above = corner[:, :, 1] > z
    cut = corner[above.any(axis=1) & ~above.all(axis=1)]
    if not len(cut):
        return []
    ends = np.roll(cut, -1, axis=1)
    rise = ends[..., 1] - cut[..., 1]
    share = (z - cut[..., 1]) / np.where(rise == 0.0, 1.0, rise)
    crossed = (cut[..., 1] > z) != (ends[..., 1] > z)
    across = cut[..., 0] + share * (ends[..., 0] - cut[..., 0])
    left = np.where(crossed, across, np.inf).min(axis=1)
    right = np.where(crossed, across, -np.inf).max(axis=1)
    order = np.argsort(left)
    left, reach = left[order], np.maximum.accumulate(right[order])
    breaks = np.flatnonzero(left[1:] > reach[:-1] + JOINED) + 1
    begins, stops = [0, *breaks.tolist()], [*(breaks - 1).tolist(), len(left) - 1]
    return [(float(left[a]), float(reach[b])) for a, b in zip(begins, stops, strict=True)]
