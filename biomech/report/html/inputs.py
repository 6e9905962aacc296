"""The inputs of a run with their sources: materials, teeth, every wire that ever acted, slots, ties and ligatures."""

from __future__ import annotations

import datetime
import math
import platform
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from biomech.appliance import Appliance
from biomech.appliance.holds import CONTACT_STIFFNESS, TIED_BACK
from biomech.attachments.slot import LIGATURES
from biomech.attachments.tie import STIFFNESS
from biomech.cache import program
from biomech.report.html.markup import Raw, brief, join, table, tag
from biomech.scenario import Bracket, Hold, Scenario
from biomech.studies import Solution
from biomech.studies.record import fingerprint
from biomech.studies.warnings import play_of

LANDMARKS = (
    "crown and apex: the long axis at the depths of incisal edge or buccal cusp and of the apex (mean of several); "
    "widths between edges or buccal cusps; depths from the alveolar crest; centre of resistance: that of the unloaded "
    "ligament"
)
ASSUMED = "assumed: common practice, no source"


class Stage(NamedTuple):
    """An appliance, and from which day to which it acted (None: a single moment)."""

    appliance: Appliance
    days: tuple[float, float] | None


def inputs(solution: Solution, record: Mapping[str, Any], stages: Sequence[Stage]) -> Raw:
    """Return the tables of inputs; `stages` in time, those of a course from visit to visit."""
    return join(_materials(solution, record, stages), _wires(stages), _holds(stages))


def _materials(solution: Solution, record: Mapping[str, Any], stages: Sequence[Stage]) -> Raw:
    rows: list[list[object]] = []
    for law in record["ligament"]:
        values = {k: v for k, v in law.items() if k not in ("law", "model", "provenance", "teeth")}
        text = ", ".join(f"{_words(k)} {brief(v)}{_unit(k)}" for k, v in values.items())
        how = f"{law['law']}, model {law['model']}" if "model" in law else law["law"]
        rows.append(["ligament", f"{how}: {text}" if text else how, law["provenance"]])
    alloys = {part.alloy.name: part.alloy for stage in stages for part in stage.appliance.wires.values()}
    for name, alloy in alloys.items():
        text = f"{brief(alloy.young / 1000)} GPa, elastic limit {brief(alloy.elastic_limit)} MPa"
        rows.append([f"alloy {name}", text, f"{alloy.source} ({alloy.seen})"])
    rows.append(["teeth", f"{len(solution.teeth)} teeth, {_bone(solution)}", _shapes(solution)])
    rows.append(["landmarks", LANDMARKS, "definitions of this program"])
    head = [[("input", 1), ("value", 1), ("source and how it was seen", 1)]]
    return table("Material and anatomical inputs.", head, rows, words=(1, 2))


def _shapes(solution: Solution) -> str:
    """Return where the shapes of the teeth come from: the handbooks, and surface files with what was assumed."""
    shapes = {n: view.part.tooth.shape for n, view in solution.teeth.items()}
    own = [
        f"tooth {n}: surface file {shape.source} ({'; '.join((*shape.repairs, *shape.notes))})"
        for n, shape in shapes.items() if shape is not None
    ]  # fmt: skip
    rest = ["handbook dimensions of average teeth"] if len(own) < len(shapes) else []
    return ". ".join([*rest, *own])


def _words(key: str) -> str:
    return key.removesuffix("_MPa").removesuffix("_mm").replace("_", " ")


def _unit(key: str) -> str:
    return next((f" {unit}" for unit in ("MPa", "mm") if key.endswith(f"_{unit}")), "")


def _bone(solution: Solution) -> str:
    levels = sorted({view.part.tooth.bone_level for view in solution.teeth.values()})
    span = f"{levels[0]:g}" if len(levels) == 1 else f"{levels[0]:g} to {levels[-1]:g}"
    return f"bone level {span} mm below the cemento-enamel junction"


def _wires(stages: Sequence[Stage]) -> Raw | None:
    """Return every wire as it was at some time, those taken out later too: its keys as the scenario has them then."""
    rows: list[list[object]] = []
    for name, text, section, days in _spells(stages):
        when = [] if days is None else [f"{days[0]:.0f} to {days[1]:.0f}"]
        rows.append([name, *when, section, text])
    if not rows:
        return None
    timed = stages[0].days is not None
    head = [[("wire", 1), *([("days", 1)] if timed else []), ("section and alloy", 1), ("shape and bends", 1)]]
    return table("Wires as laid in: shape and bends in the scenario's words.", head, rows,
                 words=(1, 2, 3) if timed else (1, 2))  # fmt: skip


def _spells(stages: Sequence[Stage]) -> Iterator[tuple[str, str, str, tuple[float, float] | None]]:
    """Yield every wire with each state it was in: name, its keys, section and alloy, first and last day."""
    open_: dict[str, tuple[str, str, tuple[float, float] | None]] = {}
    for stage in stages:
        now = {}
        for name, part in stage.appliance.wires.items():
            document = stage.appliance.scenario.document["wire"][name]
            now[name] = (_flat(document), f"{part.section.label()}, {part.alloy.name}")
        for name in [n for n in open_ if n not in now or now[n] != open_[n][:2]]:
            text, section, days = open_.pop(name)
            yield name, text, section, days
        for name, (text, section) in now.items():
            before = open_.get(name)
            days = stage.days
            if before is not None and before[2] is not None and days is not None:
                days = (before[2][0], days[1])
            open_[name] = (text, section, days)
    yield from ((name, text, section, days) for name, (text, section, days) in open_.items())


