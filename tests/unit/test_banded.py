"""Banded systems against dense ones."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from biomech.mechanics import banded


def _matrix(seed, n, width, spread=0.0):
    """A symmetric matrix in lower band storage and as a full one; rows scaled by up to 10^spread either way."""
    rng = np.random.default_rng(seed)
    lower = rng.normal(size=(n, width)) * 10.0 ** rng.uniform(-spread, spread, size=(n, 1))
    full = np.zeros((n, n))
    for k in range(width):
        lower[n - k :, k] = 0.0
        full += np.diag(lower[: n - k, k], -k)
    return lower, full + np.tril(full, -1).T


sizes = st.tuples(st.integers(1, 40), st.integers(1, 14)).map(lambda s: (s[0], min(s)))


@settings(max_examples=100, deadline=None)
@given(seed=st.integers(0, 10**6), size=sizes, spread=st.floats(0, 3), threshold=st.floats(-1, 1))
def test_count_of_eigenvalues_below_a_threshold(seed, size, spread, threshold):
    lower, full = _matrix(seed, *size, spread)
    values = np.linalg.eigvalsh(full)
    assert banded.negative_pivots(lower, threshold) == np.count_nonzero(values < threshold)


@pytest.mark.parametrize("n", [2, 3, 8, 9])
def test_count_with_pivots_that_vanish(n):
    # ones beside the diagonal, zeros on it: every first pivot vanishes, half the eigenvalues are negative
    lower = np.zeros((n, 2))
    lower[: n - 1, 1] = 1.0
    lower[0, 0] = 1e-30
    values = np.linalg.eigvalsh(np.diag(np.ones(n - 1), 1) + np.diag(np.ones(n - 1), -1))
    assert banded.negative_pivots(lower, 1e-3) == np.count_nonzero(values < 1e-3)


@settings(max_examples=50, deadline=None)
@given(seed=st.integers(0, 10**6), size=sizes, shift=st.floats(0, 4))
@example(seed=149, size=(20, 13), shift=3.93956667504016)  # one that seemed to stand at 1.6 times its value
def test_negative_modes(seed, size, shift):
    lower, full = _matrix(seed, *size)
    lower[:, 0] += shift
    full += shift * np.eye(len(full))
    values, modes = banded.negative_modes(lower)
    expected = np.linalg.eigvalsh(full)
    assert np.allclose(values, expected[expected < 0], atol=1e-2 * np.abs(expected).max())
    assert np.allclose(np.linalg.norm(modes, axis=0), 1.0)


def test_negative_modes_of_a_long_matrix_are_found_without_all_the_others():
    n = 300
    lower = np.zeros((n, 2))
    lower[:, 0], lower[:-1, 1] = 2.0 - 1e-3, -1.0  # eigenvalues 2 - 2 cos(k pi/(n + 1)) - 1e-3
    exact = 2 - 2 * np.cos(np.arange(1, n + 1) * np.pi / (n + 1)) - 1e-3
    values, modes = banded.negative_modes(lower)
    assert np.allclose(values, exact[exact < 0], rtol=1e-3)
    product = lower[:, :1] * modes
    product[:-1] += lower[:-1, 1:] * modes[1:]
    product[1:] += lower[:-1, 1:] * modes[:-1]
    assert np.allclose(product, values * modes, atol=1e-5)


@settings(max_examples=50, deadline=None)
@given(seed=st.integers(0, 10**6), size=sizes)
def test_solving_with_and_without_a_skew_part(seed, size):
    lower, full = _matrix(seed, *size)
    skew, other = _matrix(seed + 1, *size)
    skew[:, 0] = 0.0
    skewed = np.tril(other, -1) - np.tril(other, -1).T
    diagonal = 10.0 * size[1]
    lower[:, 0] += diagonal
    full += diagonal * np.eye(len(full))
    rhs = np.random.default_rng(seed).normal(size=(len(full), 2))
    assert np.allclose(full @ banded.factor(lower).solve(rhs), rhs)
    assert np.allclose((full + skewed) @ banded.factor(lower, skew).solve(rhs), rhs)
    assert banded.is_definite(lower) == bool(np.linalg.eigvalsh(full)[0] > 0)
