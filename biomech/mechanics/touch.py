"""Newton in which every step finds exactly which walls push (batch of one).

Newton on all walls at once flips many of them at every step, since a wall's force changes by newtons over a thousandth
of a millimetre, and may flip them for ever. In the linear problem of one step the walls that push can be found exactly
and cheaply, see `walls`; three evaluations of the network are then mostly enough from a known equilibrium nearby, five
after a change of the wires. From wires just laid in it leads nowhere too often: `search` is for those.
"""

from __future__ import annotations

import numpy as np

from biomech.mechanics.contact import ContactLaw
from biomech.mechanics.links import Law, Response, State
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.newton import Run, Settings, limited, relative_error
from biomech.mechanics.poses import Array, Pose
from biomech.mechanics.steps import extent, moved, predict
from biomech.mechanics.walls import MOST_ROUNDS, Touching, Walls, WallStep, step_with_walls

_FAR = 1e-2
"""Relative residual above which an indefinite tangent is not believed."""
_ROUNDS, _WILD = 20, 1.0
"""Without patience: factorisations a step may cost, and the largest mm or rad it may want to go. After a change of the
wires at a visit no more is needed."""


def touching(network: Network, poses: Pose) -> Touching:
    """Return which walls push at `poses` (1, frames)."""
    laws = ((i, g, g.law) for i, g in enumerate(network.groups))
    return {i: law.walls(g.strain(poses))[0] > 0 for i, g, law in laws if isinstance(law, ContactLaw)}


def search_touching(
    network: Network,
    poses: Pose,
    states: list[State],
    settings: Settings,
    walls: Touching,
    *,
    predicted: list[Array] | None = None,
    last: float,
    most_steps: int,
    patient: bool = True,
) -> tuple[Run, Touching]:
    """Return the equilibrium near `poses` (1, frames), starting with the contacts `walls`, and the contacts there.

    `predicted` are the link stresses expected, for the geometric part of the first tangent: those of an equilibrium
    nearby say more than those at `poses`, where stiff wires are stretched on paper. One more step is taken from a
    relative residual below `last`, unchecked: `evaluation` and `residual` of the run are those before it. `ok` of the
    run tells whether it got there; without `patient` it gives up as soon as a step has no clear answer.
    """
    for taken in range(most_steps):
        kept = _Kept(walls)
        evaluation = network.evaluate(poses, states, 1.0, kept)
        residual = network.residual(evaluation, poses)
        error = relative_error(residual, evaluation, poses)
        if not np.isfinite(error).all():
            break
        far = bool(error[0] > _FAR) and network.has_potential(evaluation)
        try:
            one = None
            if patient or taken or not far:
                one = _step(network, evaluation, poses, predicted, residual[0], kept, patient)
            if one is None or (far and not one.found):
                one = _flat_step(network, evaluation, poses, states, residual[0], kept, patient)
        except np.linalg.LinAlgError:
            break
        if not patient and (not one.found or np.abs(one.dq).max() > _WILD):
            break
        step = network.frame_steps(limited(one.dq, settings, extent(poses)))
        poses = moved(poses, step)
        if error[0] <= last and one.found and one.kept:
            return Run(poses, evaluation, error, np.array([taken]), np.ones(1, dtype=bool)), walls
        predicted = predict(network, evaluation, step)
        walls = one.walls
    return Run(poses, evaluation, error, np.array([taken]), np.zeros(1, dtype=bool)), walls


def _step(
    network: Network,
    evaluation: Evaluation,
    poses: Pose,
    predicted: list[Array] | None,
    residual: Array,
    kept: _Kept,
    patient: bool,
) -> WallStep:
    """Return the Newton step from one configuration; raises LinAlgError for a singular tangent."""
    lower = network.tangent(evaluation, poses, predicted, coupled=True)[0]
    rows = Walls.at(network, evaluation, kept.depths)
    skew = None
    if not network.has_potential(evaluation):
        skew = network.skew(evaluation, poses, predicted, coupled=True)[0]
    limit = MOST_ROUNDS if patient else _ROUNDS
    return step_with_walls(rows, lower, skew, residual.copy(), rows.flat(kept.walls), limit)


def _flat_step(
    network: Network,
    evaluation: Evaluation,
    poses: Pose,
    states: list[State],
    residual: Array,
    kept: _Kept,
    patient: bool,
) -> WallStep:
    """Return the step of Gauss-Newton.

    Far from equilibrium forces are fictitious, and a tangent made of them may be indefinite.
    """
    flat = network.evaluate(poses, states, 1.0, _Kept(kept.walls, flat=True))
    rows = Walls.at(network, evaluation, kept.depths)
    lower, limit = network.flat_tangent(flat, poses)[0], MOST_ROUNDS if patient else _ROUNDS
    return step_with_walls(rows, lower, None, residual.copy(), rows.flat(kept.walls), limit)


class _Kept:
    """Stands in for the contact laws' own response: the given walls push and pull, the others do neither.

    `depths`: by group number, depths and stiffnesses of all walls when last asked.
    """

    def __init__(self, walls: Touching, flat: bool = False) -> None:
        self.walls, self.flat = walls, flat
        self.depths: dict[int, tuple[Array, Array]] = {}

    def __call__(self, number: int, law: Law, strain: Array, state: State) -> Response:
        if not isinstance(law, ContactLaw):
            return law.respond(strain, state)
        self.depths[number] = depth, stiffness = law.walls(strain)
        kept = np.where(self.walls[number], stiffness, 0.0)
        return law.combine(strain, state, kept * depth, kept, flat=self.flat)
