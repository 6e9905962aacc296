"""Print a test on the bench as tables."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from biomech.report.words import NONE, decimals, number, table
from biomech.studies.bend import Setup, numbers
from biomech.studies.solve import CAUTION

if TYPE_CHECKING:
    from rich.console import Console

    from biomech.bench import Curve

SIDE_BY_SIDE = 4
"""Wires in one table."""


def print_bend(curves: Sequence[Curve], setup: Setup, console: Console) -> None:
    """Print the readings of all wires, a few in a table, then what must be known about them."""
    met = [temperature for temperature, _ in groupby(setup.met)]
    console.print(f"{curves[0].setup}, {', then '.join(f'{t:g} C' for t in met)}", style="bold")
    console.print()
    for start in range(0, len(curves), SIDE_BY_SIDE):
        some = curves[start : start + SIDE_BY_SIDE]
        read = [numbers(setup, c) for c in some]
        out = table("Readings", "reading", *(c.wire for c in some))
        for i, one in enumerate(read[0]):
            values = [r[i].value for r in read]
            places = max(2, decimals([v for v in values if v is not None]))
            shown = (NONE if v is None else number(v, min(places, 4)) for v in values)
            out.add_row(one.name, *shown)
        console.print(out)
    for warning, wires in notes(curves).items():
        on = f" on {' and '.join(wires)}" if wires else ""
        console.print(f"Note{on}: {warning}", highlight=False)
    console.print()
    console.print(CAUTION, highlight=False)


def notes(curves: Sequence[Curve]) -> dict[str, list[str]]:
    """Return what must be known, each once, and the wires it is about: none where it names their alloy itself."""
    wires = list(dict.fromkeys(c.wire for c in curves))
    found: dict[str, dict[str, None]] = {}
    for curve in curves:
        for warning in curve.warnings:
            found.setdefault(warning, {})[curve.wire] = None
    every = ["every wire"] if len(wires) > 1 else wires
    return {
        text: [] if text.startswith("alloy '") else every if len(about) == len(wires) else list(about)
        for text, about in found.items()
    }
