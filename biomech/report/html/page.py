"""The whole report: one HTML file that needs nothing else."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np

from biomech.errors import InputError
from biomech.report.html import geometry
from biomech.report.html.card import card, course_card, sources
from biomech.report.html.checks import Checked, checked
from biomech.report.html.credibility import Trusted, credibility
from biomech.report.html.figures import figures, over_steps
from biomech.report.html.inputs import Stage
from biomech.report.html.markup import Raw, items, join, table, tag
from biomech.report.html.mesh_study import mesh
from biomech.report.html.occlusal import occlusal
from biomech.report.html.steps import Step, in_time, steps_of
from biomech.report.html.tables import (
    arch_table,
    cusps_table,
    force_tables,
    movement_tables,
    steps_table,
    widths,
    wire_tables,
)  # fmt: skip
from biomech.report.html.toml import dump
from biomech.report.html.tooth_section import sections
from biomech.report.html.viewer_data import data_script, viewer, viewer_data
from biomech.report.worst import WireWorst
from biomech.scenario import Scenario
from biomech.studies import CAUTION, Solution
from biomech.studies.record import record as record_of
from biomech.studies.write import write_texts

PUSHED = "the step with the largest force on a tooth"


@dataclass(frozen=True)
class Whole:
    """What belongs to all steps of a course: the `scenario` they came from, a note for each step, more sections.

    `summary` stands before the picture, `sections` behind it; `outcomes` of what the scenario expects of the course;
    `checked` what was checked in it. `judged`: days and solutions that the force card holds against bands; `alarms`
    what to know first, `limits` those of them that were limits of the course; `wires` at their worst; `stages`
    the appliances from visit to visit; `beyond`: how much of the movement lies outside the rate law's evidence.
    """

    scenario: Scenario
    notes: Sequence[str]
    summary: Raw
    sections: Raw
    outcomes: Sequence[Mapping[str, Any]]
    checked: Checked
    judged: Sequence[tuple[float, Solution]]
    alarms: Sequence[str]
    limits: Sequence[str]
    wires: Sequence[WireWorst]
    stages: Sequence[Stage]
    beyond: Sequence[str]


def write_report(steps: Sequence[tuple[str, Solution]], path: Path | str, *, whole: Whole | None = None) -> Path:
    """Write the report of labelled solutions, in order of time or of comparison, as one HTML file; return its path.

    The slider begins with the arch before anything acts. Displacements count from where the teeth of the first
    solution stood; tables, figures and force card are those of the last. Written beside and renamed. Raises InputError
    when there is no solution or the arches differ, FileError when `path` cannot be written. With `whole`, the steps are
    those of one course, and the force card shows every tooth at the worst of them.
    """
    path = Path(path)
    text = report_text(steps, whole=whole)
    return write_texts(path.parent, {path.name: text})[0]


def report_text(solutions: Sequence[tuple[str, Solution]], *, whole: Whole | None = None) -> str:
    """Return the report as text; see `write_report`."""
    if not solutions:
        raise InputError("a report needs at least one solution")
    pushed_at = _heaviest(solutions) if whole else len(solutions) - 1
    label, judged = solutions[pushed_at]
    steps = steps_of(solutions, whole.notes if whole else None, pushed_at)
    pushed = steps[1 + pushed_at]
    last = solutions[-1][1]
    parts = {n: view.part for n, view in solutions[0][1].teeth.items()}
    factors, first_factor = geometry.magnifications(geometry.largest_movement(steps, parts))
    data = viewer_data(steps, parts, factors)
    flat = occlusal(steps[-1], parts, factors[first_factor], data["mm_per_newton"])
    record = record_of(judged)
    scenario = whole.scenario if whole else last.scenario
    found = whole.checked if whole else checked(last, record, list(mesh(last, "the result")))
    trusted = Trusted(
        judged, record, found, whole.stages if whole else [Stage(last.appliance, None)],
        solutions[0][1] if whole else last, "on the first day" if whole else None, scenario, in_time(solutions),
    )  # fmt: skip
    body = join(
        _heading(scenario, record, whole is not None),
        tag("main",
            _findings(record, whole),
            whole.summary if whole else None,
            viewer(data, steps, flat, first_factor),
            whole.sections if whole else None,
            course_card(scenario.title, whole.judged, whole.limits, whole.wires, whole.beyond, CAUTION) if whole
            else card(last, label, CAUTION),
            tag("section", tag("h2", "Figures"),
                tag("div", figures(steps[-1], pushed, judged), None if whole else _steps_figure(steps, parts),
                    class_="plates"),
                sections(judged, f", at step “{pushed.label}”" if whole else ""), id="figures"),
            tag("section", tag("h2", "Results"), _course_table(steps, parts),
                *_results(steps[-1], pushed, parts, record, len(solutions) > 1),
                None if whole else cusps_table(record), id="results"),
            tag("section", tag("h2", "What was to come of the course"), _expectations(whole.outcomes), id="promises")
            if whole and whole.outcomes else None,
            credibility(trusted),
            tag("section", tag("h2", "Published bands"), sources(record)),
            _again([("", scenario)] if whole else [(name, s.scenario) for name, s in solutions], record)),
        tag("footer", tag("p", CAUTION)),
    )  # fmt: skip
    return _document(scenario.title, body, data)


def _heaviest(solutions: Sequence[tuple[str, Solution]]) -> int:
    """Return the number of the solution with the largest force on a tooth: a course's tables show where it pushes."""

    def largest(solution: Solution) -> float:
        return max(float(np.linalg.norm(view.wrench[:3])) for view in solution.teeth.values())

    sizes = [largest(solution) for _, solution in solutions]
    return sizes.index(max(sizes))


