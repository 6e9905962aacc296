"""Equilibrium near a known one: Newton in which every step finds exactly which walls push.

Newton on all walls at once flips many of them at every step, since a wall's force changes by newtons over a thousandth
of a millimetre, and may flip them for ever. In the linear problem of one step the walls that push can be found exactly
and cheaply, see `walls`; from one step in time to the next three evaluations of the network are then enough. Where that
does not end, the search of mechanics.newton from scratch takes over.
"""

from __future__ import annotations

import numpy as np

from biomech.mechanics.contact import ContactLaw
from biomech.mechanics.links import Law, Response, State
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.newton import Run, Settings, limited, newton, relative_error
from biomech.mechanics.poses import Array, Pose
from biomech.mechanics.steps import extent, moved, predict
from biomech.movement.walls import Touching, Walls, WallStep, step_with_walls

_STEPS = 30
_FAR = 1e-2
"""Relative residual above which an indefinite tangent is not believed."""
LAST = 3e-5
"""Relative residual below which one more step of Newton is the last, unchecked, unless told otherwise: it leaves some
1e-6, far below the error of the time rule. The moment that a step ends with is brought to the full tolerance."""


def touching(network: Network, poses: Pose) -> Touching:
    """Return which walls push at `poses` (1, frames)."""
    laws = ((i, g, g.law) for i, g in enumerate(network.groups))
    return {i: law.walls(g.strain(poses))[0] > 0 for i, g, law in laws if isinstance(law, ContactLaw)}


def settle(
    network: Network,
    poses: Pose,
    states: list[State],
    settings: Settings,
    walls: Touching,
    predicted: list[Array] | None = None,
    last: float = LAST,
) -> tuple[Run, Touching]:
    """Return the equilibrium near `poses` (1, frames), starting with the contacts `walls`, and the contacts there.

    `predicted` are the link stresses expected, for the geometric part of the first tangent: those of an equilibrium
    nearby say more than those at `poses`, where stiff wires are stretched on paper. `last` see LAST. `ok` of the run
    tells whether it was found.
    """
    run, found = _keep_and_change(network, poses, states, settings, walls, predicted, last)
    if not run.ok[0]:
        run = newton(network, poses, states, 1.0, settings)
        found = touching(network, run.poses)
    return run, found


def _keep_and_change(
    network: Network,
    poses: Pose,
    states: list[State],
    settings: Settings,
    walls: Touching,
    predicted: list[Array] | None,
    last: float,
) -> tuple[Run, Touching]:
    for taken in range(_STEPS):
        kept = _Kept(walls)
        evaluation = network.evaluate(poses, states, 1.0, kept)
        residual = network.residual(evaluation, poses)
        error = relative_error(residual, evaluation, poses)
        if not np.isfinite(error).all():
            break
        try:
            one = _step(network, evaluation, poses, states, residual[0], predicted, kept, bool(error[0] > _FAR))
        except np.linalg.LinAlgError:
            break
        step = network.frame_steps(limited(one.dq, settings, extent(poses)))
        poses = moved(poses, step)
        if error[0] <= last * min(1.0, 1e9 * settings.tolerance) and one.found and one.kept:
            return Run(poses, evaluation, error, np.array([taken]), np.ones(1, dtype=bool)), walls
        predicted = predict(network, evaluation, step)
        walls = one.walls
    return Run(poses, evaluation, error, np.array([taken]), np.zeros(1, dtype=bool)), walls


def _step(
    network: Network,
    evaluation: Evaluation,
    poses: Pose,
    states: list[State],
    residual: Array,
    predicted: list[Array] | None,
    kept: _Kept,
    far: bool,
) -> WallStep:
    """Return the Newton step from one configuration; raises LinAlgError for a singular tangent."""
    lower = network.tangent(evaluation, poses, predicted, coupled=True)[0]
    rows = Walls.at(network, evaluation, kept.depths)
    pushing = rows.flat(kept.walls)
    if not network.has_potential(evaluation):
        skew = network.skew(evaluation, poses, predicted, coupled=True)[0]
        return step_with_walls(rows, lower, skew, residual, pushing)
    one = step_with_walls(rows, lower, None, residual.copy(), pushing)
    if one.found or not far:
        return one
    # far from equilibrium forces are fictitious and may make the tangent indefinite: Gauss-Newton leads nearer
    flat = network.evaluate(poses, states, 1.0, _Kept(kept.walls, flat=True))
    return step_with_walls(rows, network.flat_tangent(flat, poses)[0], None, residual, pushing)


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
