"""What a reader needs to judge the numbers: checks of code and of this run, sources, limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from biomech.report.html.checks import Checked, checks_table
from biomech.report.html.inputs import Stage, inputs, provenance
from biomech.report.html.markup import Raw, items, tag
from biomech.report.html.swings import swings_section
from biomech.report.html.validation import NOT_COMPARED, validation_table
from biomech.scenario import Scenario
from biomech.studies import Solution

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


@dataclass(frozen=True)
class Trusted:
    """What the section on trust is about.

    `solution` whose inputs are told, with its `record`; `found` what was checked; `stages` of wires in time; `varied`
    the solution whose sensitivities are shown, at a moment called `label` (None: the only one); `scenario` of the run.
    """

    solution: Solution
    record: Mapping[str, Any]
    found: Checked
    stages: Sequence[Stage]
    varied: Solution
    label: str | None
    scenario: Scenario
    course: bool


def credibility(told: Trusted) -> Raw:
    """Return the section on how far the numbers can be trusted."""
    return tag(
        "section",
        tag("h2", "How far these numbers can be trusted"),
        tag("p", PURPOSE),
        tag("h3", "What was checked"),
        checks_table(told.found),
        tag("h3", "What was not checked"),
        items(list(told.found.missing)),
        tag("h3", "Sensitivity and uncertainty"),
        swings_section(told.varied, told.label),
        tag("h3", "Validation of the program"),
        validation_table(_used(told)),
        tag("p", NOT_COMPARED),
        tag("h3", "Inputs and their sources"),
        inputs(told.solution, told.record, told.stages),
        tag("h3", "Limits"),
        items([IN_TIME if told.course else ELASTIC, *LIMITS]),
        tag("h3", "Made with"),
        provenance(told.record, told.scenario),
        id="credibility",
    )  # fmt: skip


def _used(told: Trusted) -> set[str]:
    """Return the parts of the program that the scenario uses."""
    parts = [part for stage in told.stages for part in stage.appliance.wires.values()]
    used = {
        "wires": bool(parts),
        "memory": any(part.past is not None for part in parts),
        "teeth": any(view.part.ligament is not None for view in told.solution.teeth.values()),
        "form": told.scenario.arch.form != "straight",
        "holds": any(stage.appliance.holds for stage in told.stages),
        "time": told.course,
        "prescription": told.scenario.bracket.prescription is not None,
    }
    return {name for name, there in used.items() if there}
