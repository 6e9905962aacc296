"""Tables of the wires: stress against the elastic limit, and the force at each hold."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from biomech.outputs.force import GRAM_FORCE
from biomech.report.words import decimals, number, table, way

if TYPE_CHECKING:
    from rich.table import Table

    from biomech.outputs._wires import HoldForce, WireView
    from biomech.studies import Solution

LINES = ("mesial", "buccal", "occlusal")


def wire_tables(solution: Solution) -> Iterator[Table]:
    """Yield a table of all wires and one of the holds of each."""
    if solution.wires:
        yield stresses(solution)
    for name, view in solution.wires.items():
        if view.holds:
            yield holds(name, view)


def stresses(solution: Solution) -> Table:
    """Return every wire with its peak stress against the elastic limit of its alloy."""
    out = table(
        "Wires: peak stress (von Mises) against the elastic limit, MPa",
        "wire", "section", "alloy", "peak", "limit", "share", "near tooth", "past limit",
        left=["section", "alloy"],
    )  # fmt: skip
    for name, view in solution.wires.items():
        out.add_row(
            name, view.part.section.label(), view.part.alloy.name, f"{view.peak:.0f}", f"{view.limit:.0f}",
            f"{100 * view.utilisation:.0f} %", str(view.tooth), f"{100 * view.past:.0f} %",
        )  # fmt: skip
    out.caption = "past limit: share of the wire's length whose peak stress is beyond the elastic limit"
    out.caption_justify = "left"
    return out


def holds(name: str, view: WireView) -> Table:
    """Return the force of each hold of one wire on its tooth."""
    out = table(
        f"Force of wire '{name}' on the teeth, hold by hold, N (size also in gf)",
        "tooth", "held by", "mesiodistal", "buccolingual", "vertical", "size", left=["held by"],
    )  # fmt: skip
    places = decimals(h.size for h in view.holds)
    coarse = decimals(h.size / GRAM_FORCE for h in view.holds)
    for hold in view.holds:
        cells = [way(key, hold.force[key], places) for key in LINES]
        size = f"{number(hold.size, places)} ({number(hold.size / GRAM_FORCE, coarse)})"
        out.add_row(str(hold.tooth), _kind(hold), *cells, size)
    return out


def _kind(hold: HoldForce) -> str:
    return hold.kind if hold.partner is None else f"{hold.kind} between {hold.tooth} and {hold.partner}"