def _results(
    last: Step, pushed: Step, parts: Mapping[int, Any], record: Mapping[str, Any], several: bool
) -> Iterator[Raw | None]:
    """Yield the tables: forces, of a course where it pushes most, movements at the last step; of `several`, named."""
    there, here = (f", at step “{step.label}”" if several else "" for step in (pushed, last))
    if pushed is not last:
        yield tag("p", f"Forces, pressures and wires are those of step “{pushed.label}”, {PUSHED}; "
                  f"movements those of step “{last.label}”.")  # fmt: skip
    yield force_tables(pushed, there)
    yield wire_tables(record, there)
    yield movement_tables(last, here)
    yield arch_table(last, parts, here)


def _heading(scenario: Scenario, record: Mapping[str, Any], course: bool) -> Raw:
    versions = record["versions"]
    links = (*((("#short", "in short"),) if course else ()), ("#arch", "arch"),
             *((("#visits", "visits"),) if course else ()), ("#card", "force card"), ("#figures", "figures"),
             ("#results", "results"),
             ("#credibility", "trust"), ("#scenario", "scenario"))  # fmt: skip
    return tag(
        "header",
        tag("h1", scenario.title),
        tag("p", scenario.question, class_="question") if scenario.question else None,
        tag("p", scenario.note) if scenario.note else None,
        tag("p", CAUTION, class_="caution"),
        tag("p", f"biomech {versions['biomech']}. Forces in N (and gf), lengths in mm, moments in N·mm; teeth by their "
            "ISO 3950 numbers.", class_="hint"),
        tag("nav", *(tag("a", words, href=to) for to, words in links), aria_label="Sections"),
    )  # fmt: skip


def _findings(record: Mapping[str, Any], whole: Whole | None) -> Raw:
    """Return the warnings, of a course those of all of it; what a scenario expects of one moment beside them."""
    warnings = list(record["warnings"] if whole is None else whole.alarms)
    body = items(warnings) if warnings else tag("p", "The program has nothing to warn of.")
    expected = _expectations(record["expectations"]) if whole is None else None
    return tag("section", tag("h2", "To be aware of"), body, expected, id="aware")


