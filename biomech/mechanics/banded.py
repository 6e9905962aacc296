"""Symmetric banded systems: factor, solve, count negative pivots, find negative modes (LAPACK underneath)."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.linalg import lapack

from biomech.mechanics.poses import Array

_GROWTH = 1e6
"""A pivot block that leaves numbers so many times larger than those of the matrix is not trusted."""
_SPARE = 4
"""Vectors of the subspace beyond the number of modes looked for."""
_RESIDUAL = 1e-3
"""Of an eigenvector of the inverse, over its eigenvalue: that errs by about the square."""
_ITERATIONS = 40
"""Of the subspace, before all eigenvectors are computed instead."""


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


def factor(lower: Array, skew: Array | None = None) -> Factor:
    """Factor one matrix given as (unknowns, band + 1), entry [j, i - j] = a[i, j].

    Cholesky when positive definite, which is also the proof of stability; otherwise pivoted LU. `skew` is the lower
    triangle of a skew part to be added; then always LU. Raises numpy.linalg.LinAlgError for a singular or non-finite
    matrix.
    """
    band = lower.shape[1] - 1
    if skew is None:
        data, info = lapack.dpbtrf(lower.T, lower=1)
        if info == 0:
            return Factor(True, data, None, band)
    full = to_general(lower) if skew is None else to_general(lower + skew, lower - skew)
    lu, pivots, info = lapack.dgbtrf(full, band, band, overwrite_ab=1)
    if info != 0:
        raise np.linalg.LinAlgError("singular tangent")
    return Factor(False, lu, pivots, band)


def to_general(lower: Array, upper: Array | None = None) -> Array:
    """Return LAPACK general band storage (3 band + 1, n) of a matrix in lower storage (n, band + 1).

    `upper` is the lower storage of the transpose where the matrix is not symmetric.
    """
    upper = lower if upper is None else upper
    n, width = lower.shape
    band = width - 1
    full = np.zeros((3 * band + 1, n), order="F")
    for k in range(width):
        full[2 * band + k, : n - k] = lower[: n - k, k]
        full[2 * band - k, k:] = upper[: n - k, k]
    return full


def negative_pivots(lower: Array, threshold: float = 0.0) -> int:
    """Return how many eigenvalues of the matrix lie below `threshold` (Sylvester's law of inertia).

    Counts those of the pivots of a block LDL^T factorisation, blocks as wide as the band and pivoting only inside
    them; where a small pivot costs too many digits, the eigenvalues themselves.
    """
    shifted = lower.copy()
    shifted[:, 0] -= threshold
    count = _block_inertia(shifted)
    if count is None:
        from scipy.linalg import eigvals_banded

        count = int(np.count_nonzero(eigvals_banded(shifted.T, lower=True) < 0))
    return count


def _block_inertia(lower: Array) -> int | None:
    """Return the number of negative eigenvalues, None when a near-singular pivot spoils it."""
    block = max(lower.shape[1] - 1, 1)
    growth = _GROWTH * np.abs(lower).max()
    count, carried = 0, np.zeros((block, block))
    for diagonal, below in _blocks(lower, block):
        data, pivots, info = lapack.dsytrf(diagonal - carried, lower=1)
        if info != 0:
            return None
        pair = pivots < 0  # a pivot of two rows and columns has one eigenvalue of either sign
        count += int(np.count_nonzero(pair)) // 2 + int(np.count_nonzero(np.diagonal(data)[~pair] < 0))
        solved, _ = lapack.dsytrs(data, pivots, below.T, lower=1)
        carried = below @ solved
        if not np.abs(carried).max() < growth:
            return None
    return count


def _blocks(lower: Array, block: int) -> Array:
    """Return (blocks, 2, block, block): diagonal blocks and the ones below them; padded with a unit diagonal."""
    n, width = lower.shape
    number = -(-n // block)
    padded = np.zeros((number * block, 2 * block))
    padded[:n, :width] = lower
    padded[n:, 0] = 1.0
    columns = padded.reshape(number, block, 2 * block)
    row, col = np.indices((2 * block, block))
    whole = np.where(row >= col, columns[:, col, np.maximum(row - col, 0)], 0.0)
    diagonal, below = whole[:, :block], whole[:, block:]
    strict = np.tril(diagonal, -1)
    return np.stack([diagonal + np.swapaxes(strict, -1, -2), below], axis=1)


def is_definite(lower: Array) -> bool:
    """Return whether the matrix is positive definite."""
    try:
        return factor(lower).definite
    except np.linalg.LinAlgError:
        return False


def negative_modes(lower: Array, f: Factor | None = None) -> tuple[Array, Array]:
    """Return the negative eigenvalues (k,), lowest first, and their unit eigenvectors (unknowns, k).

    Inverse subspace iteration, on the matrix's factor `f` where that is known; all eigenvectors are computed only when
    negative eigenvalues hide behind many positive ones that are nearer to zero.
    """
    count = negative_pivots(lower)
    found = None
    if count and 2 * (count + _SPARE) < lower.shape[0]:
        try:
            found = _subspace(f or factor(lower), lower.shape[0], count)
        except np.linalg.LinAlgError:
            found = None
    if found is None:
        from scipy.linalg import eig_banded

        values, vectors = eig_banded(lower.T, lower=True)
        found = values[values < 0], vectors[:, values < 0]
    return found


def _subspace(f: Factor, n: int, count: int) -> tuple[Array, Array] | None:
    """Return the `count` negative eigenpairs, None when they do not come out.

    It ends by the residual: a Ritz value among many as near to zero may creep so slowly that it seems to stand.
    """
    v = np.linalg.qr(np.random.default_rng(0).normal(size=(n, count + _SPARE)))[0]
    for _ in range(_ITERATIONS):
        v = np.linalg.qr(f.solve(v))[0]
        image = f.solve(v)
        projected = v.T @ image
        inverse, turn = np.linalg.eigh(0.5 * (projected + projected.T))
        v, image = v @ turn, image @ turn
        negative = inverse[inverse < 0]
        if len(negative) == count:
            residual = np.linalg.norm(image[:, :count] - v[:, :count] * negative, axis=0)
            if (residual <= _RESIDUAL * np.abs(negative)).all():
                order = np.argsort(1 / negative)
                return 1 / negative[order], v[:, :count][:, order]
    return None
