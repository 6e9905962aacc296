"""Many scenarios solved together where they share teeth, stations and holds, one by one where they do not."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from biomech.appliance import Appliance, build
from biomech.errors import InputError, SolveError
from biomech.mechanics.batch import stack
from biomech.mechanics.equilibrium import Equilibrium, equilibrium
from biomech.mechanics.network import Network
from biomech.mechanics.poses import Pose
from biomech.outputs import tooth_views
from biomech.scenario import Scenario
from biomech.studies.solve import Solution, assembled, settings_of, solve

Progress = Callable[[str, float], None]
T = TypeVar("T")


def solve_all(
    scenarios: Sequence[Scenario], *, labels: Sequence[str] = (), progress: Progress | None = None
) -> list[Solution]:
    """Return the solutions of `scenarios`, in order; `seconds` of each are its share of those of all.

    One batch when only numbers differ (about a quarter faster than one by one); a variant that does not converge
    in it, or whose equilibrium there is unstable, is solved again by itself. Raises InputError and SolveError as
    `solve`, with the variant's label in front.
    """
    begin = time.perf_counter()
    names = list(labels) or [s.title for s in scenarios]
    found = _together(scenarios, names, progress) if len(scenarios) > 1 else None
    if found is None:
        found = [None] * len(scenarios)
    out = []
    for i, scenario in enumerate(scenarios):
        if progress is not None:
            progress(f"solving {names[i]}", i / len(scenarios))
        out.append(found[i] or _named(names[i], solve, scenario))
    share = (time.perf_counter() - begin) / max(len(scenarios), 1)
    return [replace(solution, seconds=share) for solution in out]


def _together(
    scenarios: Sequence[Scenario], names: Sequence[str], progress: Progress | None
) -> list[Solution | None] | None:
    """Return the solutions found in one batch, None for those that were not; None when they make no batch."""
    if any(s.solve != scenarios[0].solve or s.solve.refinement for s in scenarios):
        return None
    if progress is not None:
        progress(f"solving {len(scenarios)} variants together", 0.0)
    built = [_named(name, build, scenario) for name, scenario in zip(names, scenarios, strict=True)]
    if not all(_same_loads(built[0].network, a.network) for a in built):
        return None
    try:
        network, start = stack(_sharing_ligament(built), [a.start for a in built])
    except InputError:
        return None
    solved = equilibrium(network, start, settings=settings_of(scenarios[0]))
    return [_one(appliance, solved, i) if solved.converged[i] else None for i, appliance in enumerate(built)]


def _named(name: str, what: Callable[[Scenario], T], scenario: Scenario) -> T:
    try:
        return what(scenario)
    except InputError as error:
        raise InputError(f"{name}: {error}") from None
    except SolveError as error:
        raise SolveError(f"{name}: {error}") from None


def _sharing_ligament(built: Sequence[Appliance]) -> list[Network]:
    """Return the networks; the later ones take the ligament of the first where theirs says the same."""
    first = built[0]
    networks = [first.network]
    for other in built[1:]:
        groups = list(other.network.groups)
        i = other.ligament_group
        if i >= 0 and i == first.ligament_group and _same_roots(first, other):
            groups[i] = replace(groups[i], law=first.network.groups[i].law)
        networks.append(other.network.replaced(groups))
    return networks


def _same_loads(one: Network, other: Network) -> bool:
    """Return whether the loads act on the same frames in the same way; their amounts may differ."""
    a, b = one.loads, other.loads
    return np.array_equal(a.frame, b.frame) and np.array_equal(a.follows, b.follows)


def _same_roots(one: Appliance, other: Appliance) -> bool:
    """Return whether the teeth have the same ligaments on the same root surfaces."""
    if list(one.teeth) != list(other.teeth):
        return False
    for a, b in zip(one.teeth.values(), other.teeth.values(), strict=True):
        ours, theirs = a.tooth.surface, b.tooth.surface
        same = all(np.array_equal(getattr(ours, k), getattr(theirs, k)) for k in ("points", "normals", "weights"))
        if not (same and a.ligament == b.ligament and a.bed == b.bed and a.model == b.model):
            return False
        if a.support is not None and not np.array_equal(a.stiffness, b.stiffness):  # type: ignore[arg-type]
            return False
    return True


def _one(appliance: Appliance, solved: Equilibrium, i: int) -> Solution:
    """Return the solution of the variant `i` of a batch, on its own network."""
    which = slice(i, i + 1)
    poses = Pose(solved.poses.rotation[which], solved.poses.position[which])
    evaluation = appliance.network.evaluate(poses, appliance.network.start_states())
    alone = Equilibrium(
        appliance.network, poses, evaluation.states, evaluation, solved.residual[which], solved.steps[which],
        solved.negative[which], solved.left[which], solved.energy[which], solved.converged[which],
    )  # fmt: skip
    return assembled(appliance, alone, tooth_views(appliance, alone))
