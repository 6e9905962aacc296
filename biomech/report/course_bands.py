"""Table for the terminal: every tooth of a course at its worst against published bands."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from biomech.report.moments import JUDGED
from biomech.report.words import NONE, number, table
from biomech.report.worst import Peak, worst_of

if TYPE_CHECKING:
    from rich.table import Table

    from biomech.studies import Solution


def bands_table(judged: Sequence[tuple[float, Solution]]) -> Table:
    """Return force, torque and pressure of each tooth at its worst over the moments `judged`, each with its day."""
    out = table(
        "Each tooth at its worst against published bands", "tooth", "force, N", "for", "day", "torque, N.mm", "day",
        "mean pressure, kPa", "day", left=["for"],
    )  # fmt: skip
    worst = worst_of(judged)
    for n, tooth in worst.items():
        force = tooth.force
        purpose = NONE if force is None else force.band.name.removeprefix("force for ").removeprefix("force ")
        out.add_row(
            str(n), *_cells(force, 2)[:1], purpose, *_cells(force, 2)[1:], *_cells(tooth.torque, 1),
            *_cells(tooth.pressure, 1),
        )  # fmt: skip
    bands = {name: peak.band for tooth in worst.values() for name, peak in tooth.peaks.items()}
    told = [f"worst of {len(judged)} moments: {JUDGED}"]
    told += [f"{b.name}: {b.low:g} to {b.high:g} {b.unit}; {b.source}" for b in bands.values()]
    out.caption = "\n".join(told)
    out.caption_justify = "left"
    return out


def _cells(peak: Peak | None, places: int) -> list[str]:
    """Return a value with its place against its band, and its day."""
    return [NONE, NONE] if peak is None else [f"{number(peak.value, places)} {peak.where:<6}", f"{peak.day:.0f}"]
