"""What a reader needs to judge the numbers: checks of code and of this run, sources, limits."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from biomech.appliance import build
from biomech.errors import SolveError
from biomech.mechanics.equilibrium import equilibrium
from biomech.outputs import tooth_views
from biomech.report.html.markup import Raw, brief, items, number, table, tag
from biomech.report.html.sensitivity import most_moved, sensitivity
from biomech.studies import Refinement, Solution
from biomech.studies.solve import compare_meshes, settings_of

CHECKED = (
    "beams: large bending (elastica, arcs, curved and buckling arches), stability and invariance under rotation of the "
    "whole against closed forms and an independent beam program; bending rates, V and step bends and two-bracket force "
    "systems against closed forms and published classes",
    "sections: areas, inertias, torsion and peak stress against exact series and an independent program",
    "teeth: root support and M/F ratios against closed forms; centres of resistance against published bands",
    "arch forms: perimeters and curvature against formulas",
    "slots, tubes and ties: force and stiffness of every law against its energy; torque play against the geometry of "
    "the wire's corners",
)
"""What tests/validation and tests/contracts of the program compare with what."""
ELASTIC = "Displacements are initial and elastic: what the ligament does in the first minutes. They are not treatment."
IN_TIME = (
    "Movement in time follows the rate law the scenario names. Published rates scatter widely: a course shows what "
    "follows from the assumptions and promises nothing."
)
LIMITS = (
    "Teeth come from average dimensions; a patient's roots, bone and ligament differ, and the ligament's stiffness is "
    "known to within a factor of several at best. Directions and comparisons are worth more than amounts.",
    "Bone is rigid, the suture closed; wires stay elastic and are reported when they would not.",
    "Bracket deformation is left out; stiffness of ties and ligatures has no published source.",
    "An elastic ligament's peak pressure is a poor alarm; the mean is steadier.",
)
PURPOSE = (
    "Question of use: which way a force system sends each tooth, and whether its size is of a sane order. The answer "
    "does not decide a treatment."
)


def credibility(solution: Solution, record: Mapping[str, Any], course: bool) -> Raw:
    """Return the section on how far the numbers can be trusted; `course` when teeth have moved in time."""
    return tag(
        "section",
        tag("h2", "How far these numbers can be trusted"),
        tag("p", PURPOSE),
        tag("h3", "This run"),
        _run(solution, record, course),
        tag("h3", "Sensitivity"),
        _sensitivity(solution),
        tag("h3", "The program"),
        tag("p", "The program's own tests compare it with results from outside. They belong to the version named below "
            "and were not run again for this report."),
        items(list(CHECKED)),
        tag("h3", "Inputs and their sources"),
        _inputs(solution, record),
        tag("h3", "Limits"),
        items([IN_TIME if course else ELASTIC, *LIMITS]),
        id="credibility",
    )  # fmt: skip


def _run(solution: Solution, record: Mapping[str, Any], course: bool) -> Raw:
    solved, balance = record["convergence"], record["balance"]
    through = balance["throughput_N"]
    share = balance["force_N"] / through if through > 0 else 0.0
    stable = "stable" if solved["stable"] else f"NOT stable ({solved['negative_pivots']} negative pivots)"
    if solved["unstable_state_left"]:
        stable += "; an unstable equilibrium was found first and left"
    rows: list[list[object]] = [
        ["relative residual", f"{solved['residual_relative']:.1e}", f"allowed {solved['tolerance_relative']:.0e}"],
        ["Newton steps", str(solved["newton_steps"]), f"solved in {solution.seconds:.1f} s"],
        ["stability", stable, "by the pivots of the tangent"],
        [
            "forces of the wires on all teeth, sum",
            f"{balance['force_N']:.1e} N",
            f"{share:.1e} of the sum of their sizes",
        ],
        ["their moments, sum", f"{balance['moment_N_mm']:.1e} N·mm", "about the global origin"],
        ["mesh", _mesh(solution), "straight two-node elements, exact for end loads"],
        *_fine(solution, course),
    ]
    return table("Convergence, balance and mesh.", [[("", 1), ("value", 1), ("note", 1)]], rows, words=(1, 2))


def _mesh(solution: Solution) -> str:
    parts = [f"{name}: {len(part.length)} elements" for name, part in solution.appliance.wires.items()]
    return "; ".join(parts) or "no wires"


def _fine(solution: Solution, course: bool) -> list[list[object]]:
    """Return what changes on a mesh twice as fine, solving it if the solution does not say."""
    name = "change when every element is halved"
    try:
        change = solution.refinement or (None if course else refine(solution))
    except SolveError as error:
        return [[name, "unknown", f"the finer mesh could not be solved: {error}"]]
    if change is None:
        return [[name, "unknown", "not computed for a course; refine a scenario of one moment"]]
    note = "of the largest value over all teeth"
    return [
        [f"{name}: {what}", f"{100 * value:.2g} %", note]
        for what, value in (("crowns", change.displacement), ("forces", change.force), ("moments", change.moment))
    ]


def refine(solution: Solution) -> Refinement | None:
    """Return what changes when every element of the wires is halved; solves once more. Raises SolveError.

    None when the teeth of the solution did not start where its scenario puts them, so that the two differ in more
    than the mesh.
    """
    appliance = build(solution.scenario, refine=2)
    for n, part in appliance.teeth.items():
        if not np.array_equal(part.pose.position, solution.teeth[n].part.pose.position):
            return None
    solved = equilibrium(appliance.network, appliance.start, settings=settings_of(solution.scenario))
    return compare_meshes(solution.teeth, tooth_views(appliance, solved))


def _sensitivity(solution: Solution) -> Raw:
    tooth = most_moved(solution)
    if tooth is None:
        return tag("p", "All teeth are held rigidly; nothing moves.")
    rows: list[list[object]] = [
        [change.parameter, number(100 * change.crown, 2), number(100 * change.apex, 2)]
        for change in sensitivity(solution, tooth)
    ]
    caption = (
        f"Change of the buccal displacement of tooth {tooth}, whose crown moves most, when a stiffness is 10 % higher; "
        "µm, first order, from the exact derivative at the equilibrium."
    )
    return table(caption, [[("10 % more of", 1), ("crown, µm", 1), ("apex, µm", 1)]], rows)


def _inputs(solution: Solution, record: Mapping[str, Any]) -> Raw:
    rows: list[list[object]] = []
    for law in record["ligament"]:
        values = {k: v for k, v in law.items() if k not in ("law", "model", "provenance", "teeth")}
        text = ", ".join(f"{_words(k)} {brief(v)}{_unit(k)}" for k, v in values.items())
        how = f"{law['law']}, model {law['model']}" if "model" in law else law["law"]
        rows.append(["ligament", f"{how}: {text}" if text else how, law["provenance"]])
    for name, wire in record["wires"].items():
        text = f"{wire['alloy']}, {brief(wire['young_MPa'] / 1000)} GPa, limit {brief(wire['elastic_limit_MPa'])} MPa"
        rows.append([f"wire {name}", text, f"{wire['alloy_source']} ({wire['alloy_seen']})"])
    rows.append(["teeth", f"{len(solution.teeth)} teeth, {_bone(solution)}", "handbook dimensions of average teeth"])
    head = [[("input", 1), ("value", 1), ("source and how it was seen", 1)]]
    return table("Material and anatomical inputs.", head, rows, words=(1, 2))


def _words(key: str) -> str:
    return key.removesuffix("_MPa").removesuffix("_mm").replace("_", " ")


def _unit(key: str) -> str:
    return next((f" {unit}" for unit in ("MPa", "mm") if key.endswith(f"_{unit}")), "")


def _bone(solution: Solution) -> str:
    levels = sorted({view.part.tooth.bone_level for view in solution.teeth.values()})
    span = f"{levels[0]:g}" if len(levels) == 1 else f"{levels[0]:g} to {levels[-1]:g}"
    return f"bone level {span} mm below the cemento-enamel junction"
