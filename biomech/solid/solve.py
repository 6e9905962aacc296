"""The linear solution: one factorisation of the free unknowns, all right-hand sides at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from biomech.errors import SolveError
from biomech.mechanics.poses import Array
from biomech.solid.grid import Index

PIVOT = 1e-3
"""Share of the largest entry of a column above which the diagonal is the pivot: keeps the order symmetric."""


class Condensed(NamedTuple):
    """Six rigid motions of a face, everything else in equilibrium.

    `stiffness` (6, 6); `fields` (3 N, 6): displacements of all nodes for unit motions; `residual`: largest force
    left on a free unknown over the largest reaction, of any motion.
    """

    stiffness: Array
    fields: Array
    residual: float


def factor(matrix: Any) -> Callable[[Array], Array]:
    """Return the solver of a symmetric positive definite sparse `matrix`, for right-hand sides (N, ...).

    Fast for the sheet of a ligament; for bodies see biomech.solid.fronts.
    """
    from scipy.sparse.linalg import splu

    options = {"SymmetricMode": True}
    try:
        found = splu(matrix.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=PIVOT, options=options)
    except RuntimeError as error:
        raise SolveError(f"solid model: its stiffness cannot be factorised ({error}); a part of it is not held: "
                         "check thickness and moduli") from None  # fmt: skip
    return found.solve  # type: ignore[no-any-return]


def condense(matrix: Any, moved: Index, fixed: Index, motions: Array) -> Condensed:
    """Return the stiffness of the face `moved` (node numbers) under rigid `motions` (M, 3, 6) of its nodes.

    `matrix` (3 N, 3 N) CSC; the nodes `fixed` stand still.
    """
    size = matrix.shape[0]
    driven, held = unknowns(moved), unknowns(fixed)
    free = np.setdiff1d(np.arange(size), np.concatenate([driven, held]))
    given = motions.reshape(-1, 6)
    load = matrix[:, driven] @ given
    solve = factor(matrix[:, free][free])
    fields = np.zeros((size, 6))
    fields[driven] = given
    fields[free] = solve(-load[free])
    force = matrix @ fields
    reaction = np.abs(force[driven]).max(axis=0)
    residual = float((np.abs(force[free]).max(axis=0, initial=0.0) / reaction).max())
    if not residual < 1e-8:
        raise SolveError(f"solid model: equilibrium reached to {residual:.1e} of the reactions only, 1e-8 is needed; "
                         "give a Poisson's ratio farther from 0.5 or moduli nearer to each other")  # fmt: skip
    return Condensed(given.T @ force[driven], fields, residual)


def unknowns(nodes: Index) -> Index:
    """Return the numbers of the unknowns of `nodes`, three to a node."""
    return np.asarray((3 * np.asarray(nodes)[:, None] + np.arange(3)).ravel())
