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
from biomech.outputs.movement import TINY
from biomech.outputs.tip import LEAST_GAIN
from biomech.studies import Solution

IN_EQUILIBRIUM = "Teeth and wires in equilibrium."
MOVED = ("crown_mm", "bracket_mm", "apex_mm", "lingual_cusp_mm", "long_axis_mm", "turn_deg", "tip_deg_per_mm",
         "apex_to_crown", "rotation_centre_depth_mm", "movement")  # fmt: skip
"""Outputs of a tooth that follow from its movement since the first step; the others belong to one moment."""


SLIDER = ("movement", "long_axis_mm", "force_N", "moment_at_bracket_N_mm", "moment_to_force_mm")
"""Outputs shown at every step; all others are computed for the last one, and for those that tables show."""


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
    axes now; `numbers`, outputs by key (all at the last step and where asked for). `wires` by name.
    """

    label: str
    note: str
    motions: Mapping[int, Array]
    forces: Mapping[int, Array]
    numbers: Mapping[int, Mapping[str, Value]]
    wires: Mapping[str, WireState]


def steps_of(
    solutions: Sequence[tuple[str, Solution]], notes: Sequence[str] | None = None, whole: int = -1
) -> list[Step]:
    """Return the steps of labelled solutions, the first being the arch before anything acts; `notes` one a solution.

    Number `whole` of the solutions has all outputs of its teeth, as the last has.

    Raises InputError when their arches have different teeth.
    """
    first = solutions[0][1]
    for label, solution in solutions:
        if list(solution.teeth) != list(first.teeth):
            raise InputError(f"'{label}' has other teeth than '{solutions[0][0]}'; one report shows one arch")
    starts = {number: view.part.pose for number, view in first.teeth.items()}
    said = notes or [IN_EQUILIBRIUM] * len(solutions)
    every = tuple(REGISTRY.names())
    wanted = [SLIDER] * (len(solutions) - 1) + [every]
    wanted[whole] = every
    rows = zip(solutions, said, wanted, strict=True)
    steps = [_step(label, note, solution, starts, keys) for (label, solution), note, keys in rows]
    if in_time(solutions):
        views = ({n: since(view, starts[n]) for n, view in s.teeth.items()} for _, s in solutions)
        steps = [_exact(step, of) for step, of in zip(steps, views, strict=True)]
    return [_before(first), *steps]


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


def _exact(step: Step, views: Mapping[int, ToothView]) -> Step:
    """Return a step whose long axes have moved by finite turns: the outputs' own are exact for elastic motions only."""
    numbers = {}
    for n, given in step.numbers.items():
        view = views[n]
        crown, apex = (_axis(view, mark) for mark in ("edge", "apex"))
        found: dict[str, Value] = {"long_axis_mm": {"crown": crown, "apex": apex}}
        if given.get("apex_to_crown") is not None:
            found["apex_to_crown"] = apex / crown if abs(crown) > TINY else None
        if given.get("tip_deg_per_mm") is not None:
            tip = -view.turns(np.degrees(view.motion[3:]))["torque"]
            found["tip_deg_per_mm"] = tip / crown if abs(crown) >= LEAST_GAIN else None
        numbers[n] = {**given, **found}
    return replace(step, numbers=numbers)


def _axis(view: ToothView, mark: str) -> float:
    """Return the buccal displacement, mm, of the long axis at the depth of a landmark."""
    return view.words(view.displacement(view.part.tooth.landmarks[mark] * [0.0, 0.0, 1.0]))["buccal"]


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
