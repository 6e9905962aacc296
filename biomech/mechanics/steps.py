"""One step of an iteration: solving for it, how far it may go, what it does to frames, strains and stresses."""

from __future__ import annotations

import numpy as np

from biomech.mechanics.banded import factor
from biomech.mechanics.kinematics import Kinematics
from biomech.mechanics.links import Links
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.poses import Array, Pose, rotation_exp


def moved(poses: Pose, step: Array) -> Pose:
    """Return poses after body twists `step` (batch, frames, 6)."""
    # x <- x + R v, R <- R exp(w): translation and rotation are updated separately
    return poses @ Pose(rotation_exp(step[..., 3:]), step[..., :3])


def strain_step(group: Links, kinematics: Kinematics, step: Array) -> Array:
    """Return the linearised change of a group's strains (batch, n, 6) for body twists (batch, frames, 6)."""
    both = np.concatenate([step[:, group.a], step[:, group.b]], axis=-1)
    out: Array = np.matmul(kinematics.b, both[..., None])[..., 0]
    return out


def predict(network: Network, evaluation: Evaluation, step: Array) -> list[Array]:
    """Return the link stresses (batch, n, 6) expected after body twists `step`, group by group: m + K B dq."""
    found: dict[int, Array] = {}
    stresses = [r.stress for r in evaluation.responses]
    for bundle, k, material in zip(evaluation.bundles, evaluation.bundled, evaluation.materials(), strict=True):
        change = np.matmul(material, strain_step(bundle.links, k, step)[..., None])[..., 0]
        found |= bundle.scattered(bundle.gathered(stresses, 2) + change)
    return [found[i] for i in range(len(network.groups))]


def newton_step(
    network: Network,
    evaluation: Evaluation,
    poses: Pose,
    residual: Array,
    predicted: list[Array] | None,
    activation: float,
    todo: np.ndarray,
    alive: np.ndarray,
) -> Array:
    """Return the Newton steps (batch, unknowns) of the variants in `todo`, see `solve_each`.

    `predicted` are the link stresses for the geometric part, the true ones when None. Loads without a potential and
    friction need the skew part of the tangent, or Newton creeps and fails for large ones.
    """
    lower = network.tangent(evaluation, poses, predicted, activation, coupled=True)
    skew = None
    if not network.has_potential(evaluation):
        skew = network.skew(evaluation, poses, predicted, activation, coupled=True)
    return solve_each(lower, residual, todo, alive, skew)


def solve_each(lower: Array, residual: Array, todo: np.ndarray, alive: np.ndarray, skew: Array | None = None) -> Array:
    """Return Newton steps of the variants in `todo`; a singular tangent takes a variant out of `alive`."""
    dq = np.zeros_like(residual)
    for i in np.flatnonzero(todo):
        try:
            dq[i] = factor(lower[i], None if skew is None else skew[i]).solve(-residual[i])
        except np.linalg.LinAlgError:
            alive[i] = False
    return dq


def extent(poses: Pose) -> Array:
    """Return the largest extent (batch,) of the frames' positions along an axis, at least 10 mm (a tooth's size)."""
    x = poses.position
    out: Array = np.maximum((x.max(axis=-2) - x.min(axis=-2)).max(axis=-1), 10.0)
    return out
