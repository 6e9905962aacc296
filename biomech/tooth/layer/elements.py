"""Surface elements: shape functions and quadrature of triangles (3, 6 nodes) and quadrilaterals (9 nodes).

Nodes of a triangle: corners, then the middles of sides 01, 12, 20. Nodes of a quadrilateral: row by row along the first
local axis, (-1, 0, 1) in each.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from biomech.mechanics.poses import Array

_INNER, _OUTER = 0.445948490915965, 0.091576213509771
_INNER_WEIGHT, _OUTER_WEIGHT = 0.223381589678011, 0.109951743655322


class Table(NamedTuple):
    """Values (Q, k) and slopes (Q, 2, k) of the k shape functions at Q quadrature points, and weights (Q,)."""

    value: Array
    slope: Array
    weight: Array


@lru_cache(maxsize=4)
def table(nodes: int) -> Table:
    """Return the table of the element with `nodes` nodes: 3, 6 or 9."""
    return {3: _triangle_3, 6: _triangle_6, 9: _quadrilateral_9}[nodes]()


def _triangle_3() -> Table:
    """Linear, with the interior three-point rule (exact to degree 2)."""
    x = np.array([[1, 1], [4, 1], [1, 4]]) / 6.0
    value = np.stack([1 - x[:, 0] - x[:, 1], x[:, 0], x[:, 1]], axis=1)
    slope = np.broadcast_to(np.array([[-1.0, 1, 0], [-1, 0, 1]]), (3, 2, 3)).copy()
    return Table(value, slope, np.full(3, 1 / 6))


def _triangle_6() -> Table:
    """Quadratic, with the symmetric six-point rule (exact to degree 4)."""
    shares = []
    for at in (_INNER, _OUTER):
        shares += [[1 - 2 * at, at, at], [at, 1 - 2 * at, at], [at, at, 1 - 2 * at]]
    c = np.array(shares)
    value = np.concatenate([c * (2 * c - 1), 4 * c * np.roll(c, -1, axis=1)], axis=1)
    d = np.array([[-1.0, 1, 0], [-1, 0, 1]])  # of the three shares along both local axes
    corner = (4 * c - 1)[:, None, :] * d
    side = 4 * (d * np.roll(c, -1, axis=1)[:, None, :] + np.roll(d, -1, axis=1) * c[:, None, :])
    weight = 0.5 * np.repeat([_INNER_WEIGHT, _OUTER_WEIGHT], 3)
    return Table(value, np.concatenate([corner, side], axis=2), weight)


def _quadrilateral_9() -> Table:
    """Biquadratic, with three Gauss points each way (exact to degree 5)."""
    x, w = np.polynomial.legendre.leggauss(3)
    f = np.stack([0.5 * x * (x - 1), 1 - x * x, 0.5 * x * (x + 1)], axis=1)
    g = np.stack([x - 0.5, -2 * x, x + 0.5], axis=1)
    value = np.einsum("pi,qj->pqij", f, f).reshape(9, 9)
    first = np.einsum("pi,qj->pqij", g, f).reshape(9, 9)
    second = np.einsum("pi,qj->pqij", f, g).reshape(9, 9)
    return Table(value, np.stack([first, second], axis=1), np.outer(w, w).ravel())
