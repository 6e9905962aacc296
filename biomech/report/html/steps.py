"""What the page shows at each position of its slider: poses, wires, forces and numbers, from solutions in a row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array, Pose, pose_log
from biomech.outputs import REGISTRY, ToothView, Value
from biomech.outputs._view import station_points
from biomech.studies import Solution

IN_EQUILIBRIUM = "Teeth and wires in equilibrium."
MOVED = ("crown_mm", "bracket_mm", "apex_mm", "lingual_cusp_mm", "long_axis_mm", "turn_deg", "tip_deg_per_mm",
         "apex_to_crown", "rotation_centre_depth_mm", "movement")  # fmt: skip
"""Outputs of a tooth that follow from its movement since the first step; the others belong to one moment."""


SLIDER = ("movement", "crown_mm", "apex_mm", "force_N", "moment_at_bracket_N_mm", "moment_to_force_mm")
"""Outputs shown at every step; all others are computed for the last one only."""


@dataclass(frozen=True)
class WireState:
    """A wire at one step: stations `points` (n, 3), mm, global; peak stress over elastic limit `share` (n,)."""

    points: Array
    share: Array
    radius: float


@dataclass(frozen=True)
class Step:
    """One position of the slider.

    By tooth: `motions` (6,), screw from where the tooth stood at first, in its axes there; `forces` (3,), N, in tooth
    axes now; `numbers`, outputs by key (all at the last step). `wires` by name.
    """

    label: str
    note: str
    motions: Mapping[int, Array]
    forces: Mapping[int, Array]
    numbers: Mapping[int, Mapping[str, Value]]
    wires: Mapping[str, WireState]


def steps_of(solutions: Sequence[tuple[str, Solution]], notes: Sequence[str] | None = None) -> list[Step]:
    """Return the steps of labelled solutions, the first being the arch before anything acts; `notes` one a solution.

    Raises InputError when there is none, or when their arches have different teeth.
    """
    if not solutions:
        raise InputError("a report needs at least one solution")
    first = solutions[0][1]
    for label, solution in solutions:
        if list(solution.teeth) != list(first.teeth):
            raise InputError(f"'{label}' has other teeth than '{solutions[0][0]}'; one report shows one arch")
    starts = {number: view.part.pose for number, view in first.teeth.items()}
    said = notes or [IN_EQUILIBRIUM] * len(solutions)
    wanted = [SLIDER] * (len(solutions) - 1) + [tuple(REGISTRY.names())]
    rows = zip(solutions, said, wanted, strict=True)
    return [_before(first), *(_step(label, note, solution, starts, keys) for (label, solution), note, keys in rows)]


def in_time(solutions: Sequence[tuple[str, Solution]]) -> bool:
    """Return whether teeth were carried on from one solution to the next, as in a course of treatment."""
    first = solutions[0][1].teeth
    return any(not _same(v.part.pose, first[n].part.pose) for _, s in solutions for n, v in s.teeth.items())


def _same(a: Pose, b: Pose) -> bool:
    return np.array_equal(a.position, b.position) and np.array_equal(a.rotation, b.rotation)


def _before(solution: Solution) -> Step:
    still, none = np.zeros(6), np.zeros(3)
    numbers: dict[int, dict[str, Value]] = {n: {} for n in solution.teeth}
    note = "The teeth where they stand before any wire acts; nothing has moved."
    return Step("start", note, {n: still for n in numbers}, {n: none for n in numbers}, numbers, {})


def _step(label: str, note: str, solution: Solution, starts: Mapping[int, Pose], keys: Sequence[str]) -> Step:
    views = {n: since(view, starts[n]) for n, view in solution.teeth.items()}
    numbers = {
        n: {key: REGISTRY.get(key).compute(view if key in MOVED else solution.teeth[n]) for key in keys}
        for n, view in views.items()
    }
    return Step(
        label,
        note,
        {n: view.motion for n, view in views.items()},
        {n: view.wrench[:3] for n, view in views.items()},
        numbers,
        {name: _wire(solution, name) for name in solution.wires},
    )


def since(view: ToothView, start: Pose) -> ToothView:
    """Return the view of a tooth as moved from the pose `start`."""
    if _same(view.part.pose, start):
        return view
    return replace(view, part=replace(view.part, pose=start), motion=pose_log(start.inverse() @ view.pose))


def _wire(solution: Solution, name: str) -> WireState:
    view = solution.wires[name]
    stress = np.zeros(len(view.stress) + 1)
    stress[:-1] = view.stress[:, 0]
    stress[1:] = np.maximum(stress[1:], view.stress[:, 1])
    radius = 0.25 * (view.part.section.height + view.part.section.depth)
    return WireState(station_points(solution.appliance, solution.equilibrium, name), stress / view.limit, radius)


def part_of(value: Any, key: str) -> Any:
    """Return one entry of a table output, or None when the output does not exist here."""
    return value.get(key) if isinstance(value, Mapping) else None