_ELSEWHERE = ("hold", "section", "height", "depth", "diameter", "alloy", "elements_per_span")


def _flat(document: Mapping[str, Any]) -> str:
    """Return the keys of a wire that say how it is shaped, in one line."""

    def parts(value: Any, name: str) -> Iterator[str]:
        if isinstance(value, Mapping):
            for key, inner in value.items():
                yield from parts(inner, f"{name} {key}")
        elif isinstance(value, (list, tuple)):
            for inner in value:
                yield from parts(inner, name)
        else:
            yield f"{name.replace('_', ' ')}: {value}"

    kept = {k: v for k, v in document.items() if k not in _ELSEWHERE}
    return "; ".join(line for key, value in kept.items() for line in parts(value, key)) or "as the arch form"


def _holds(stages: Sequence[Stage]) -> Raw | None:
    """Return slots, play, ties and ligatures with their values and where those come from."""
    rows: list[list[object]] = []
    bracket = stages[0].appliance.scenario.bracket
    wires = [pair for stage in stages for pair in stage.appliance.scenario.wire.items()]
    used = [(name, hold) for name, wire in wires for hold in wire.hold]
    if not used:
        return None
    rows.append(["slot", f"{bracket.slot_height:.4g} x {bracket.slot_depth:.4g} mm, bracket {bracket.width:g} mm wide, "
                 f"tube {bracket.tube_length:g} mm long, {bracket.stand_off:g} mm off the tooth; prescription: "
                 f"{bracket.prescription or 'none, slots of the teeth as they stand are level'}",
                 "the scenario, or usual sizes (common practice, no source)"])  # fmt: skip
    plays: dict[str, float | None] = {}
    for stage in stages:
        for name in stage.appliance.wires:
            plays.setdefault(name, play_of(stage.appliance, name))
    for name, play in plays.items():
        if play is not None:
            text = f"{math.degrees(play):.1f} degrees each way, in the widest slot"
            rows.append([f"torque play of wire {name}", text,
                         "height and depth of the wire with its edges against the slot's height"])  # fmt: skip
    told: dict[tuple[str, str], tuple[str, list[str]]] = {}
    for name, hold in used:
        what, value, source = _hold(hold, bracket)
        told.setdefault((what, value), (source, []))[1].append(name)
    for (what, value), (source, names) in told.items():
        rows.append([f"{what} ({', '.join(dict.fromkeys(names))})", value, source])
    contact = bracket.contact_stiffness or CONTACT_STIFFNESS
    source = "the scenario" if bracket.contact_stiffness else "assumed: stiff beside wire and ligament"
    rows.append(["corner contact of wire and slot", f"{contact:g} N/mm", source])
    head = [[("input", 1), ("value", 1), ("source and how it was seen", 1)]]
    return table("How the wires are held.", head, rows, words=(1, 2))


def _hold(hold: Hold, bracket: Bracket) -> tuple[str, str, str]:
    """Return what holds, its values, and where they come from."""
    where = "all teeth" if hold.teeth == "all" else ", ".join(map(str, hold.teeth or ()))
    where = where or ", ".join(f"between {a} and {b}" for a, b in hold.between)
    slides = hold.slides or "free"
    along = f"friction {hold.friction:g}" if slides == "friction" else slides
    if slides == "tied back":
        along += f" ({TIED_BACK:g} N/mm, assumed)"
    if hold.by == "tie":
        own = hold.stiffness
        stiff = STIFFNESS[hold.material or "steel"] if own is None else own
        text = f"{hold.material or 'steel'}, {stiff:g} N/mm, slack {hold.slack or 0:g} mm; at {where}"
        return "tie", text, ASSUMED if own is None else "stiffness: the scenario"
    if hold.by == "slot":
        kind = hold.ligature or "elastomeric"
        seat, stiff = LIGATURES[kind]
        text = f"{kind} ligature, seating {seat:g} N, {stiff:g} N/mm; along the wire: {along}"
        return "slot", f"{text}{_own(hold)}; at {where}", f"ligature {ASSUMED}"
    if hold.by == "tube":
        return "tube", f"along the wire: {along}{_own(hold)}; at {where}", "the scenario"
    return hold.by, f"no movement between wire and tooth; at {where}", "the scenario"


def _own(hold: Hold) -> str:
    out = "" if hold.clearance is None else f"; own clearance {hold.clearance:.4g} mm"
    out += "" if hold.play is None else f"; play {hold.play:.4g} mm"
    return out if hold.width is None else f"{out}; {hold.width:g} mm wide"


def provenance(record: Mapping[str, Any], scenario: Scenario) -> Raw:
    """Return when and with what the report was made."""
    versions = ", ".join(f"{name} {version}" for name, version in record["versions"].items())
    now = datetime.datetime.now(datetime.UTC)
    rows: list[list[object]] = [
        ["written", f"{now:%Y-%m-%d %H:%M} UTC"],
        ["versions", versions],
        ["program's code", tag("code", program()[:16])],
        ["platform", f"{platform.system()} {platform.release()}, {platform.machine()}"],
        ["scenario", tag("code", fingerprint(scenario)[:16])],
    ]
    caption = (
        "Made with. The program's code and the scenario are told by the first 16 digits of their SHA-256: the same "
        "digits, the same computation."
    )
    return table(caption, [[("", 1), ("", 1)]], rows, words=(1,))
