"""One Newton step of a network with one-sided walls: everything else linear, which walls push found exactly.

About one configuration the depth of every wall is linear in the step x, d + D x, and the rest of the network has a
linear force R + K x. Sought is x with R + K x + sum of k (d + D x) D^T over the walls that push = 0, where a wall
pushes when d + D x > 0: the least point of a convex, piecewise quadratic function. Newton on it with an exact search
along each of its steps ends after finitely many (semismooth Newton; Qi and Sun 1993, Math. Program. 58:353; from
memory). A round costs one factorisation of the band and no evaluation of the network, so that finding the walls that
open or close costs little beside the evaluation; walls and wire are curved, so that a few evaluations remain.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from biomech.mechanics.banded import factor
from biomech.mechanics.contact import ContactLaw
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.poses import Array

Touching = dict[int, np.ndarray]
"""By group number: which walls (1, n, m) push."""
EVEN = 1e-9
"""Depth, mm, up to which it does not matter whether a wall is counted as touching."""
MOST_ROUNDS = 60
"""Factorisations a step may cost unless told otherwise."""
_UNITS = np.eye(6)[:, None, None, :]


class WallStep(NamedTuple):
    """A step (1, unknowns) and the walls that push after it.

    `found`: they solve the linear problem; `kept`: they are those that pushed before.
    """

    dq: Array
    walls: Touching
    found: bool
    kept: bool


@dataclass(frozen=True)
class Walls:
    """All W walls of a network about one configuration: `depth`, `stiffness` (W,), `rows` D (W, 12) on the unknowns
    `dofs` (W, 12), where the number of unknowns stands for a fixed frame's; `shapes` by group number.
    """

    depth: Array
    stiffness: Array
    rows: Array
    dofs: np.ndarray
    shapes: dict[int, tuple[int, ...]]

    @staticmethod
    def at(network: Network, evaluation: Evaluation, known: Mapping[int, tuple[Array, Array]]) -> Walls:
        """Return the walls about the configuration of `evaluation` (batch of one).

        `known`: what the laws' `walls` say there, by group number.
        """
        depths, stiffnesses, rows, dofs = [np.zeros(0)], [np.zeros(0)], [np.zeros((0, 12))], [np.zeros((0, 12), int)]
        shapes: dict[int, tuple[int, ...]] = {}
        for i, group in enumerate(network.groups):
            law, kinematics = group.law, evaluation.kinematics[i]
            if not isinstance(law, ContactLaw):
                continue
            depth, stiffness = known[i]
            rates = law.depth_rate(kinematics.strain, _UNITS)  # (6, 1, n, m) or less where it is the same for all
            along = np.moveaxis(np.broadcast_to(rates, (6, *depth.shape))[:, 0], 0, -1)
            shapes[i] = depth.shape
            depths.append(depth.ravel())
            stiffnesses.append(stiffness.ravel())
            rows.append((along @ kinematics.b[0]).reshape(-1, 12))
            dofs.append(np.repeat(network.unknowns_of(i), depth.shape[-1], axis=0))
        depth, stiffness, row = (np.concatenate(p) for p in (depths, stiffnesses, rows))
        return Walls(depth, stiffness, row, np.concatenate(dofs), shapes)

    def flat(self, walls: Touching) -> np.ndarray:
        """Return which walls push as one row (W,)."""
        return np.concatenate([np.zeros(0, dtype=bool), *(walls[i].ravel() for i in self.shapes)])

    def by_group(self, pushing: np.ndarray) -> Touching:
        """Return a row (W,) by group."""
        ends = np.cumsum([0, *(int(np.prod(shape)) for shape in self.shapes.values())])
        return {i: pushing[ends[k] : ends[k + 1]].reshape(s) for k, (i, s) in enumerate(self.shapes.items())}

    def change(self, dq: Array) -> Array:
        """Return the changes (W,) of the depths for a step (unknowns,)."""
        out: Array = np.einsum("wi,wi->w", self.rows, np.append(dq, 0.0)[self.dofs])
        return out

    def agree(self, pushing: np.ndarray, depth: Array) -> bool:
        """Return whether the walls `pushing` (W,) are those in touch at `depth`, but for what does not matter."""
        return not bool(np.any((pushing != (depth > 0)) & (np.abs(depth) > EVEN)))

    def add(self, lower: Array, force: Array, which: np.ndarray, signs: Array, depth: Array) -> None:
        """Let walls `which` push (sign 1) or no longer push (-1) at `depth` (W,), in the tangent's band and `force`."""
        rows, dofs = self.rows[which], self.dofs[which]
        k = signs * self.stiffness[which]
        size, width = lower.shape
        push = (k * depth[which])[:, None] * rows
        force += np.bincount(dofs.ravel(), weights=push.ravel(), minlength=size + 1)[:size]
        matrix = k[:, None, None] * rows[:, :, None] * rows[:, None, :]
        row, col = np.broadcast_arrays(dofs[:, :, None], dofs[:, None, :])
        keep = (row >= col) & (row < size)
        np.add.at(lower.reshape(-1), (col * width + row - col)[keep], matrix[keep])


def step_with_walls(
    walls: Walls, lower: Array, skew: Array | None, residual: Array, pushing: np.ndarray, rounds: int = MOST_ROUNDS
) -> WallStep:
    """Return the step of the linear problem; `lower` and `residual` hold the walls `pushing` (W,) and are changed.

    `rounds` bounds the factorisations. Raises numpy.linalg.LinAlgError for a singular tangent.
    """
    x, force, depth, before = np.zeros_like(residual), residual, walls.depth, pushing
    for count in range(rounds):
        factored = factor(lower, skew)
        way = factored.solve(-force)
        slope = walls.change(way)
        found = walls.agree(pushing, depth + slope)
        if found or (skew is None and not factored.definite) or count == rounds - 1:
            break
        # the first step starts from walls that need not be those in touch: only after it is every step a way down
        part = _least(walls.stiffness, pushing, depth, slope, -float(way @ force)) if count else 1.0
        x, depth, force = x + part * way, depth + part * slope, (1 - part) * force
        changed = np.flatnonzero((depth > 0) != pushing)
        pushing = depth > 0
        walls.add(lower, force, changed, np.where(pushing[changed], 1.0, -1.0), depth)
    return WallStep((x + way)[None], walls.by_group(pushing), found, np.array_equal(before, pushing))


def _least(stiffness: Array, pushing: np.ndarray, depth: Array, slope: Array, drop: float) -> float:
    """Return the part (0, 1] of a Newton step at which the energy is least; it begins to fall at the rate `drop`."""

    def rise(s: float) -> float:
        there = depth + s * slope
        wrong = np.maximum(there, 0.0) - np.where(pushing, there, 0.0)
        return float((stiffness * wrong) @ slope) - (1 - s) * drop

    if rise(1.0) <= 0.0:
        return 1.0
    kinks = -depth / np.where(slope == 0.0, np.inf, slope)
    at = np.concatenate([[0.0], np.sort(kinks[(kinks > 0.0) & (kinks < 1.0)]), [1.0]])
    low, high = 0, len(at) - 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if rise(float(at[middle])) <= 0.0 else (low, middle)
    a, b = rise(float(at[low])), rise(float(at[high]))
    return float(at[low] + (at[high] - at[low]) * a / (a - b)) if a < 0.0 < b else float(at[high])
