"""How much crown and apex move more or less when a stiffness changes: exact derivatives at the equilibrium."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from biomech.errors import SolveError
from biomech.mechanics.poses import Array
from biomech.outputs import ToothView
from biomech.studies import Solution

AXIS = np.array([0.0, 0.0, 1.0])
"""Takes a landmark to the long axis."""


@dataclass(frozen=True)
class Change:
    """Change of a tooth's buccal displacement at `crown` and `apex` (long axis), mm, per relative one of stiffness."""

    parameter: str
    tooth: int
    crown: float
    apex: float


def most_moved(solution: Solution) -> int | None:
    """Return the tooth whose crown moves furthest buccally or lingually; None when all are held rigidly."""
    sizes = {n: abs(buccal(view)[0]) for n, view in solution.teeth.items() if view.part.ligament is not None}
    return max(sizes, key=lambda n: sizes[n]) if sizes else None


def buccal(view: ToothView) -> tuple[float, float]:
    """Return the buccal displacement of the long axis at the depths of edge and apex, mm."""
    marks = view.part.tooth.landmarks
    moved = [view.words(view.displacement(marks[mark] * AXIS))["buccal"] for mark in ("edge", "apex")]
    return moved[0], moved[1]


def sensitivity(solution: Solution, tooth: int) -> list[Change]:
    """Return what changes at `tooth` per relative change of all ligament moduli and of each wire's Young's modulus.

    First order: a change of 10 % is 0.1 times it. Every stiffness enters its links' stresses as a factor, so their
    rates are the stresses themselves. Raises SolveError when the tangent cannot be solved.
    """
    solved, view = solution.equilibrium, solution.teeth[tooth]
    out = []
    for name, groups in _parameters(solution):
        rates = {g: solved.stress(g)[0] for g in groups}
        try:
            twist = solved.sensitivity(solved.residual_rate(rates)[None])[0, view.part.frame]
        except np.linalg.LinAlgError as error:
            raise SolveError(f"sensitivity to {name} cannot be computed: {error}") from error
        out.append(Change(name, tooth, _buccal(view, twist, "edge"), _buccal(view, twist, "apex")))
    return out


def _parameters(solution: Solution) -> Iterator[tuple[str, list[int]]]:
    appliance = solution.appliance
    if appliance.ligament_group >= 0:
        yield "moduli of all ligaments", [appliance.ligament_group]
    for name, part in appliance.wires.items():
        # of a wire with memory every stress is a factor higher, those at which it yields or transforms with the others
        stiffness = "Young's modulus" if part.past is None else "modulus and limits alike"
        yield f"{stiffness} of wire '{name}'", [int(g) for g in np.unique(part.elements[:, 0])]


def _buccal(view: ToothView, twist: Array, mark: str) -> float:
    """Return the buccal velocity of the long axis beside a landmark; the tooth moves by the body twist (v, w)."""
    point = view.part.tooth.landmarks[mark] * AXIS
    velocity = twist[:3] + np.cross(twist[3:], point)
    return float(view.words(view.relative.rotation @ velocity)["buccal"])
