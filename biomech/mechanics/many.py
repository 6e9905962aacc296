"""Many variants at once: one is solved, the others start from its solution.

Variants of one appliance end near each other, so that without contacts the rest take fewer steps from the solution of
one than from their own start; those that do not get there are solved from their own start. With contacts this does
not pay: other slots touch in other variants, and the search from the start finds them sooner (tried).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from biomech.mechanics.batch import pick, pick_states
from biomech.mechanics.contact import ContactLaw
from biomech.mechanics.links import State
from biomech.mechanics.network import Network
from biomech.mechanics.newton import Run, Settings, iterate, merged, newton, relative_error, variants
from biomech.mechanics.poses import Pose

WORTH = 8
"""Number of variants from which this pays."""
TRIAL = 10
"""Newton steps that a variant may take from the solution of another."""


def newton_many(network: Network, start: Pose, states: list[State], settings: Settings) -> Run:
    """Seek the equilibria of all variants (batch) at full activation, from the poses `start`."""
    batch = start.position.shape[0]
    if batch < WORTH or any(isinstance(g.law, ContactLaw) for g in network.groups):
        return newton(network, start, states, 1.0, settings)
    middle = np.array([batch // 2])
    one = newton(pick(network, middle), variants(start, middle), pick_states(network, states, middle), 1.0, settings)
    if not one.ok[0]:
        return newton(network, start, states, 1.0, settings)
    guess = _beside(network, start, one.poses)
    run = iterate(network, guess, states, 1.0, replace(settings, max_steps=TRIAL))
    run.steps[middle] += one.steps
    return run if run.ok.all() else _rest(network, start, states, settings, run)


def _beside(network: Network, start: Pose, found: Pose) -> Pose:
    """Return the poses found for one variant for all of them, fixed frames where each has its own."""
    fixed = network.fixed
    return Pose(
        np.where(fixed[None, :, None, None], start.rotation, found.rotation),
        np.where(fixed[None, :, None], start.position, found.position),
    )


def _rest(network: Network, start: Pose, states: list[State], settings: Settings, run: Run) -> Run:
    """Solve the variants that did not get there from their own start, and put all together."""
    which = np.flatnonzero(~run.ok)
    part = newton(pick(network, which), variants(start, which), pick_states(network, states, which), 1.0, settings)
    poses = merged(run.poses, part.poses, which)
    steps, ok = run.steps, run.ok.copy()
    steps[which] += part.steps
    ok[which] = part.ok
    evaluation = network.evaluate(poses, states)
    error = relative_error(network.residual(evaluation, poses), evaluation, poses)
    return Run(poses, evaluation, error, steps, ok)
