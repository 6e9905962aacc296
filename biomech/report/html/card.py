"""The force card: one page that holds every tooth against published bands."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from biomech.outputs import ToothView
from biomech.outputs.limits import PRESSURE, TORQUE, Band, applied, held_force, place
from biomech.report.html.markup import DASH, Raw, items, join, number, table, tag
from biomech.report.html.steps import part_of
from biomech.report.html.tables import WAYS
from biomech.studies import Solution
from biomech.studies.warnings import memory_words

MARKS = {"below": "▽ below", "within": "● within", "above": "▲ above"}
"""Place against a band: a shape and a word, so that no colour is needed."""

BOOK = "textbook table"
"""In the sources of bands that are told in one line; all sources stand below the report's results."""


def card(solution: Solution, label: str, caution: str) -> Raw:
    """Return the force card of a solution."""
    found = {n: applied(view) for n, view in solution.teeth.items()}
    rows = [_row(solution.tooth(n), found[n], n) for n in found]
    head = [
        [("", 1), ("", 1), ("force, N", 3), ("force against its band", 4), ("torque at the bracket", 2),
         ("mean ligament pressure", 2)],
        [("tooth", 1), ("movement", 1), *((w, 1) for w in WAYS), ("for", 1), ("gf", 1), ("band, gf", 1), ("", 1),
         ("N·mm", 1), ("", 1), ("kPa", 1), ("", 1)],
    ]  # fmt: skip
    caption = (
        "Each tooth against published bands. The force held against its band is the buccal one in the band of the "
        "movement it makes, or the one along the tooth or the arch where that is further above its own. "
        f"Torque window {_band(TORQUE)}, pressure {_band(PRESSURE)}."
    )
    return tag(
        "section",
        tag("h2", "Force card"),
        tag("p", tag("strong", solution.scenario.title), f" — {label}"),
        table(caption, head, rows, words=(1, 5, 8, 10, 12)),
        _wires(solution),
        tag("div", _exceeds(found), _uncovered(solution, found), class_="pair"),
        tag("p", caution, class_="caution"),
        id="card", class_="card",
    )  # fmt: skip


def _band(band: Band) -> str:
    return f"{band.low:g} to {band.high:g} {band.unit.replace('.', '·')}"


def _row(values: Mapping[str, Any], found: list[tuple[Band, float]], n: int) -> list[object]:
    force = held_force(found)
    torque = next(((b, v) for b, v in found if b is TORQUE), None)
    pressure = next(((b, v) for b, v in found if b is PRESSURE), None)
    gf = 1.0 / 9.80665e-3  # gf per N
    against: list[object] = [DASH, DASH, "none published", DASH]
    if force is not None:
        band, value = force
        purpose = band.name.removeprefix("force for ").removeprefix("force ")
        against = [purpose, number(value * gf, 0), f"{band.low * gf:.0f}–{band.high * gf:.0f}", _mark(force)]
    return [
        str(n), str(values["movement"]), *(number(part_of(values["force_N"], w), 2) for w in WAYS), *against,
        number(part_of(values["moment_at_bracket_N_mm"], "torque"), 1), _mark(torque),
        number(pressure[1] if pressure else None, 1), _mark(pressure),
    ]  # fmt: skip


def _mark(found: tuple[Band, float] | None) -> object:
    if found is None:
        return DASH
    where = place(found[1], found[0])
    return tag("span", MARKS[where], class_=where)


def _wires(solution: Solution) -> Raw | None:
    """Return what wires with memory went through, in words: what they keep is what they can still deliver."""
    lines: list[Any] = []
    for name, view in solution.wires.items():
        if view.inner is not None:
            lines += memory_words(name, view.inner)
    return tag("div", tag("h3", "Wires that remember"), items(lines)) if lines else None


def _exceeds(found: Mapping[int, list[tuple[Band, float]]]) -> Raw:
    above: dict[str, tuple[Band, list[str]]] = {}
    for n, pairs in found.items():
        for band, value in pairs:
            if place(value, band) == "above":
                above.setdefault(band.name, (band, []))[1].append(f"{n} ({value:.2g})")
    lines: list[Any] = [
        f"{name}, {band.unit.replace('.', '·')}, above {_band(band)}: tooth {', '.join(teeth)}"
        for name, (band, teeth) in above.items()
    ]
    body = items(lines) if lines else tag("p", "No tooth is above the bands it is held against.")
    return tag("div", tag("h3", "Above its band"), body)


def _uncovered(solution: Solution, found: Mapping[int, list[tuple[Band, float]]]) -> Raw:
    bare = [str(n) for n, pairs in found.items() if not any(b.name.startswith("force") for b, _ in pairs)]
    used = {band.name: band for pairs in found.values() for band, _ in pairs}
    lines: list[Any] = []
    if bare:
        lines.append(f"No band is published for the movement of tooth {', '.join(bare)}.")
    weak = [band for band in used.values() if "memory" in band.source or "abstract" in band.source]
    book = [band.name for band in weak if BOOK in band.source]
    lines.append("There is no evidence for one best force; the bands are for orientation.")
    if book:
        lines.append(f"Weakly sourced, {BOOK} from memory: {', '.join(book)}.")
    lines += [f"Weakly sourced: {band.name}: {band.source}." for band in weak if band.name not in book]
    lines.append("Tip and rotation are not held against any band, mesial forces only against the upper end of one.")
    lines.append("Root resorption, gingiva and the outcome of a treatment are not computed.")
    rigid = [str(n) for n, view in solution.teeth.items() if _held(view)]
    if rigid:
        lines.append(f"Held rigidly, no movement computed: tooth {', '.join(rigid)}.")
    return tag("div", tag("h3", "Not covered by evidence"), items(lines))


def _held(view: ToothView) -> bool:
    return view.part.ligament is None


def sources(record: Mapping[str, Any]) -> Raw:
    """Return the bands with their sources."""
    rows: list[list[object]] = []
    for name, band in record["bands"].items():
        low, high = (next(k for k in band if k.startswith(side)) for side in ("low_", "high_"))
        unit = low.removeprefix("low_").replace("_", "·")
        rows.append([name, f"{band[low]:g} to {band[high]:g} {unit}", band["source"]])
    return join(table("Published bands and where they come from.",
                      [[("band", 1), ("range", 1), ("source", 1)]], rows, words=(1, 2)))  # fmt: skip
