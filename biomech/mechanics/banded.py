"""Symmetric banded systems: factor, solve, count negative pivots, lowest mode (LAPACK underneath)."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.linalg import lapack

from biomech.mechanics.poses import Array


class Factor(NamedTuple):
    """Factor of one matrix in lower band storage; `definite` is False when it fell back to pivoted LU."""

    definite: bool
    data: Array
    pivots: np.ndarray | None
    band: int

    def solve(self, rhs: Array) -> Array:
        """Return the solution for right-hand sides (unknowns,) or (unknowns, n)."""
        if self.definite:
            x, info = lapack.dpbtrs(self.data, rhs, lower=1)
        else:
            x, info = lapack.dgbtrs(self.data, self.band, self.band, rhs, self.pivots)
        if info != 0:
            raise np.linalg.LinAlgError(f"banded solve failed with code {info}")
        out: Array = x
        return out


def factor(lower: Array) -> Factor:
    """Factor one matrix given as (unknowns, band + 1), entry [j, i - j] = a[i, j].

    Cholesky when positive definite, which is also the proof of stability; otherwise pivoted LU. Raises
    numpy.linalg.LinAlgError for a singular or non-finite matrix.
    """
    band = lower.shape[1] - 1
    data, info = lapack.dpbtrf(lower.T, lower=1)
    if info == 0:
        return Factor(True, data, None, band)
    full = to_general(lower)
    lu, pivots, info = lapack.dgbtrf(full, band, band, overwrite_ab=1)
    if info != 0:
        raise np.linalg.LinAlgError("singular tangent")
    return Factor(False, lu, pivots, band)


def to_general(lower: Array) -> Array:
    """Return LAPACK general band storage (3 band + 1, n) of a symmetric matrix in lower storage (n, band + 1)."""
    n, width = lower.shape
    band = width - 1
    full = np.zeros((3 * band + 1, n), order="F")
    for k in range(width):
        diagonal = lower[: n - k, k]
        full[2 * band + k, : n - k] = diagonal
        full[2 * band - k, k:] = diagonal
    return full


def negative_pivots(lower: Array, threshold: float = 0.0) -> int:
    """Return how many eigenvalues of the matrix lie below `threshold` (Sylvester's law of inertia)."""
    from scipy.linalg import eigvals_banded

    values = eigvals_banded(lower.T, lower=True)
    return int(np.count_nonzero(values < threshold))


def lowest_mode(lower: Array) -> tuple[float, Array]:
    """Return the smallest eigenvalue and its unit eigenvector (unknowns,)."""
    from scipy.linalg import eig_banded

    values, vectors = eig_banded(lower.T, lower=True, select="i", select_range=(0, 0))
    return float(values[0]), vectors[:, 0]
