"""A comparison for the terminal: what differs in words, then the numbers side by side."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from biomech.outputs._arch import PLACES
from biomech.report.words import NONE, decimals, number, table
from biomech.studies.record import place_key
from biomech.studies.rows import Row
from biomech.studies.sentences import CANINE, sentences
from biomech.studies.solve import CAUTION

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from biomech.studies.compare import Comparison

TOOTH = {
    "movement": "movement",
    "long_axis_mm.crown": "crown, + buccal",
    "long_axis_mm.apex": "apex, + buccal",
    "apex_to_crown": "apex over crown",
    "tip_deg_per_mm": "buccal tip per mm",
    "turn_deg.torque": "turn, + buccal root",
    "turn_deg.tip": "turn, + mesial crown",
    "force_N.buccal": "force, + buccal",
    "force_N.occlusal": "force, + occlusal",
    "moment_at_bracket_N_mm.torque": "torque, + buccal root",
    "moment_to_force_mm": "M/F at the bracket",
    "ligament_pressure_kPa.mean": "ligament pressure, mean",
    "bands.force": "force against its band",
    "bands.torque": "torque against its band",
    "bands.pressure": "pressure against its band",
}
"""Results of a tooth in the foreground that the table shows, in order, and what it calls them; crown and apex are those
of the long axis."""
MEMORY = {
    "set_strain": "set strain",
    "martensite_share": "martensite, share",
    "force_left": "force left, share",
    "set_when_taken_out_mm.right": "taken out, right end further out",
    "set_when_taken_out_mm.left": "taken out, left end further out",
}
"""What the tables say of a wire with memory."""
MOST = 6
"""Variants side by side in one table; more are put into further tables, each with the reference."""


def print_comparison(found: Comparison, console: Console) -> None:
    """Print sentences, tables of the teeth in the foreground and of the arch, each variant's warnings, the caution."""
    console.print(f"Comparison of {len(found.labels)} scenarios; reference: {found.labels[0]}", style="bold")
    console.print()
    for sentence in sentences(found):
        console.print(textwrap.fill(sentence, max(console.width, 40), break_long_words=False), soft_wrap=True)
    console.print()
    for out in tables(found):
        console.print(out)
        console.print()
    for label, solution in zip(found.labels, found.solutions, strict=True):
        for warning in solution.warnings:
            text = f"Warning, {label}: {warning}"
            console.print(textwrap.fill(text, max(console.width, 40), break_long_words=False), soft_wrap=True)
    console.print(CAUTION, style="italic")


def tables(found: Comparison) -> Iterator[Table]:
    """Yield the tables of a comparison, at most MOST variants in each."""
    others = list(range(1, len(found.labels)))
    for start in range(0, len(others), MOST - 1):
        columns = [0, *others[start : start + MOST - 1]]
        for tooth in found.teeth:
            chosen = {f"teeth.{tooth}.{key}": name for key, name in TOOTH.items()}
            yield _table(f"Tooth {tooth}", found, columns, chosen)
        yield _table("Arch and wires", found, columns, _whole(found))


def _whole(found: Comparison) -> dict[str, str]:
    """Return paths and names of what the table says of the arch and the wires."""
    out = {}
    for place in sorted({n % 10 for n in found.teeth if n % 10 >= CANINE} | {3, 6}):
        for at in ("crown", "apex"):
            out[f"arch.width_change_mm.{place_key(place)}.{at}"] = f"width {PLACES[place]}s, {at}"
    out["arch.cusp_difference_mm"] = "palatal below buccal cusps"
    out["arch.midline_to_left_mm"] = "midline to the left"
    for name in dict.fromkeys(n for s in found.solutions for n in s.wires):
        out[f"wires.{name}.peak_over_limit"] = f"wire {name}: stress over limit"
        out |= {f"wires.{name}.memory.{key}": f"wire {name}: {words}" for key, words in MEMORY.items()}
    return out


def _table(title: str, found: Comparison, columns: Sequence[int], chosen: dict[str, str]) -> Table:
    known = {row.path: row for row in found.rows}
    out = table(title, "quantity", "unit", *(found.labels[i] for i in columns), left=["unit"])
    for path, name in chosen.items():
        row = known.get(path)
        if row is not None and any(v is not None for v in row.values):
            out.add_row(name, row.unit, *cells(row, columns))
    return out


def cells(row: Row, columns: Sequence[int]) -> list[str]:
    """Return the values of a row as text, all but the reference with their difference from it in percent."""
    numbers = [v if isinstance(v, float) else None for v in row.values]
    places = decimals(numbers)
    out = []
    for i in columns:
        value, percent = row.values[i], row.percent(i) if i else None
        text = value if isinstance(value, str) else number(value, places)
        out.append(text or NONE if percent is None else f"{text} ({_percent(percent)})")
    return out


def _percent(value: float) -> str:
    """Return a percentage as text, with its sign."""
    return f"{value:+.0f} %" if abs(value) >= 0.5 else "0 %"
