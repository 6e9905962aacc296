"""Tables of the wires: stress against the elastic limit, and the force at each hold."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from biomech.outputs.force import GRAM_FORCE
from biomech.report.words import NONE, decimals, number, table, way

if TYPE_CHECKING:
    from rich.table import Table

    from biomech.outputs._wires import HoldForce, WireView
    from biomech.studies import Solution

LINES = ("mesial", "buccal", "occlusal")


def wire_tables(solution: Solution) -> Iterator[Table]:
    """Yield a table of all wires and one of the holds of each."""
    if solution.wires:
        yield stresses(solution)
    if any(view.inner is not None for view in solution.wires.values()):
        yield memories(solution)
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
    if any(view.inner is not None for view in solution.wires.values()):
        out.caption += "; for wires with memory the stress of this moment alone, what they went through stands below"
    out.caption_justify = "left"
    return out


def memories(solution: Solution) -> Table:
    """Return what wires with memory went through: strain, set or martensite, what they keep, what force is left."""
    out = table(
        "Wires with memory: what they went through and what is left",
        "wire", "at, C", "strain", "by hand", "inside", "near tooth", "over",
        "opened", "kept", "taken out", "force left",
    )  # fmt: skip
    out.columns[4].no_wrap, out.columns[7].min_width = True, len("opened")
    for name, view in solution.wires.items():
        wire = view.inner
        if wire is None:
            continue
        past = wire.past
        amount = f"{wire.reading} {100 * wire.largest:.{2 if wire.reading == 'set' else 0}f} %"
        by_hand = NONE if past.opening is None else f"{100 * past.strained:.2f} %"
        kept = NONE if past.opening is None else _both(past.left)
        left = NONE if wire.force_left is None else f"{100 * wire.force_left:.0f} %"
        out.add_row(
            name, f"{past.temperature:.0f}", f"{100 * wire.strain:.2f} %", by_hand, amount, str(wire.tooth),
            f"{100 * wire.over:.0f} %", _both(past.held), kept, _both(wire.set_mm), left,
        )  # fmt: skip
    out.caption = (
        "strain: axial, of the most strained fibre, now and by hand before. inside: its set or share of martensite; "
        "over: the share of the length where there is any. opened, kept: how far the ends were held open by hand and "
        "how far they stay open, mm a side (right / left where they differ). taken out: how much further out (-: in) "
        "they stand than before tying in. force left: of what the wire would deliver if it did not yield"
    )
    out.caption_justify = "left"
    return out


def _both(pair: tuple[float, float] | None) -> str:
    if pair is None:
        return NONE
    right, left = (f"{round(side, 2) + 0.0:.2f}" for side in pair)
    return right if right == left else f"{right} / {left}"


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
