"""A direct solver for large meshes: multifrontal Cholesky on a nested dissection by place.

A body of tooth, ligament and bone fills in when it is factorised; SuperLU then spends its time in small loops. Here
the elements are halved along their longest extent again and again; the nodes common to two halves are eliminated after
them, in dense blocks that run at the speed of the matrix product (George 1973 SIAM J Numer Anal 10:345; Duff, Reid
1983 ACM Trans Math Softw 9:302; from memory). No sparse matrix is assembled.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.errors import SolveError
from biomech.mechanics.poses import Array
from biomech.solid.grid import Index

LEAF = 16
"""Elements that are eliminated at once."""


@dataclass(eq=False)
class _Front:
    """Nodes eliminated here (`own`) and those of ancestors they meet (`rest`), with the factor's two blocks."""

    own: Index
    rest: Index
    diagonal: Array
    below: Array


class Fronts:
    """The factorised stiffness of a mesh some of whose nodes are held."""

    def __init__(self, points: Array, hexes: Index, stiffness: Array, fixed: Index) -> None:
        """Factorise: `points` (N, 3), `hexes` (E, 20), `stiffness` (E, 60, 60), numbers of the nodes `fixed`.

        A part that is not held raises SolveError naming its place.
        """
        self._points, self._hexes, self._stiffness = points, hexes, stiffness
        self._middle = points[hexes].mean(axis=1)
        self._taken = np.zeros(len(points), dtype=bool)
        self._held = np.zeros(len(points), dtype=bool)
        self._held[fixed] = True
        self._fronts: list[_Front] = []
        self._eliminate(np.arange(len(hexes)))
        del self._stiffness

    def solve(self, load: Array) -> Array:
        """Return the displacements (N, 3, ...) under forces (N, 3, ...); forces on held nodes are ignored."""
        from scipy.linalg import solve_triangular

        x = np.array(load, dtype=np.float64).reshape(len(self._points), 3, -1)
        count = x.shape[2]
        x[self._held] = 0.0
        for front in self._fronts:
            part = x[front.own].reshape(3 * len(front.own), count)
            part = solve_triangular(front.diagonal, part, lower=True, check_finite=False)
            x[front.own] = part.reshape(len(front.own), 3, count)
            x[front.rest] -= (front.below @ part).reshape(len(front.rest), 3, count)
        for front in reversed(self._fronts):
            part = x[front.own].reshape(3 * len(front.own), count)
            part = part - front.below.T @ x[front.rest].reshape(3 * len(front.rest), count)
            part = solve_triangular(front.diagonal, part, lower=True, trans="T", check_finite=False)
            x[front.own] = part.reshape(len(front.own), 3, count)
        return x.reshape(np.shape(load))

    def _eliminate(self, elements: Index) -> tuple[Index, Array]:
        """Eliminate the inner nodes of `elements`; return the nodes left (R,) and their stiffness (3 R, 3 R)."""
        if len(elements) <= LEAF:
            parts = [(self._hexes[i], self._stiffness[i]) for i in elements]
            own = self._free(np.unique(self._hexes[elements]))
        else:
            middle = self._middle[elements]
            order = np.argsort(middle[:, int(np.argmax(np.ptp(middle, axis=0)))], kind="stable")
            low, high = np.array_split(elements[order], 2)
            own = self._free(np.intersect1d(self._hexes[low], self._hexes[high]))
            self._taken[own] = True
            parts = [self._eliminate(low), self._eliminate(high)]
        nodes = np.unique(np.concatenate([part[0] for part in parts]))
        rest = np.setdiff1d(nodes[~self._held[nodes]], own, assume_unique=True)
        return rest, self._factor(own, rest, self._gather(np.concatenate([own, rest]), parts))

    def _free(self, nodes: Index) -> Index:
        """Return those of the nodes that are neither held nor left to a later front."""
        return np.asarray(nodes[~(self._held[nodes] | self._taken[nodes])])

    def _gather(self, nodes: Index, parts: list[tuple[Index, Array]]) -> Array:
        """Return the sum (3 n, 3 n) of the stiffness of `parts` over `nodes` (n,); held nodes are left out."""
        place = np.full(len(self._points), -1)
        place[nodes] = np.arange(len(nodes))
        out = np.zeros((3 * len(nodes), 3 * len(nodes)))
        for of, stiffness in parts:
            at = (3 * place[of][:, None] + np.arange(3)).ravel()
            keep = np.flatnonzero(at >= 0)
            out[np.ix_(at[keep], at[keep])] += stiffness[np.ix_(keep, keep)] if len(keep) < len(at) else stiffness
        return out

    def _factor(self, own: Index, rest: Index, front: Array) -> Array:
        """Keep the factor of the nodes `own`, return what is left for the nodes `rest`."""
        from scipy.linalg import LinAlgError, cholesky, solve_triangular

        size = 3 * len(own)
        if size == 0:
            return front
        try:
            diagonal = cholesky(front[:size, :size], lower=True, check_finite=False)
        except LinAlgError:
            where = ", ".join(f"{x:.3g}" for x in self._points[own].mean(axis=0))
            raise SolveError(
                f"solid model: not held or not positive definite about ({where}) mm (mesial, buccal, apical); check "
                "thickness, moduli and what is fixed"
            ) from None
        across = solve_triangular(diagonal, front[:size, size:], lower=True, check_finite=False)
        self._fronts.append(_Front(own, rest, diagonal, np.ascontiguousarray(across.T)))
        return np.asarray(front[size:, size:] - across.T @ across)
