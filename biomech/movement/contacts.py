"""Equilibrium near a known one: from one stage in time to the next, and after wires were changed at a visit."""

from __future__ import annotations

from dataclasses import replace

from biomech.mechanics.contact import ContactLaw
from biomech.mechanics.equilibrium import Equilibrium, finished
from biomech.mechanics.links import State
from biomech.mechanics.network import Network
from biomech.mechanics.newton import Run, Settings, iterate, newton
from biomech.mechanics.poses import Array, Pose
from biomech.mechanics.touch import search_touching, touching
from biomech.mechanics.walls import Touching

_STEPS = 30
_AT_A_VISIT, _CHECKED = 15, 4
"""Steps that find the walls that push after wires were changed, and steps of plain Newton after them."""
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
        network, poses, states, settings, walls, predicted=predicted, last=last, most_steps=_STEPS,
        patient=_has_potential(network),
    )  # fmt: skip
    if not run.ok[0]:
        run = newton(network, poses, states, 1.0, settings)
        found = touching(network, run.poses)
    return run, found


def settled_near(network: Network, poses: Pose, states: list[State], settings: Settings) -> Equilibrium | None:
    """Return the equilibrium near `poses` (1, frames) after a change of the wires; None where it is not found so.

    A quarter of the evaluations of a search from scratch, and the same to the last digits. Not for links that go by
    their path, nor for friction. Raises SolveError where an unstable equilibrium cannot be left.
    """
    if any(g.law.goes_by_path for g in network.groups) or not _has_potential(network):
        return None
    walls, last = touching(network, poses), max(settings.tolerance, LAST)
    run, _ = search_touching(
        network, poses, states, settings, walls, last=last, most_steps=_AT_A_VISIT, patient=False
    )
    if not run.ok[0]:
        return None
    end = iterate(network, run.poses, states, 1.0, replace(settings, max_steps=_CHECKED))
    end.steps += run.steps
    return finished(network, end, states, settings, []) if end.ok[0] else None


def _has_potential(network: Network) -> bool:
    """Return whether neither loads nor friction make the tangent unsymmetric.

    Where they do, a step that finds the walls that push has no least point to go down to, and may go round for ever.
    """
    laws = [g.law for g in network.groups if isinstance(g.law, ContactLaw)]
    rubs = any(found is not None and (found > 0).any() for found in (law.friction() for law in laws))
    return network.loads.has_potential and not rubs
