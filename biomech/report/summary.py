"""The parts of a report that are not about one tooth or wire: arch, trust, expectations, sources."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from biomech.outputs._arch import PLACES
from biomech.report.words import WIDTHS, either, table

if TYPE_CHECKING:
    from rich.table import Table

    from biomech.studies import Solution


def heading(solution: Solution) -> list[str]:
    """Return title, question and note, and what was solved."""
    scenario = solution.scenario
    teeth = scenario.arch.teeth
    count = "1 tooth" if len(teeth) == 1 else f"{len(teeth)} teeth, {teeth[0]} to {teeth[-1]}"
    wires = ", ".join(f"'{name}'" for name in scenario.wire) or "none"
    what = f"{scenario.arch.jaw.capitalize()} jaw, {count} (ISO 3950; left and right are the patient's); wires: {wires}"
    return [text for text in (scenario.title, scenario.question, scenario.note, what) if text]


def arch_table(solution: Solution) -> Table | None:
    """Return how the widths of the arch change; None without a pair of teeth."""
    widths = solution.arch.widths
    if not widths:
        return None
    out = table("Change of the arch's width, mm", "between", "at the crowns", "at the apices")
    for place, width in widths.items():
        cells = [either("wider", "narrower", value, 3) for value in (width.crown, width.apex)]
        out.add_row(f"{PLACES[place]}s", *cells)
    out.caption, out.caption_justify = WIDTHS, "left"
    return out


def arch_lines(solution: Solution) -> Iterator[str]:
    """Yield what happens to the palatal cusps and to the midline."""
    arch = solution.arch
    cusp = "palatal" if solution.scenario.arch.jaw == "upper" else "lingual"
    if arch.cusp_drop is not None:
        moved = either("occlusal", "apical", arch.cusp_drop, 3)
        yield f"{cusp.capitalize()} cusps of premolars and molars, mean: {moved} mm"
    if arch.cusp_difference is not None:
        yield f"Against their buccal cusps: {either('occlusal', 'apical', arch.cusp_difference, 3)} mm"
    if arch.midline is not None:
        side = either("to the patient's left", "to the patient's right", arch.midline, 3)
        yield f"Incisal midline: {side} mm"


def trust_lines(solution: Solution, data: Mapping[str, Any]) -> Iterator[str]:
    """Yield balance of the wires (if any), convergence, stability and mesh refinement."""
    balance, found = data["balance"], data["convergence"]
    if solution.wires:
        yield (
            f"Balance: {balance['force_N']:.1e} N and {balance['moment_N_mm']:.1e} N.mm left over when all forces of "
            f"the wires on the teeth are added up (their sizes: {balance['throughput_N']:.3g} N)"
        )
    yield (
        f"Convergence: {found['newton_steps']} Newton steps, relative residual {found['residual_relative']:.1e} "
        f"(allowed {found['tolerance_relative']:.0e}), {_stability(found)}; {solution.seconds:.2f} s"
    )
    mesh = data["refinement"]
    if mesh is None:
        yield "Mesh: change on halving every element not asked for (solve.refinement = true)"
    else:
        parts = (f"{key} {100 * mesh[f'{key}_relative']:.2g} %" for key in ("displacement", "force", "moment"))
        yield f"Mesh: halving every element changes, of the largest value: {', '.join(parts)}"


def _stability(found: Mapping[str, Any]) -> str:
    left = ", after an unstable state was left" if found["unstable_state_left"] else ""
    if found["stable"] is None:
        return "stability not judged"
    return ("stable" if found["stable"] else f"UNSTABLE ({found['negative_pivots']} negative pivots)") + left


def expectation_lines(outcomes: Sequence[Mapping[str, Any]]) -> Iterator[tuple[str, str]]:
    """Yield (mark, text) for each expectation of the scenario."""
    for outcome in outcomes:
        value = "no value" if outcome["value"] is None else f"{outcome['value']:.4g}"
        reason = outcome["problem"] or outcome["why"]
        mark = "met" if outcome["met"] else "NOT MET"
        yield mark, f"{outcome['output']} = {value}, expected {outcome['wanted']}: {reason}"


def source_lines(solution: Solution, data: Mapping[str, Any]) -> Iterator[str]:
    """Yield where the values of alloys and ligaments, and the shapes of teeth from surface files, come from."""
    alloys = {view.part.alloy.name: view.part.alloy for view in solution.wires.values()}
    for name, alloy in alloys.items():
        yield f"{name}: E = {alloy.young / 1e3:g} GPa. {alloy.source}. Seen: {alloy.seen}"
    for law in data["ligament"]:
        how = f"{law['law']}, model {law['model']}" if "model" in law else law["law"]
        yield f"ligament, {how}: {law['provenance']}"
    for number, view in solution.teeth.items():
        shape = view.part.tooth.shape
        if shape is not None:
            yield f"tooth {number}: shape from {shape.source}; {'; '.join(shape.notes)}"
