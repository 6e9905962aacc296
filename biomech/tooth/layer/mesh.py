"""A curved surface mesh of the middle of the ligament, and what is needed of it at its quadrature points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.tooth.layer.elements import table

Indices = NDArray[np.int64]
_LEAST = 1e-9  # of the mean area


class Block(NamedTuple):
    """Elements of one kind: `nodes` (E, k), k = 3, 6 or 9, anticlockwise seen from outside.

    Where `bears` is false the layer carries pressure along but neither load nor volume, see `furcation`.
    """

    nodes: Indices
    bears: bool = True


@dataclass(frozen=True, eq=False)
class LayerMesh:
    """Nodes `points` (N, 3) mm, `thickness` (N,) mm of the layer there, `rim` (N,) true at the crest, and elements."""

    points: Array
    thickness: Array
    rim: NDArray[np.bool_]
    blocks: tuple[Block, ...]

    def __post_init__(self) -> None:
        if not (np.isfinite(self.thickness).all() and self.thickness.min() > 0.0):
            worst = float(np.min(self.thickness))
            raise InputError(f"ligament thickness = {worst:g} mm cannot be used; allowed: above 0 everywhere")
        if not self.rim.any():
            raise InputError("the root surface has no rim at the crest: a closed surface has no crest to be cut at")


class Geometry(NamedTuple):
    """At the quadrature points of E elements: position, unit normal (E, Q, 3), area (E, Q) mm2, thickness (E, Q).

    `gradients` (E, Q, 2, k): slopes of the shape functions along two unit vectors in the surface.
    """

    position: Array
    normal: Array
    area: Array
    thickness: Array
    gradients: Array


def geometry(mesh: LayerMesh, block: Block) -> Geometry:
    """Return the geometry of a block; an element without area or folded over raises InputError with its place."""
    rule = table(block.nodes.shape[1])
    corners = mesh.points[block.nodes]
    position = rule.value @ corners
    along = np.einsum("qak,eki->eqai", rule.slope, corners)
    vector = np.cross(along[:, :, 0], along[:, :, 1])
    size = np.linalg.norm(vector, axis=-1)
    upright = np.einsum("eqi,ei->eq", vector, vector.mean(axis=1)) > 0.0
    if not (size.min() > _LEAST * size.mean() and upright.all()):
        worst = int(np.argmin(np.where(upright, size, 0.0)))
        at = ", ".join(f"{x:.2f}" for x in position.reshape(-1, 3)[worst])
        raise InputError(f"the root surface has an element without area or folded over near ({at}) mm; repair the mesh")
    first = np.linalg.norm(along[:, :, 0], axis=-1)
    shear = np.einsum("eqi,eqi->eq", along[:, :, 0], along[:, :, 1]) / first
    height = size / first
    one = rule.slope[None, :, 0] / first[..., None]
    two = (rule.slope[None, :, 1] - shear[..., None] * one) / height[..., None]
    return Geometry(
        position, vector / size[..., None], size * rule.weight, mesh.thickness[block.nodes] @ rule.value.T,
        np.stack([one, two], axis=2),
    )  # fmt: skip
