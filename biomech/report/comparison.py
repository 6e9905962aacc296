"""A comparison for the terminal: what differs in words, then the numbers side by side."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from biomech.outputs._arch import PLACES
from biomech.report.heads import NAME, WORD, heads, in_lines, side_by_side
from biomech.report.words import NONE, WIDTHS, decimals, number, table
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
LINE = 15
"""Letters of a variant's label on one line of a table's head; as many as a number with its difference has."""


def print_comparison(found: Comparison, console: Console) -> None:
    """Print sentences, tables of the teeth in the foreground and of the arch, each variant's warnings, the caution."""
    console.print(f"Comparison of {len(found.labels)} scenarios; reference: {found.labels[0]}", style="bold")
    console.print()
    for sentence in sentences(found):
        say(console, sentence)
    console.print()
    above = heads(found.labels, LINE)
    for text in above.legend:
        say(console, text)
    if above.legend:
        console.print()
    for out in tables(found, console, above.names):
        console.print(out)
        console.print()
    for label, solution in zip(found.labels, found.solutions, strict=True):
        for warning in solution.warnings:
            say(console, f"Warning, {label}: {warning}")
    console.print(CAUTION, style="italic")


def say(console: Console, text: str) -> None:
    """Print a text in lines that break between words, not within names."""
    console.print(in_lines(text, max(console.width, 40)), soft_wrap=True)


def tables(found: Comparison, console: Console, names: Sequence[str]) -> list[Table]:
    """Return the tables of a comparison, variants under their `names`; as many in each as fit, at most MOST."""
    known = {row.path: row for row in found.rows}

    def make(columns: Sequence[int]) -> Iterator[Table]:
        head = [names[i] for i in columns]
        for tooth in found.teeth:
            chosen = {f"teeth.{tooth}.{key}": name for key, name in TOOTH.items()}
            yield _table(f"Tooth {tooth}", known, columns, head, chosen)
        yield _table("Arch and wires", known, columns, head, _whole(found))

    return side_by_side(len(found.labels), MOST, console, lambda columns: list(make(columns)))


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


def _table(
    title: str, known: Mapping[str, Row], columns: Sequence[int], head: Sequence[str], chosen: Mapping[str, str]
) -> Table:
    out = table(title, "quantity", "unit", *head, left=["unit"])
    out.padding = (0, 1, 0, 0)
    for path, name in chosen.items():
        row = known.get(path)
        if row is not None and any(v is not None for v in row.values):
            texts = cells(row, columns)
            if any(isinstance(v, str) for v in row.values):
                texts = [in_lines(text, WORD) for text in texts]
            out.add_row(in_lines(name, NAME), row.unit, *texts)
            if ".width" in path:
                out.caption, out.caption_justify = WIDTHS, "left"
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
