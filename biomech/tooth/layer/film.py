"""The surface equation on a mesh: pressures of the six rigid motions, and the support they make."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.tooth.layer.elements import table
from biomech.tooth.layer.mesh import Block, Geometry, Indices, LayerMesh, geometry
from biomech.tooth.support import motion_matrix
from biomech.tooth.tractions import Support

_BAND = 1_000_000
"""Entries of the band beyond which a sparse factorisation is faster (measured)."""


_NOTHING = 1e-12


class Moduli(NamedTuple):
    """Moduli of the layer, MPa: `flowing` Ee = E/(1 - nu^2), `shear` G, `held` M - Ee, what holding adds to Ee."""

    flowing: float
    shear: float
    held: float


def moduli(young: float, poisson: float) -> Moduli:
    """Return the moduli of an isotropic layer. Raises InputError unless 0 <= poisson < 0.5 and young > 0."""
    if not 0.0 <= poisson < 0.5:
        raise InputError(f"ligament poisson = {poisson!r} cannot be used; allowed: 0 or more, below 0.5")
    if not 0.0 < young < float("inf"):
        raise InputError(f"ligament young = {young!r} MPa cannot be used; allowed: above 0")
    flowing = young / (1 - poisson**2)
    # M - Ee in a form that loses no digits where both are nearly equal
    return Moduli(flowing, young / (2 * (1 + poisson)), flowing * poisson**2 / (1 - 2 * poisson))


def film_support(mesh: LayerMesh, layer: Moduli) -> Support:
    """Return the support of a root whose ligament is `mesh`, about the origin of its coordinates.

    Pressure and shear are those in the middle of the layer, at the quadrature points. Raises InputError for a mesh that
    cannot be used.
    """
    parts = [(block, geometry(mesh, block)) for block in mesh.blocks]
    excess = pressure_of_motions(mesh, parts, layer)
    found = [_part(block, g, excess, layer) for block, g in parts if block.bears]
    points, normals, weights, pressure, shear = (np.concatenate(x) for x in zip(*found, strict=True))
    return Support.of_tractions(points, normals, weights, pressure, shear, "surface")


def pressure_of_motions(mesh: LayerMesh, parts: list[tuple[Block, Geometry]], layer: Moduli) -> Array:
    """Return p (N, 6) at the nodes for unit motions, MPa per mm and per rad; `held` may be infinite."""
    excess = np.zeros((len(mesh.points), 6))
    if layer.held <= _NOTHING * layer.flowing:  # holding adds nothing to a layer that does not widen when pressed
        return excess
    free = np.flatnonzero(~mesh.rim)
    free = free[np.argsort(mesh.points[free, int(np.argmax(np.ptp(mesh.points, axis=0)))], kind="stable")]
    place = np.full(len(mesh.points), -1)
    place[free] = np.arange(len(free))
    load = np.zeros((len(mesh.points), 6))
    entries: list[tuple[Indices, Array]] = []
    for block, g in parts:
        matrix, drive = _element(block, g, layer)
        entries.append((place[block.nodes], matrix))
        np.add.at(load, block.nodes, drive)
    excess[free] = _solve(len(free), entries, load[free])
    return excess


def _element(block: Block, g: Geometry, layer: Moduli) -> tuple[Array, Array]:
    """Return matrices (E, k, k) and loads (E, k, 6) of the elements of a block."""
    value = table(block.nodes.shape[1]).value
    root = np.sqrt(g.area * g.thickness**3 / (12 * layer.shear))
    slopes = (root[..., None, None] * g.gradients).reshape(len(root), -1, value.shape[1])
    matrix = np.swapaxes(slopes, 1, 2) @ slopes
    if not block.bears:
        return matrix, np.zeros((*block.nodes.shape, 6))
    stored = np.sqrt(g.area * g.thickness / layer.held)[..., None] * value
    matrix += np.swapaxes(stored, 1, 2) @ stored
    pushed = np.einsum("eqi,eqij->eqj", g.normal, motion_matrix(g.position))
    return matrix, value.T @ (g.area[..., None] * pushed)


def _solve(count: int, entries: list[tuple[Indices, Array]], load: Array) -> Array:
    """Return the solution (count, 6) of the symmetric system; element nodes < 0 are left out."""
    found = []
    for nodes, matrix in entries:
        row, column = np.broadcast_arrays(nodes[:, :, None], nodes[:, None, :])
        kept = (row >= column) & (column >= 0)
        found.append((row[kept], column[kept], matrix[kept]))
    row, column, value = (np.concatenate(x) for x in zip(*found, strict=True))
    width = int((row - column).max(initial=0)) + 1
    solution = _banded(row, column, value, width, load) if width * count <= _BAND else _sparse(row, column, value, load)
    if solution is None or not np.isfinite(solution).all():
        raise InputError(
            "the pressure in the ligament is not determined: a part of the root surface has no rim at the crest"
        )
    return solution


def _banded(row: Indices, column: Indices, value: Array, width: int, load: Array) -> Array | None:
    """Return the solution by a banded Cholesky factorisation, the best for handbook roots; None without one."""
    from scipy.linalg import LinAlgError, solveh_banded

    count = len(load)
    band = np.bincount((row - column) * count + column, value, minlength=width * count).reshape(width, count)
    try:
        out: Array = solveh_banded(band, load, lower=True, check_finite=False)
    except LinAlgError:
        return None
    return out


def _sparse(row: Indices, column: Indices, value: Array, load: Array) -> Array | None:
    """Return the solution by a sparse factorisation, for large meshes; None where there is none."""
    from scipy.sparse import coo_array
    from scipy.sparse.linalg import splu

    below = row > column
    rows, columns = np.concatenate([row, column[below]]), np.concatenate([column, row[below]])
    matrix = coo_array((np.concatenate([value, value[below]]), (rows, columns)), shape=(len(load), len(load)))
    try:
        lu = splu(matrix.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    except RuntimeError:  # exactly singular
        return None
    out: Array = lu.solve(load)
    return out


def _part(block: Block, g: Geometry, excess: Array, layer: Moduli) -> tuple[Array, ...]:
    """Return points, normals, weights, pressure (P, 6) and shear (P, 3, 6) of a block."""
    b = motion_matrix(g.position)
    along = np.einsum("eqi,eqij->eqj", g.normal, b)
    p = table(block.nodes.shape[1]).value @ excess[block.nodes] + (layer.flowing / g.thickness)[..., None] * along
    s = (layer.shear / g.thickness)[..., None, None] * (b - g.normal[..., :, None] * along[..., None, :])
    flat = (x.reshape(-1, *x.shape[2:]) for x in (g.position, g.normal, g.area, p, s))
    return tuple(flat)
