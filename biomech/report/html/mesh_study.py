"""What refining the wires' mesh changes: every element halved, and halved again."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from biomech.appliance import build
from biomech.errors import SolveError
from biomech.mechanics.equilibrium import equilibrium
from biomech.outputs import ToothView, tooth_views
from biomech.report.html.checks import FIGURE, MISSING, Check
from biomech.studies import Refinement, Solution
from biomech.studies.solve import compare_meshes, settings_of

MANY = 400
"""Elements beyond which the third mesh, of four times as many, is solved only where the scenario asks for it."""
NOISE = 1e-9
"""Relative change below which an order means nothing."""


def mesh(solution: Solution, where: str) -> Iterator[Check]:
    """Yield what changes on a mesh twice as fine, and (if that costs little or is asked for) four times as fine."""
    if not solution.appliance.wires:
        return
    count = sum(len(part.length) for part in solution.appliance.wires.values())
    pieces = "; ".join(f"{name}: {len(part.length)} elements" for name, part in solution.appliance.wires.items())
    once = f"mesh: every element halved, {where}"
    half = views_on(solution, 2)
    if not isinstance(half, dict):
        yield Check(once, half, pieces, MISSING)
        return
    first = compare_meshes(solution.teeth, half)
    yield Check(once, _words(first), pieces, FIGURE)
    again = f"mesh: every element halved again, {where}"
    if count > MANY and not solution.scenario.solve.refinement:
        yield Check(again, "left out for its cost; solve.refinement = true asks for it", pieces, MISSING)
        return
    quarter = views_on(solution, 4)
    if not isinstance(quarter, dict):
        yield Check(again, quarter, pieces, MISSING)
        return
    second = compare_meshes(half, quarter)
    yield Check(again, f"{_words(second)}{_order(first, second)}", f"{4 * count} elements in all", FIGURE)


def views_on(solution: Solution, refine: int) -> dict[int, ToothView] | str:
    """Return the teeth on a mesh so many times as fine, solved anew, or in words why there are none.

    None are there when the teeth did not start where the scenario puts them, so that more than the mesh would differ.
    """
    appliance = build(solution.scenario, refine=refine)
    for n, part in appliance.teeth.items():
        if not np.array_equal(part.pose.position, solution.teeth[n].part.pose.position):
            return "its teeth have moved from where the scenario puts them"
    try:
        solved = equilibrium(appliance.network, appliance.start, settings=settings_of(solution.scenario))
    except SolveError as error:
        return f"the finer mesh could not be solved: {error}"
    return tooth_views(appliance, solved)


def _parts(change: Refinement) -> Mapping[str, float]:
    return {"crowns": change.displacement, "forces": change.force, "moments": change.moment}


def _words(change: Refinement) -> str:
    listed = ", ".join(f"{name} {100 * value:.2g} %" for name, value in _parts(change).items())
    return f"change, of the largest value: {listed}"


def _order(first: Refinement, second: Refinement) -> str:
    """Return in words at which order the crowns converge, and how far they then are from the limit (Richardson)."""
    a, b = first.displacement, second.displacement
    if not (a > b > NOISE):
        return ""
    ratio = a / b
    rest = 100 * a * ratio / (ratio - 1)
    return f"; crowns converge at order {math.log2(ratio):.1f}, so those of this run err by about {rest:.2g} %"
