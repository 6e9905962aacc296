"""A comparison of courses for the terminal: what differs in words, numbers side by side, what was done and passed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from biomech.outputs._arch import PLACES
from biomech.report.comparison import say
from biomech.report.heads import heads, side_by_side
from biomech.report.moments import worst_balance
from biomech.report.words import WIDTHS, decimals, number, table
from biomech.studies.course_sentences import band_of, course_sentences
from biomech.studies.record import place_key
from biomech.studies.sentences import CANINE
from biomech.studies.solve import CAUTION
from biomech.studies.stops import name_of

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from biomech.movement.limits import Flag
    from biomech.studies.compare_courses import CourseComparison
    from biomech.studies.curves import Curves
    from biomech.studies.rows import Row
    from biomech.studies.stops import Stop

TOOTH = {
    "axis_crown_mm.buccal": ("crown, + buccal", 2),
    "axis_apex_mm.buccal": ("apex, + buccal", 2),
    "apex_to_crown": ("apex over crown", 2),
    "buccal_tip_deg": ("crown tip, + buccal", 1),
    "tip_deg_per_mm": ("tip per mm of crown", 1),
    "inner_cusp_mm.occlusal": ("{} cusp, + occlusal", 2),
    "force_N.buccal": ("force, + buccal", 3),
    "moment_at_bracket_N_mm.torque": ("torque, + buccal root", 2),
}
"""Results of a tooth in the foreground that the table shows, in order: what it calls them, and decimals at most."""
MOST = 3
"""Variants side by side in one table; more are put into further tables, each with the reference."""
LABEL = 12
"""Letters of a variant's label on one line of a table's head."""
PLACES_SHOWN = (3, 4, 6)
"""Places from the midline whose widths are always shown: canines, first premolars, first molars."""


def print_course_comparison(found: CourseComparison, console: Console) -> None:
    """Print sentences, tables by time, and for every variant what was done and passed; then the caution."""
    console.print(f"Comparison of {len(found.labels)} courses; reference: {found.labels[0]}", style="bold")
    for variant in found.variants:
        if variant.label.startswith("value ") and not isinstance(variant.value, str):
            say(console, f"{variant.label}: {' + '.join(found.keys)} = {_toml(variant.value)}")
    console.print()
    for sentence in course_sentences(found):
        say(console, sentence)
    console.print()
    above = heads(found.labels, LABEL)
    for text in above.legend:
        say(console, text)
    if above.legend:
        console.print()
    for out in tables(found, console, above.names):
        console.print(out)
        console.print()
    for text in published(found):
        say(console, text)
    for label, (law, source) in laws(found).items():
        say(console, f"Rate law {law}{label}: {source}.")
    console.print()
    _histories(found, console)
    console.print(CAUTION, style="italic")


def published(found: CourseComparison) -> Iterator[str]:
    """Yield the sources of the bands that the tables show."""
    paths = {row.path for rows in found.tables for row in rows if row.values.count(None) < len(row.values)}
    shown = dict.fromkeys(band for path in sorted(paths) if (band := band_of(path)) is not None)
    if shown:
        yield "Published, for orientation: " + "; ".join(f"{b.name}: {b.source}" for b in shown) + "."


def laws(found: CourseComparison) -> dict[str, tuple[str, str]]:
    """Return rate law and provenance by variant, one without a label where all are alike."""
    if len({course.law for course in found.courses}) == 1:
        return {"": found.courses[0].law}
    return {f" ({label})": c.law for label, c in zip(found.labels, found.courses, strict=True)}


def _toml(value: object) -> str:
    from biomech.scenario.problems import written

    return written(value)


def tables(found: CourseComparison, console: Console, names: Sequence[str]) -> Iterator[Table]:
    """Yield the tables of a comparison: by time, a table a tooth and one of arch and wires, variants under `names`.

    As many variants in each as fit, at most MOST.
    """
    for stop, rows in zip(found.stops, found.tables, strict=True):
        known = {row.path: row for row in rows}

        def make(columns: Sequence[int], known: dict[str, Row] = known, stop: Stop = stop) -> list[Table]:
            head = [names[columns[0]]]
            for i in columns[1:]:
                head += [names[i], "difference"]
            return list(_tables(found, stop, known, columns, head))

        yield from side_by_side(len(found.labels), MOST, console, make)


def _tables(
    found: CourseComparison, stop: Stop, known: dict[str, Row], columns: Sequence[int], head: Sequence[str]
) -> Iterator[Table]:
    for tooth in found.teeth:
        cusp = "palatal" if tooth < 30 else "lingual"
        chosen = {f"teeth.{tooth}.{k}": (name.format(cusp), most) for k, (name, most) in TOOTH.items()}
        yield _table(f"{when(stop)}: tooth {tooth}", columns, head, chosen, known)
    whole = _table(f"{when(stop)}: widths gained, arch, wires", columns, head, _whole(found), known)
    if whole.row_count:
        yield whole


def when(stop: Stop) -> str:
    """Return a time of the tables in words: "Middle, 6 months", "Visit 2 as found, 119 days"."""
    days = list(dict.fromkeys(name_of(day) for day in stop.days if day is not None))
    name = stop.name[:1].upper() + stop.name[1:] + (" as found" if stop.name.startswith("visit") else "")
    if stop.name[:1].isdigit():
        return f"After {stop.name}"
    return name if stop.name == "start" else f"{name}, {' / '.join(days)}"


def _whole(found: CourseComparison) -> dict[str, tuple[str, int]]:
    """Return paths, names and decimals of what the table says of the arch and the wires."""
    out = {}
    for place in sorted({n % 10 for n in found.teeth if n % 10 >= CANINE} | set(PLACES_SHOWN)):
        for at in ("crown", "apex"):
            out[f"arch.width_change_mm.{place_key(place)}.{at}"] = (f"{PLACES[place]}s, {at}", 2)
    out["arch.width_mm_per_month.first_molar"] = ("first molars, a month", 2)
    out["arch.incisors_forward_mm"] = ("incisors, + forward", 2)
    out["arch.midline_to_left_mm"] = ("midline, + to the left", 2)
    if any(len(course.teeth) > 1 for course in found.courses):
        out["arch.perimeter_change_mm"] = ("perimeter gained", 2)
    for name in dict.fromkeys(w for c in found.courses for v in c.visits for w in v.after.wires):
        out[f"wires.{name}.energy_N_mm"] = (f"left in wire {name}", 2)
        out[f"wires.{name}.of_what_was_left_percent"] = ("  of that at last visit", 0)
    return out


def _table(
    title: str, columns: Sequence[int], head: Sequence[str], chosen: dict[str, tuple[str, int]], known: dict[str, Row]
) -> Table:
    out = table(title, "quantity", "unit", *head, left=["unit"])
    out.padding = (0, 1, 0, 0)
    out.columns[2].min_width = 10  # a published band in one line
    for path, (name, most) in chosen.items():
        row, band = known.get(path), band_of(path)
        if row is None or all(v is None for v in row.values):
            continue
        out.add_row(name, row.unit, *cells(row, columns, most))
        if band is not None:
            out.add_row("  published", row.unit, f"{band.low:g} to {band.high:g}", style="italic")
        if ".width" in path:
            out.caption, out.caption_justify = WIDTHS, "left"
    return out


def cells(row: Row, columns: Sequence[int], most: int) -> list[str]:
    """Return the values of a row as text, each but the first followed by its difference from it.

    With percent where both are amounts: not for ratios and not where the reference is negative.
    """
    numbers = [v if isinstance(v, float) else None for v in row.values]
    places = min(most, decimals(numbers))
    base = numbers[columns[0]]
    out = [number(base, places)]
    for i in columns[1:]:
        change, percent = row.difference(i), row.percent(i)
        out.append(number(numbers[i], places))
        text = number(change, places)
        if change is None or float(text) == 0.0:
            out.append(text)
            continue
        signed = text if change < 0 else f"+{text}"
        amount = base is not None and base >= 10.0 ** (1 - places)  # one that shows two figures at least
        told = amount and percent is not None and row.unit not in ("", "%", "deg/mm")
        out.append(f"{signed} ({_percent(percent or 0.0)})" if told else signed)
    return out


def _percent(value: float) -> str:
    return f"{value:+.0f} %" if abs(value) >= 0.5 else "0 %"


def _histories(found: CourseComparison, console: Console) -> None:
    """Print what was done at the visits (once where it was the same), limits passed, warnings and trust by variant."""
    from biomech.report import list_lines

    done = [list(visit_lines(course)) for course in found.courses]
    same = all(lines == done[0] for lines in done)
    if same:
        list_lines(console, "Visits, the same in all", done[0])
    for label, course, visits in zip(found.labels, found.courses, done, strict=True):
        list_lines(console, label, [*([] if same else visits), *passed_lines(course)])


def visit_lines(course: Curves) -> Iterator[str]:
    """Yield what was done at each visit; those at which nothing was done in one line."""
    idle = []
    for visit in course.visits[1:]:
        done = [*visit.actions, *visit.rules, *([f"note: {visit.note}"] if visit.note else [])]
        if done:
            yield f"visit {visit.number}, day {visit.day:.0f}: {'; '.join(done)}"
        else:
            idle.append(str(visit.number))
    if idle:
        yield f"visit{'s' if len(idle) > 1 else ''} {', '.join(idle)}: nothing done"


def passed_lines(course: Curves) -> Iterator[str]:
    """Yield the limits a course passed, its warnings, and how far it can be trusted."""
    yield from limit_lines(course)
    if course.stopped is not None:
        yield f"STOPPED by a limit: {course.stopped}"
    yield from (f"warning: {text}" for text in course.warnings)
    earlier = f", {course.resumed} of {len(course.legs)} stretches from an earlier run" if course.resumed else ""
    took = f"run time {course.seconds:.1f} s{earlier}"
    if not any(r.wires for r in course.readings):
        yield took
        return
    worst = worst_balance(course)
    left = f"{worst.unbalanced:.1e} N of {worst.throughput:.3g} N"
    yield f"balance, worst of {len(course.times)} moments: {left}; {took}"


def limit_lines(course: Curves) -> Iterator[str]:
    """Yield each limit a course passed, of each tooth once: the first time, and how often it was passed again."""
    times: dict[tuple[str, int | None], list[Flag]] = {}
    for flag in course.flags:
        times.setdefault((flag.kind, flag.tooth), []).append(flag)
    for flags in times.values():
        again = f" (again after {len(flags) - 1} later visit{'s' if len(flags) > 2 else ''})" if flags[1:] else ""
        yield f"limit passed on day {flags[0].day:.0f}: {flags[0].text}{again}"
