"""Stiffness of isotropic elastic hexahedra, vectorised over elements, and its assembly.

Strains are (xx, yy, zz, yz, zx, xy) with engineering shears; N, mm, MPa.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.solid.elements import derivatives, gauss
from biomech.solid.grid import Index


@dataclass(frozen=True, eq=False)
class Strains:
    """Strain matrices of E elements at their G points: `matrix` (E, G, 6, 60), `volumes` (E, G) mm3."""

    matrix: Array
    volumes: Array


def strain_matrices(points: Array, hexes: Index, order: int = 2) -> Strains:
    """Return the strain matrices of the elements `hexes` (E, 20) on the nodes `points` (N, 3), mm.

    `order`: Gauss points a direction. An element with a Jacobian that is not positive at a point raises
    InputError naming it and its middle.
    """
    place, weight = gauss(order)
    shape = derivatives(place)  # (G, 20, 3)
    nodes = points[hexes]  # (E, 20, 3)
    jacobian = np.einsum("gai,eaj->egij", shape, nodes, optimize=True)
    size = np.linalg.det(jacobian)
    check_jacobians(size, nodes)
    slope = np.linalg.solve(jacobian, np.broadcast_to(shape.swapaxes(1, 2), (*size.shape, 3, 20)))
    matrix = np.zeros((*size.shape, 6, 20, 3))
    for i in range(3):
        matrix[..., i, :, i] = slope[..., i, :]
        j, k = (i + 1) % 3, (i + 2) % 3
        matrix[..., 3 + i, :, j] = slope[..., k, :]
        matrix[..., 3 + i, :, k] = slope[..., j, :]
    return Strains(matrix.reshape(*size.shape, 6, 60), size * weight)


def check_jacobians(size: Array, nodes: Array) -> None:
    """Raise InputError where a Jacobian determinant (E, G) is not positive, with the element's middle."""
    bad = np.flatnonzero(~(size > 0.0).all(axis=1))
    if len(bad):
        where = ", ".join(f"{x:.3g}" for x in nodes[bad[0]].mean(axis=0))
        raise InputError(
            f"solid mesh: {len(bad)} of {len(size)} elements are turned inside out, first element {bad[0]} at "
            f"({where}) mm (mesial, buccal, apical); give a thinner ligament or a finer mesh"
        )


def elasticity(young: Any, poisson: Any) -> Array:
    """Return the isotropic elasticity (..., 6, 6), MPa, for Young's modulus and Poisson's ratio (...)."""
    young, poisson = np.broadcast_arrays(np.asarray(young, float), np.asarray(poisson, float))
    if not ((young > 0.0).all() and (poisson > -1.0).all() and (poisson < 0.5).all()):
        raise InputError(f"solid: young = {young} MPa, poisson = {poisson} cannot be used; "
                         "allowed: young above 0, poisson above -1 and below 0.5")  # fmt: skip
    shear = 0.5 * young / (1.0 + poisson)
    lame = young * poisson / ((1.0 + poisson) * (1.0 - 2.0 * poisson))
    out = np.zeros((*young.shape, 6, 6))
    out[..., :3, :3] = lame[..., None, None]
    for i in range(3):
        out[..., i, i] += 2.0 * shear
        out[..., 3 + i, 3 + i] = shear
    return out


def element_stiffness(strains: Strains, law: Array) -> Array:
    """Return the stiffness (E, 60, 60), N/mm, for an elasticity `law` that broadcasts to (E, G, 6, 6)."""
    b = strains.matrix
    stress = np.matmul(law * strains.volumes[..., None, None], b)
    count, points = strains.volumes.shape
    flat = b.reshape(count, 6 * points, 60).swapaxes(1, 2)
    return np.asarray(np.matmul(flat, stress.reshape(count, 6 * points, 60)))


def freedoms(hexes: Index) -> Index:
    """Return the numbers (E, 60) of the unknowns of the elements, three to a node."""
    return (3 * hexes[:, :, None] + np.arange(3)).reshape(len(hexes), 60)


def assemble(hexes: Index, stiffness: Array, count: int) -> Any:
    """Return the sparse stiffness (3 count, 3 count), CSC, of element stiffnesses (E, 60, 60)."""
    from scipy.sparse import coo_array

    place = freedoms(hexes).astype(np.int32)
    rows = np.repeat(place, 60, axis=1).ravel()
    columns = np.tile(place, (1, 60)).ravel()
    return coo_array((stiffness.ravel(), (rows, columns)), shape=(3 * count, 3 * count)).tocsc()
