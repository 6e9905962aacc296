"""What a reader needs to judge the numbers: checks of code and of this run, sources, limits."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from biomech.report.html.checks import Checked, checks_table
from biomech.report.html.markup import Raw, brief, items, number, table, tag
from biomech.report.html.sensitivity import most_moved, sensitivity
from biomech.studies import Solution

TESTS = {
    "wires": "wires: large bending (elastica, arcs, curved and buckling arches), stability and invariance under "
    "rotation of the whole against closed forms and an independent beam program; bending rates, V and step bends and "
    "two-bracket force systems against closed forms and published classes; sections against exact series and an "
    "independent program",
    "memory": "wires with memory: corner points and loop of the superelastic law, plateau bending, springback and "
    "plastic torsion against closed forms; no law creates energy; the laws' parameters themselves have no such test",
    "teeth": "teeth: root support and M/F ratios against closed forms; centres of resistance against published bands",
    "form": "arch form: perimeter and curvature against formulas",
    "holds": "slots, tubes and ties: force and stiffness of every law against its energy; torque play against the "
    "geometry of the wire's corners",
    "time": "movement in time: steady velocity under a constant load and exponential decay against a spring (closed "
    "forms), order of the time rule, published speeds of translated canines",
}
"""What tests/validation and tests/contracts of the program compare with what, by the part of a scenario."""
ELASTIC = "Displacements are initial and elastic: what the ligament does in the first minutes. They are not treatment."
IN_TIME = (
    "Movement in time follows the rate law the scenario names. Published rates scatter widely: a course shows what "
    "follows from the assumptions and promises nothing."
)
LIMITS = (
    "Teeth come from average dimensions; a patient's roots, bone and ligament differ, and the ligament's stiffness is "
    "known to within a factor of several at best. Directions and comparisons are worth more than amounts.",
    "Bone is rigid, the suture closed. Wires of elastic alloys stay elastic and are reported when they would not; "
    "alloys that yield or transform do so by laws of which most values are from memory. Shapes and bends are taken as "
    "free of stress unless an opening by hand is stated.",
    "Bracket deformation is left out; stiffness of ties and ligatures has no published source.",
    "An elastic ligament's peak pressure is a poor alarm; the mean is steadier.",
)
PURPOSE = (
    "Question of use: which way a force system sends each tooth, and whether its size is of a sane order. The answer "
    "does not decide a treatment."
)


def credibility(solution: Solution, record: Mapping[str, Any], found: Checked, course: bool, label: str) -> Raw:
    """Return the section on how far the numbers can be trusted.

    `found` is what was checked; `course` when teeth have moved in time; sensitivity is that of `solution`, the step
    called `label`.
    """
    return tag(
        "section",
        tag("h2", "How far these numbers can be trusted"),
        tag("p", PURPOSE),
        tag("h3", "What was checked"),
        checks_table(found),
        tag("h3", "What was not checked"),
        items(list(found.missing)),
        tag("h3", "Sensitivity"),
        _sensitivity(solution, label if course else None),
        tag("h3", "The program"),
        tag("p", "The program's own tests compare the parts used here with results from outside. They belong to the "
            "version named below and were not run again for this report."),
        items(list(_tests(solution, course))),
        tag("h3", "Inputs and their sources"),
        _inputs(solution, record),
        tag("h3", "Limits"),
        items([IN_TIME if course else ELASTIC, *LIMITS]),
        id="credibility",
    )  # fmt: skip


def _tests(solution: Solution, course: bool) -> Iterator[str]:
    """Yield what the program's tests compare with what, of the parts that this scenario uses."""
    used = {
        "wires": bool(solution.wires),
        "memory": any(view.inner is not None for view in solution.wires.values()),
        "teeth": any(view.part.ligament is not None for view in solution.teeth.values()),
        "form": solution.scenario.arch.form != "straight",
        "holds": bool(solution.appliance.holds),
        "time": course,
    }
    yield from (text for key, text in TESTS.items() if used[key])


def _sensitivity(solution: Solution, label: str | None) -> Raw:
    tooth = most_moved(solution)
    if tooth is None:
        return tag("p", "All teeth are held rigidly; nothing moves.")
    rows: list[list[object]] = [
        [change.parameter, number(100 * change.crown, 2), number(100 * change.apex, 2)]
        for change in sensitivity(solution, tooth)
    ]
    caption = (
        f"Change of the buccal displacement of tooth {tooth}, whose crown moves most, when a stiffness is 10 % higher; "
        f"µm, first order, from the exact derivative at the equilibrium{f', {label}' if label else ''}."
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
    rows.append(["teeth", f"{len(solution.teeth)} teeth, {_bone(solution)}", _shapes(solution)])
    head = [[("input", 1), ("value", 1), ("source and how it was seen", 1)]]
    return table("Material and anatomical inputs.", head, rows, words=(1, 2))


def _shapes(solution: Solution) -> str:
    """Return where the shapes of the teeth come from: the handbooks, and surface files with what was assumed."""
    shapes = {n: view.part.tooth.shape for n, view in solution.teeth.items()}
    own = [
        f"tooth {n}: surface file {shape.source} ({'; '.join((*shape.repairs, *shape.notes))})"
        for n, shape in shapes.items() if shape is not None
    ]  # fmt: skip
    rest = ["handbook dimensions of average teeth"] if len(own) < len(shapes) else []
    return ". ".join([*rest, *own])


def _words(key: str) -> str:
    return key.removesuffix("_MPa").removesuffix("_mm").replace("_", " ")


def _unit(key: str) -> str:
    return next((f" {unit}" for unit in ("MPa", "mm") if key.endswith(f"_{unit}")), "")


def _bone(solution: Solution) -> str:
    levels = sorted({view.part.tooth.bone_level for view in solution.teeth.values()})
    span = f"{levels[0]:g}" if len(levels) == 1 else f"{levels[0]:g} to {levels[-1]:g}"
    return f"bone level {span} mm below the cemento-enamel junction"
