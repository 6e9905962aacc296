"""Equilibrium near a known one, from one stage in time to the next."""

from __future__ import annotations

from biomech.mechanics.links import State
from biomech.mechanics.network import Network
from biomech.mechanics.newton import Run, Settings, newton
from biomech.mechanics.poses import Array, Pose
from biomech.mechanics.touch import search_touching, touching
from biomech.mechanics.walls import Touching

_STEPS = 30
LAST = 3e-5
"""Relative residual below which one more step of Newton is the last, unchecked, unless told otherwise: it leaves some
1e-6, far below the error of the time rule. The moment that a step ends with is brought to the full tolerance."""


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

    `predicted` see mechanics.touch, `last` see LAST. `ok` of the run tells whether it was found. Where the contacts of
    nearby do not lead there, they are searched for from scratch.
    """
    last *= min(1.0, 1e9 * settings.tolerance)
    run, found = search_touching(
        network, poses, states, 1.0, settings, walls, predicted=predicted, last=last, most_steps=_STEPS
    )
    if not run.ok[0]:
        run = newton(network, poses, states, 1.0, settings)
        found = touching(network, run.poses)
    return run, found
