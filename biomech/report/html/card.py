"""The force card: one page that holds every tooth against published bands, a course at its worst."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from biomech.outputs import ToothView
from biomech.outputs.force import GRAM_FORCE
from biomech.outputs.limits import PRESSURE, TORQUE, Band
from biomech.report.html.markup import DASH, Raw, items, join, number, table, tag
from biomech.report.html.tables import WAYS
from biomech.report.moments import JUDGED
from biomech.report.worst import Peak, ToothWorst, WireWorst, above_lines, wires_now, worst_of
from biomech.studies import Solution
from biomech.studies.warnings import memory_words

MARKS = {"below": "▽ below", "within": "● within", "above": "▲ above"}
"""Place against a band: a shape and a word, so that no colour is needed."""

BOOK = "textbook table"
"""In the sources of bands that are told in one line; all sources stand below the report's results."""
_AGAINST = (
    "The force held against its band is the buccal one in the band of the movement the tooth makes, or the one along "
    "the tooth or the arch where that is further above its own."
)


def card(solution: Solution, label: str, caution: str) -> Raw:
    """Return the force card of a solution."""
    caption = f"Each tooth against published bands. {_AGAINST} {_windows()}"
    judged = [(0.0, solution)]
    past = [wire.words(days=False) for wire in wires_now(solution) if wire.share > 1.0 and wire.kept is None]
    return _card(solution.scenario.title, label, judged, (caption, False), (past, _remembered(judged), ()), caution)


def course_card(
    title: str, judged: Sequence[tuple[float, Solution]], limits: Sequence[str], wires: Sequence[WireWorst],
    beyond: Sequence[str], caution: str,
) -> Raw:  # fmt: skip
    """Return the force card of a course: every tooth at the worst of the moments `judged` (day, solution).

    It opens with the `limits` of the course that were passed, and tells the `wires` at their worst and what lies
    `beyond` what the rate law was measured at.
    """
    caption = (
        "Each tooth at its worst against published bands, with the day of it; movement and forces are those of the day "
        f"on which the force is furthest up its band. {_AGAINST} {_windows()}"
    )
    label = f"worst of {len(judged)} moments: {JUDGED}"
    untold = (wire for wire in wires if wire.past and not any(f"'{wire.name}'" in line for line in limits))
    first = [*limits, *(wire.words(days=True) for wire in untold)]
    return _card(title, label, judged, (caption, True), (first, _remembered(judged), beyond), caution)


def _card(
    title: str, label: str, judged: Sequence[tuple[float, Solution]], told: tuple[str, bool],
    lists: tuple[Sequence[str], Sequence[str], Sequence[str]], caution: str,
) -> Raw:  # fmt: skip
    caption, days = told
    worst = worst_of(judged)
    rows = [_row(tooth, days) for tooth in worst.values()]
    head, words = _head(days)
    first, remembered, beyond = (list(lines) for lines in lists)
    return tag(
        "section",
        tag("h2", "Force card"),
        tag("p", tag("strong", title), f" — {label}"),
        tag("div", tag("h3", "Limits passed"), items(first), class_="first") if first else None,
        table(caption, head, rows, words=words),
        tag("div", tag("h3", "Wires that remember"), items(remembered)) if remembered else None,
        tag("div", _exceeds(worst, days), _uncovered(judged, worst, beyond), class_="pair"),
        tag("p", caution, class_="caution"),
        id="card", class_="card days" if days else "card",
    )  # fmt: skip


def _head(days: bool) -> tuple[list[list[tuple[str, int]]], tuple[int, ...]]:
    """Return the heads of the table and its columns of words."""
    day, more = ([("day", 1)], 1) if days else ([], 0)
    head = [
        [("", 1), ("", 1), ("force, N", 3), ("force against its band", 4 + more),
         ("torque at the bracket", 2 + more), ("mean ligament pressure", 2 + more)],
        [("tooth", 1), ("movement", 1), *((w, 1) for w in WAYS), ("for", 1), ("gf", 1), ("band, gf", 1), ("", 1), *day,
         ("N·mm", 1), ("", 1), *day, ("kPa", 1), ("", 1), *day],
    ]  # fmt: skip
    return head, (1, 5, 8, 10 + more, 12 + 2 * more)


def _windows() -> str:
    return f"Torque window {_band(TORQUE)}, pressure {_band(PRESSURE)}."


def _band(band: Band) -> str:
    return f"{band.low:g} to {band.high:g} {band.unit.replace('.', '·')}"


def _row(tooth: ToothWorst, days: bool) -> list[object]:
    against: list[object] = [DASH, DASH, "none published", DASH]
    force = tooth.force
    if force is not None:
        band = force.band
        purpose = band.name.removeprefix("force for ").removeprefix("force ")
        low, high = band.low / GRAM_FORCE, band.high / GRAM_FORCE
        against = [purpose, number(force.value / GRAM_FORCE, 0), f"{low:.0f}–{high:.0f}", _mark(force)]
    day = [number(tooth.day, 0)] if days else []
    return [
        str(tooth.number), tooth.movement, *(number(tooth.forces[w], 2) for w in WAYS), *against, *day,
        number(tooth.turned, 1), _mark(tooth.torque), *_day(tooth.torque, days),
        number(None if tooth.pressure is None else tooth.pressure.value, 1), _mark(tooth.pressure),
        *_day(tooth.pressure, days),
    ]  # fmt: skip


def _day(peak: Peak | None, days: bool) -> list[object]:
    return [DASH if peak is None else number(peak.day, 0)] if days else []


def _mark(peak: Peak | None) -> object:
    return DASH if peak is None else tag("span", MARKS[peak.where], class_=peak.where)


def _remembered(judged: Sequence[tuple[float, Solution]]) -> list[str]:
    """Return what wires with memory went through, each when it was last in: what they keep they cannot deliver."""
    last = {name: view for _, solution in judged for name, view in solution.wires.items() if view.inner is not None}
    return [line for name, view in last.items() if view.inner is not None for line in memory_words(name, view.inner)]


def _exceeds(worst: Mapping[int, ToothWorst], days: bool) -> Raw:
    lines: list[Any] = list(above_lines(worst, days))
    body = items(lines) if lines else tag("p", "No tooth is above the bands it is held against.")
    return tag("div", tag("h3", "Above its band"), body)


def _uncovered(
    judged: Sequence[tuple[float, Solution]], worst: Mapping[int, ToothWorst], beyond: Sequence[str]
) -> Raw:
    bare = [str(n) for n, tooth in worst.items() if tooth.force is None]
    used = {name: peak.band for tooth in worst.values() for name, peak in tooth.peaks.items()}
    lines: list[Any] = list(beyond)
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
    rigid = [str(n) for n, view in judged[0][1].teeth.items() if _rigid(view)]
    if rigid:
        lines.append(f"Held rigidly, no movement computed: tooth {', '.join(rigid)}.")
    return tag("div", tag("h3", "Not covered by evidence"), items(lines))


def _rigid(view: ToothView) -> bool:
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
