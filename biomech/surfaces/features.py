"""Cusps, apices and where roots part, found on the surface itself."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from biomech.mechanics.poses import Array
from biomech.surfaces.topology import edges_of, face_vectors
from biomech.tooth.meshes import Mesh


class Peak(NamedTuple):
    """A summit: `vertex`, its `height`, and the height of the saddle over which it joins a higher one."""

    vertex: int
    height: float
    saddle: float


def peaks(mesh: Mesh, height: Array, least: float) -> list[Peak]:
    """Return the summits of `height` (V,) over the surface that rise `least` above their saddle, highest first.

    The highest one's saddle is minus infinity. (Height above the saddle is what topographers call prominence.)
    """
    directed, _, _ = edges_of(mesh.triangles)
    order = np.argsort(-height, kind="stable")
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    a, b = rank[directed].T
    links: list[list[int]] = [[] for _ in order]
    for low, high in zip(np.maximum(a, b).tolist(), np.minimum(a, b).tolist(), strict=True):
        links[low].append(high)
    root = list(range(len(order)))
    found = []
    for here, higher in enumerate(links):
        for other in higher:
            one, two = _top(root, here), _top(root, other)
            if one == two:
                continue
            summit, lower = (one, two) if one < two else (two, one)  # a lower rank is a higher summit
            rise = float(height[order[lower]] - height[order[here]])
            if rise >= least and lower != here:
                found.append(Peak(int(order[lower]), float(height[order[lower]]), float(height[order[here]])))
            root[lower] = summit
    tops = {_top(root, i) for i in range(len(order))}
    found += [Peak(int(order[t]), float(height[order[t]]), float("-inf")) for t in tops]
    return sorted(found, key=lambda p: -p.height)


def _top(root: list[int], at: int) -> int:
    while root[at] != at:
        root[at] = root[root[at]]
        at = root[at]
    return at


def ridge_middle(mesh: Mesh, height: Array, within: float) -> Array:
    """Return the mean point (3,) of the surface that lies less than `within` mm below its highest point."""
    middle = height[mesh.triangles].mean(axis=1)
    near = middle > height.max() - within
    if not near.any():
        return np.asarray(mesh.vertices[int(height.argmax())])
    area = np.linalg.norm(face_vectors(mesh), axis=1) * near
    return np.asarray((area[:, None] * mesh.vertices[mesh.triangles].mean(axis=1)).sum(axis=0) / area.sum())