def _expectations(outcomes: Sequence[Mapping[str, Any]]) -> Raw | None:
    if not outcomes:
        return None
    rows: list[list[object]] = []
    for e in outcomes:
        value = e["problem"] if e["value"] is None else f"{e['value']:.4g}"
        rows.append([e["output"], e["wanted"], value, "met" if e["met"] else "NOT met", e["why"]])
    head = [[("output", 1), ("expected", 1), ("found", 1), ("", 1), ("why", 1)]]
    return table("What the scenario expects.", head, rows, words=(1, 2, 3, 4))


def _course_table(steps: Sequence[Step], parts: Mapping[int, Any]) -> Raw | None:
    return steps_table(steps, parts) if len(steps) > 2 else None


def _steps_figure(steps: Sequence[Step], parts: Mapping[int, Any]) -> Raw | None:
    rows = [widths(step, parts) for step in steps]
    place = next((p for p in ("first molar", "canine") if f"{p} crown" in rows[0]), None)
    if len(steps) <= 2 or place is None:
        return None
    return over_steps(steps, rows, {f"{place} {mark}": f"{place}s, {mark}" for mark in ("crown", "apex")})


def _again(scenarios: Sequence[tuple[str, Scenario]], record: Mapping[str, Any]) -> Raw:
    documents: dict[str, list[str]] = {}
    for label, scenario in scenarios:
        documents.setdefault(scenario_text(scenario), []).append(label)
    several = len(documents) > 1
    blocks = [_scenario(text, labels, several, i) for i, (text, labels) in enumerate(documents.items())]
    versions = ", ".join(f"{name} {version}" for name, version in record["versions"].items())
    return tag(
        "section",
        tag("h2", "Run it again"),
        tag("p", "Save the text as a file ending in .toml and give it to ", tag("code", "biomech report"),
            ". What the file extended is already in it."),
        tag("p", f"Versions: {versions}.", class_="hint"),
        *blocks,
        id="scenario",
    )  # fmt: skip


def scenario_text(scenario: Scenario) -> str:
    """Return the scenario as TOML that stands alone: what it extended has been merged into it."""
    document = scenario.document
    document.pop("extends", None)
    return dump(document)


def _scenario(text: str, labels: Sequence[str], several: bool, i: int) -> Raw:
    digest = hashlib.sha256(text.encode()).hexdigest()
    address = "data:text/plain;charset=utf-8;base64," + base64.b64encode(text.encode()).decode()
    return join(
        tag("h3", ", ".join(labels)) if several else None,
        tag("p", tag("a", "Save this scenario", href=address, download=f"scenario-{i + 1}.toml"),
            ". SHA-256 of the text: ", tag("code", digest), class_="hash"),
        tag("pre", text, class_="scenario"),
    )  # fmt: skip


def _document(title: str, body: Raw, data: Mapping[str, Any]) -> str:
    style, script = _packaged("style.css"), _packaged("viewer.js")
    policy = (
        f"default-src 'none'; script-src '{_fingerprint(script)}'; style-src '{_fingerprint(style)}'; "
        "base-uri 'none'; form-action 'none'"
    )
    head = join(
        tag("meta", charset="utf-8"),
        Raw(f'<meta http-equiv="Content-Security-Policy" content="{policy}">'),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="referrer", content="no-referrer"),
        tag("title", title),
        Raw(f"<style>{style}</style>"),
    )
    whole = tag("html", tag("head", head), tag("body", body, data_script(data), Raw(f"<script>{script}</script>")),
                lang="en")  # fmt: skip
    return f"<!doctype html>\n{whole}\n"


def _packaged(name: str) -> str:
    """Return a file of the package's data as it goes into the page."""
    text = resources.files("biomech.report.html").joinpath("data", name).read_text(encoding="utf-8")
    return text.replace("\r\n", "\n").replace("</script", "<\\/script")


def _fingerprint(text: str) -> str:
    """Return what a content policy calls a piece of inline text by."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
