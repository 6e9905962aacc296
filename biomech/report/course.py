"""Tables of a course for the terminal: the arch and the wires over the visits, and every tooth at each of them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from biomech.outputs._arch import PLACES
from biomech.outputs.limits import AXIAL_IN
from biomech.report.alarms import alarms, flag_lines, limit_lines
from biomech.report.course_bands import bands_table
from biomech.report.moments import judged, worst_balance
from biomech.report.words import NONE, WIDTHS, decimals, number, table
from biomech.studies.course import Course, Visit
from biomech.studies.course_files import course_record, measures_before
from biomech.studies.solve import CAUTION
from biomech.studies.warnings import memory_words

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from biomech.movement.readings import Reading, WireLeft

SHOWN = (3, 4, 6)
"""Places from the midline whose widths are shown: canines, first premolars, first molars."""
_KEEPS = {"set": "set strain, largest", "martensite": "martensite, most"}
RAISED = 0.25
"""Movement of a crown along its tooth from which it is told, mm. A convention."""
_HEAD = (
    "tooth", "crown\nbuccal\nmm", "crown\nmesial\nmm", "apex\nbuccal\nmm", "apex\nmesial\nmm", "tip\nbuccal\ndeg",
    "tip\nmesial\ndeg", "{cusp}\ncusp\nmm",
)  # fmt: skip


def print_course(course: Course, console: Console) -> None:
    """Print what a course did: every visit with its teeth, the arch and the wires over the visits, warnings."""
    from biomech.report import list_lines, list_marked
    from biomech.report.summary import expectation_lines

    scenario = course.scenario
    console.print(scenario.title, style="bold")
    for line in (scenario.question, scenario.note, f"Rate law {course.law.name}: {course.law.provenance()}"):
        if line:
            console.print(line)
    console.print()
    held = judged(course)
    told = alarms(course, held)
    list_lines(console, "Limits passed", limit_lines(course))
    for visit in course.visits:
        console.print(_name(visit), style="bold")
        list_lines(console, "", visit_lines(visit))
        _show(console, teeth_table(course, visit.before, visit.after))
        list_lines(console, "Along the teeth, + occlusal", vertical_lines(visit.before, visit.after))
        list_lines(console, "Limits passed until the next visit", flag_lines(visit.flags))
    last = course.readings[-1]
    console.print(f"End, {_day(last.day)}" if course.stopped is None else f"STOPPED by a limit: {course.stopped}",
                  style="bold")  # fmt: skip
    _show(console, teeth_table(course, last, None))
    list_lines(console, "Along the teeth, + occlusal", vertical_lines(last, None))
    if len(last.teeth) > 1:
        _show(console, arch_table(course))
    for name in dict.fromkeys(name for visit in course.visits for name in visit.after.wires):
        _show(console, wire_table(course, name))
    if any(wire.remembers for reading in course.readings for wire in reading.wires.values()):
        list_lines(console, "Wires that remember", memory_lines(course))
    list_lines(console, "Can it be trusted", trust_lines(course))
    _show(console, bands_table(held))
    list_lines(console, "Warnings", told or ["none"])
    marked = list(expectation_lines(course_record(course)["expectations"]))
    list_marked(console, "What the scenario expects of the course", marked)
    console.print(CAUTION, style="italic")


def _show(console: Console, found: Table) -> None:
    console.print(found)
    console.print()


def _day(day: float) -> str:
    return f"day {day:.0f}"


def _name(visit: Visit) -> str:
    name = "Start" if visit.number == 0 else f"Visit {visit.number}"
    return f"{name}, {_day(visit.day)}" + ("" if visit.date is None else f" ({visit.date.isoformat()})")


def visit_lines(visit: Visit) -> Iterator[str]:
    """Yield what was done at a visit: its own actions, those of rules, its note."""
    if visit.number == 0:
        yield f"the {'wires are laid in' if visit.after.wires else 'loads act'}; no socket has moved yet"
    yield from visit.actions
    yield from visit.rules
    if visit.number and not visit.actions and not visit.rules:
        yield "nothing done"
    if visit.note:
        yield f"note: {visit.note}"


def teeth_table(course: Course, found: Reading | None, left: Reading | None) -> Table:
    """Return every tooth at one moment: movement since the start, buccal force and torque as found and as left.

    `found` is None at the start, `left` at the end; movement is that of the arch as found, at the start as left.
    """
    now = found if found is not None else left
    assert now is not None
    jaw = course.scenario.arch.jaw
    states = [(word, r) for word, r in (("found", found), ("left", left)) if r is not None]
    cusp = {"upper": "palatal", "lower": "lingual"}[jaw]
    heads = [text.format(cusp=cusp) for text in _HEAD]
    words = [word if len(states) > 1 else "" for word, _ in states]
    heads += [f"force\nbuccal\nN {word}".rstrip() for word in words]
    heads += [f"torque\nN.mm\n{word}".rstrip() for word in words]
    out = table("Teeth: movement since the start of the course, and forces", *heads)
    out.padding = (0, 1, 0, 0)  # twelve columns on a page of a hundred characters
    forces = [[abs(float(v)) for v in r.force[:, 1]] for _, r in states]
    turns = [[abs(float(v)) for v in r.moment[:, 0]] for _, r in states]
    newton, turn = (min(3, decimals(v for values in many for v in values)) for many in (forces, turns))
    for i, tooth in enumerate(now.teeth):
        moved = [now.crown[i, 1], now.crown[i, 0], now.apex[i, 1], now.apex[i, 0]]
        cells = [number(float(v), 2) for v in moved]
        cells += [number(-float(now.turn[i, 0]), 2), number(float(now.turn[i, 1]), 2)]
        cells.append(number(float(now.cusp[i]), 2) if now.has_cusp[i] else NONE)
        cells += [number(float(r.force[i, 1]), newton) for _, r in states]
        cells += [number(float(r.moment[i, 0]), turn) for _, r in states]
        out.add_row(str(tooth), *cells)
    out.caption = "tip: of the crown; cusp: + occlusal; torque: at the bracket, + buccal root"
    out.caption_justify = "left"
    return out


def vertical_lines(found: Reading | None, left: Reading | None) -> list[str]:
    """Return crown and force along every tooth that is moved or pulled that way, as found and as left."""
    now = found if found is not None else left
    assert now is not None
    out = []
    for i, tooth in enumerate(now.teeth):
        forces = [float(r.force[i, 2]) for r in (found, left) if r is not None]
        if abs(float(now.crown[i, 2])) < RAISED and max(map(abs, forces)) < AXIAL_IN.low:
            continue
        words = [f"{number(force, 2)} N" for force in forces]
        text = words[0] if len(set(words)) == 1 else f"{words[0]} found, {words[1]} left"
        out.append(f"tooth {tooth}: crown {number(float(now.crown[i, 2]), 2)} mm, force {text}")
    return out


def _stops(course: Course) -> Iterator[tuple[str, Reading]]:
    """Yield name and reading of the start as left, of every visit as found, and of the end."""
    for visit in course.visits:
        yield ("start" if visit.number == 0 else str(visit.number)), visit.before or visit.after
    yield ("end" if course.stopped is None else "stopped"), course.readings[-1]


def arch_table(course: Course) -> Table:
    """Return gains in width, midline and perimeter at every visit as found, against the arch before the wires.

    Widths and midline are left out where there are none.
    """
    before = measures_before(course)
    places = [p for p in SHOWN if p in before.widths]
    middle = any(r.midline is not None for r in course.readings)
    heads = ["\n".join([*f"{PLACES[p]}s".split(), at]) for p in places for at in ("crown", "apex")]
    named = [*(["gain in width"] if places else []), *(["midline"] if middle else []), "gain in perimeter"]
    out = table(
        f"Arch as found, mm: {', '.join(named)}", "visit", "day", *heads, *(["midline\nto left"] if middle else []),
        "perimeter",
    )  # fmt: skip
    for name, r in _stops(course):
        cells = []
        for p in places:
            cells += [number(r.widths[p] - before.widths[p], 2), number(r.apex_widths[p] - before.apex_widths[p], 2)]
        cells += [*([number(r.midline, 2)] if middle else []), number(r.perimeter - before.perimeter, 2)]
        out.add_row(name, f"{r.day:.0f}", *cells)
    acted = "the wires were laid in" if any(r.wires for r in course.readings) else "the loads acted"
    out.caption = "\n".join([f"gains count from the arch before {acted}", *([WIDTHS] if places else [])])
    out.caption_justify = "left"
    return out


def wire_table(course: Course, name: str) -> Table:
    """Return what is left in a wire at every visit: its energy as found, of that as it was left before, and as left."""
    kept = next((r.wires[name].reading for r in course.readings if name in r.wires), "")
    out = table(
        f"What is left in wire '{name}'", "visit", "day", "found, N.mm", "of what was left", "left, N.mm",
        "stress over limit, as left", *([_KEEPS[kept]] if kept else []),
    )  # fmt: skip
    rows = [(str(v.number) if v.number else "start", v.day, v.before, v.after) for v in course.visits]
    last = course.readings[-1]
    every: list[tuple[str, float, Reading | None, Reading | None]] = [
        *rows, ("end" if course.stopped is None else "stopped", last.day, last, None)
    ]  # fmt: skip
    places = decimals(r.wires[name].energy for row in every for r in row[2:] if r is not None and name in r.wires)
    given: float | None = None
    for label, day, found, left in every:
        was = found.wires.get(name) if found is not None else None
        now = left.wires.get(name) if left is not None else None
        share = f"{100 * was.energy / given:.0f} %" if was is not None and given else NONE
        if was is not None or now is not None:
            out.add_row(
                label, f"{day:.0f}", number(was.energy if was else None, places), share,
                number(now.energy, places) if now else "taken out" if left is not None else NONE,
                f"{100 * now.utilisation:.0f} %" if now else NONE, *([_kept(now or was)] if kept else []),
            )  # fmt: skip
        given = now.energy if now is not None else None
    out.caption = "elastic energy in the wire; above 100 %: teeth that other wires moved have bent it further"
    out.caption_justify = "left"
    return out


def _kept(wire: WireLeft | None) -> str:
    if wire is None:
        return NONE
    return f"{100 * wire.largest:.{2 if wire.reading == 'set' else 0}f} %"


def memory_lines(course: Course) -> Iterator[str]:
    """Yield in words what every wire with memory keeps and still delivers, at the start and at the end."""
    for when, i in (("start", 0), ("end", -1)):
        for name, view in course.solution_at(i).wires.items():
            if view.inner is not None:
                yield from (f"{when}: {text}" for text in memory_words(name, view.inner))


def trust_lines(course: Course) -> Iterator[str]:
    """Yield balance of the wires (if any) at all moments, the error allowed in time, and what the course took."""
    if any(r.wires for r in course.readings):
        worst = worst_balance(course)
        yield (
            f"Balance, worst of {len(course.times)} moments: {worst.unbalanced:.1e} N and "
            f"{worst.unbalanced_moment:.1e} N.mm left over when the forces of the wires on all teeth are added up "
            f"(their sizes: {worst.throughput:.3g} N)"
        )
    yield f"Time: steps chosen so that each errs by less than {course.tolerance:.0e} of the movement"
    yield "Speeds of teeth differ between people by far more than any of this; the law is a choice, not a forecast"
    yield f"Run time: {course.seconds:.1f} s"
