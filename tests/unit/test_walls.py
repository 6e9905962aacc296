"""The linear problem of one Newton step with one-sided walls, against its conditions and against brute force."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from biomech.mechanics.poses import Array
from biomech.mechanics.walls import Walls, step_with_walls

UNKNOWNS, BAND = 18, 11


def problem(seed: int, count: int) -> tuple[Walls, Array, Array]:
    """Return walls on the first twelve or the last twelve unknowns or beside a fixed frame, K (dense) and R."""
    rng = np.random.default_rng(seed)
    root = rng.normal(size=(UNKNOWNS, UNKNOWNS))
    k = root @ root.T + np.eye(UNKNOWNS)
    row, col = np.indices(k.shape)
    k = np.where(abs(row - col) <= BAND, k, 0.0) + 20 * np.eye(UNKNOWNS)
    choices = np.array([np.arange(12), np.arange(6, 18), np.r_[np.arange(6), np.full(6, UNKNOWNS)]])
    rows, dofs = rng.normal(size=(count, 12)), choices[rng.integers(3, size=count)]
    walls = Walls(rng.normal(scale=0.3, size=count), 10 ** rng.uniform(0, 4, count), rows, dofs, {0: (1, count)})
    return walls, k, 10 * rng.normal(size=UNKNOWNS)


def lower(k: Array) -> Array:
    out = np.zeros((UNKNOWNS, BAND + 1))
    for i in range(BAND + 1):
        out[: UNKNOWNS - i, i] = np.diagonal(k, -i)
    return out


def dense_rows(walls: Walls) -> Array:
    out = np.zeros((len(walls.depth), UNKNOWNS + 1))
    np.add.at(out, (np.arange(len(walls.depth))[:, None], walls.dofs), walls.rows)
    return out[:, :UNKNOWNS]


def with_pushing(walls: Walls, k: Array, r: Array, pushing: np.ndarray) -> tuple[Array, Array]:
    d, s = dense_rows(walls)[pushing], walls.stiffness[pushing]
    return k + d.T @ (s[:, None] * d), r + d.T @ (s * walls.depth[pushing])


@pytest.mark.parametrize("seed", range(12))
def test_forces_balance_and_just_the_walls_in_touch_push(seed: int) -> None:
    walls, k, r = problem(seed, 40)
    before = np.random.default_rng(seed + 99).random(40) < 0.5
    matrix, force = with_pushing(walls, k, r, before)
    step = step_with_walls(walls, lower(matrix), None, force.copy(), before)
    assert step.found
    x, d = step.dq[0], dense_rows(walls)
    depth = walls.depth + d @ x
    np.testing.assert_allclose(walls.depth + walls.change(x), depth, atol=1e-12)
    np.testing.assert_allclose(k @ x + r + d.T @ (walls.stiffness * np.maximum(depth, 0)), 0, atol=1e-5)
    np.testing.assert_array_equal(walls.flat(step.walls), depth > 0)
    assert step.kept == np.array_equal(before, depth > 0)


@pytest.mark.parametrize("seed", range(4))
def test_the_only_solution_is_found_whatever_pushed_before(seed: int) -> None:
    walls, k, r = problem(seed, 6)
    right = []
    for pushing in map(np.array, itertools.product([False, True], repeat=6)):
        matrix, force = with_pushing(walls, k, r, pushing)
        x = np.linalg.solve(matrix, -force)
        if np.array_equal(walls.depth + walls.change(x) > 0, pushing):
            right.append((pushing, x))
    assert len(right) == 1  # convex: one set of walls only
    for pushing in map(np.array, itertools.product([False, True], repeat=6)):
        matrix, force = with_pushing(walls, k, r, pushing)
        step = step_with_walls(walls, lower(matrix), None, force, pushing)
        np.testing.assert_allclose(step.dq[0], right[0][1], atol=1e-8)


def test_an_indefinite_tangent_is_not_believed_and_no_walls_are_no_trouble() -> None:
    walls, k, r = problem(1, 10)
    none = np.zeros(10, dtype=bool)
    assert not step_with_walls(walls, lower(k - 200 * np.eye(UNKNOWNS)), None, r.copy(), none).found
    empty = Walls(np.zeros(0), np.zeros(0), np.zeros((0, 12)), np.zeros((0, 12), dtype=int), {})
    step = step_with_walls(empty, lower(k), None, r.copy(), empty.flat({}))
    np.testing.assert_allclose(k @ step.dq[0], -r, atol=1e-9)
    assert step.found and step.walls == {}
