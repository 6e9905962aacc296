"""Table of the wires with memory: what they went through and what they keep."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from biomech.report.html.markup import Raw, number, table

_CAPTION = (
    "Wires with memory. Strains: axial, of the most strained fibre, now and by hand before. Opened, kept: "
    "how far the ends were held open by hand and how far they stay open when let go; taken out: how much further out "
    "(negative: in) they stand when taken out now than before tying in; mean of both sides. Force left: of what the "
    "wire would deliver if it did not yield."
)


def memory_table(wires: Mapping[str, Mapping[str, Any]]) -> Raw:
    """Return the table from the wires of a record; empty where none has a memory."""
    rows = [_row(name, wire["memory"]) for name, wire in wires.items() if wire.get("memory")]
    if not rows:
        return Raw("")
    head = [[("wire", 1), ("at, °C", 1), ("largest strain, %", 1), ("by hand, %", 1), ("set strain, %", 1),
             ("martensite, %", 1), ("near tooth", 1), ("over length, %", 1), ("opened, mm a side", 1),
             ("kept, mm a side", 1), ("taken out, mm a side", 1), ("force left, %", 1)]]  # fmt: skip
    return table(_CAPTION, head, rows)


def _row(name: str, memory: Mapping[str, Any]) -> list[object]:
    return [
        name, number(memory["temperature_degC"], 0), _percent(memory["largest_strain"]),
        _percent(memory["opened_strain"]), _percent(memory["set_strain"]),
        _percent(memory["martensite_share"], 0), str(memory["largest_near_tooth"]),
        _percent(memory["share_changed"], 0), number(_mean(memory["opened_mm"]), 2),
        number(_mean(memory["opening_kept_mm"]), 2),
        number(_mean(memory["set_when_taken_out_mm"]), 2), _percent(memory["force_left"], 0),
    ]  # fmt: skip


def _mean(sides: Mapping[str, float] | None) -> float | None:
    return None if sides is None else 0.5 * (sides["right"] + sides["left"])


def _percent(value: float | None, digits: int = 2) -> str:
    return number(None if value is None else 100 * value, digits)
