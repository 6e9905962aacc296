"""Stress of the ligament on its middle surface.

Stresses of 20-node hexahedra are best at the 2 x 2 x 2 Gauss points (Barlow 1976, from memory). On the middle surface
the mean of the nearest points of its two sides is taken; with an odd number of layers those are the two of the middle
element. The free rim of a bonded layer is singular: a maximum there grows with every finer mesh. Read this surface and
its high percentiles by area.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.solid.elements import CORNERS, derivatives, gauss, shapes
from biomech.solid.grid import Index

if TYPE_CHECKING:
    from biomech.solid.mesh import SolidMesh
    from biomech.solid.support import SolidSupport

_VOIGT = np.array([[0, 5, 4], [5, 1, 3], [4, 3, 2]])


@dataclass(frozen=True, eq=False)
class MidLayer:
    """The ligament on its middle surface, at P points; stresses (..., P) in MPa, tension positive.

    `points` (P, 3) mm and `normals` (P, 3), towards the bone, in the tooth frame; `weights` (P,) mm2; `height` (P,) mm:
    along the long axis, 0 at the deepest point of the layer's middle; `angle` (P,) rad about the long axis: 0
    mesial, pi/2 buccal; `hydrostatic`: mean of the principal stresses; `principal` (..., P, 3), the largest first;
    `normal`: across the layer; `shear` >= 0: along it.
    """

    points: Array
    normals: Array
    weights: Array
    height: Array
    angle: Array
    hydrostatic: Array
    principal: Array
    normal: Array
    shear: Array

    @property
    def area(self) -> float:
        """Area of the middle surface, mm2."""
        return float(self.weights.sum())

    def percentile(self, values: Array, share: float) -> Array:
        """Return what `values` (..., P) stay below on `share` (0 to 1) of the area."""
        if not 0.0 <= share <= 1.0:
            raise InputError(f"percentile by area: share = {share!r} cannot be used; allowed: 0 to 1")
        order = np.argsort(values, axis=-1)
        covered = np.cumsum(self.weights[order], axis=-1) - 0.5 * self.weights[order]
        ranked = np.take_along_axis(np.asarray(values), order, axis=-1)
        flat = zip(covered.reshape(-1, len(self.weights)), ranked.reshape(-1, len(self.weights)), strict=True)
        out = [np.interp(share * self.area, x, y) for x, y in flat]
        return np.asarray(out).reshape(np.shape(values)[:-1])

    def mean(self, values: Array) -> Array:
        """Return the mean (...) of `values` (..., P) over the area."""
        return np.asarray(values @ self.weights / self.area)


def stresses(support: SolidSupport, motion: Array) -> MidLayer:
    """Return the stress on the middle of the ligament for motions (..., 6) of the tooth, small ones: see `support`.

    For a wrench take `support.motion(wrench)`. For a law that stiffens use biomech.solid.loaded.
    """
    motion = np.asarray(motion, dtype=np.float64)
    if motion.shape[-1:] != (6,) or not np.isfinite(motion).all():
        raise InputError(f"motion of a tooth must be six finite numbers, has shape {motion.shape}")
    displacement = np.einsum("nia,...a->...ni", support.fields, motion)
    stress = support.stress(displacement, np.unique(support.mesh.around))
    return middle(support.mesh, support.signs, stress)


def middle(mesh: SolidMesh, signs: Array, stress: Array) -> MidLayer:
    """Return the middle layer from the stress (..., A, 8, 6) at the Gauss points of the elements beside it.

    A: the elements of `mesh.around` in ascending order; anatomical axes.
    """
    points, normals, weights, tensor = middle_stress(mesh, stress)
    traction = np.einsum("...pij,pj->...pi", tensor, normals)
    across = np.einsum("...pi,pi->...p", traction, normals)
    along = traction - across[..., None] * normals
    deepest = points[:, 2].max()
    return MidLayer(
        points=points * signs,
        normals=normals * signs,
        weights=weights,
        height=deepest - points[:, 2],
        angle=np.arctan2(points[:, 1], points[:, 0]),
        hydrostatic=np.einsum("...ii->...", tensor) / 3.0,
        principal=np.asarray(np.linalg.eigvalsh(tensor)[..., ::-1], dtype=np.float64),
        normal=across,
        shear=np.linalg.norm(along, axis=-1),
    )


def middle_stress(mesh: SolidMesh, stress: Array) -> tuple[Array, Array, Array, Array]:
    """Return points, normals (P, 3), weights (P,) and stress (..., P, 3, 3) of the middle layer, see `middle`."""
    rows = np.searchsorted(np.unique(mesh.around), mesh.around)
    outer_gauss, inner_gauss = np.arange(1, 8, 2), np.arange(0, 8, 2)  # zeta = +, -
    same = bool((rows[0] == rows[1]).all())
    low = stress[..., rows[0], :, :][..., inner_gauss if same else outer_gauss, :]
    high = stress[..., rows[1], :, :][..., outer_gauss if same else inner_gauss, :]
    tensor = tensors(0.5 * (low + high)).reshape(*stress.shape[:-3], -1, 3, 3)
    return *_surface(mesh, 0.0 if same else 1.0), tensor


def tensors(stress: Array) -> Array:
    """Return symmetric tensors (..., 3, 3) of components (..., 6): xx, yy, zz, yz, zx, xy."""
    return np.asarray(stress[..., _VOIGT])


def at_corners(stress: Array, corners: Index, count: int) -> Array:
    """Return values (count, k) at nodes from those at the Gauss points (E, 8, k) of elements with `corners` (E, 8).

    Carried on linearly to the corners of each element and averaged there; 0 at nodes that are no corners.
    """
    end = np.sqrt(3.0) * CORNERS
    place = gauss()[0] * np.sqrt(3.0)  # signs of the Gauss points
    carry = 0.125 * (1.0 + end[:, None, :] * place[None, :, :]).prod(axis=2)  # (corner, Gauss point)
    value = np.einsum("cg,egk->eck", carry, stress)
    total = np.zeros((count, stress.shape[-1]))
    np.add.at(total, corners, value)
    return np.asarray(total / np.maximum(np.bincount(corners.ravel(), minlength=count), 1)[:, None])


def _surface(mesh: SolidMesh, zeta: float) -> tuple[Array, Array, Array]:
    """Return points, unit normals and weights of the middle surface at 2 x 2 Gauss points of its elements."""
    flat, weight = gauss()
    place, weight = flat[::2].copy(), weight[::2] * 1.0
    place[:, 2] = zeta
    nodes = mesh.points[mesh.hexes[mesh.around[0]]]
    points = np.einsum("ga,eai->egi", shapes(place), nodes)
    slope = np.einsum("gai,eaj->egij", derivatives(place), nodes, optimize=True)
    vector = np.cross(slope[..., 0, :], slope[..., 1, :]).reshape(-1, 3)
    size = np.linalg.norm(vector, axis=-1)
    weights = size * np.tile(weight, len(nodes))
    return points.reshape(-1, 3), vector / size[:, None], weights
