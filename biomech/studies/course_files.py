"""Write a course as course.json, visits.csv and curves.csv.

The files hold nothing that differs between two runs of one course: one that was killed and went on writes the same.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np

from biomech.mechanics.poses import Array
from biomech.movement.readings import Reading, WireLeft
from biomech.scenario.course import MONTH
from biomech.studies.course import Course, Visit
from biomech.studies.phrases import crown_leads
from biomech.studies.record import fingerprint, outcomes, place_key, plain_values, versions
from biomech.studies.solve import CAUTION
from biomech.studies.strains import course_warnings
from biomech.studies.write import csv_text, flat_row, write_results

FORMAT = {"name": "biomech course", "version": 2}
"""Name and version of the layout; the version grows when a key changes its meaning or goes."""
WAYS, TURNS = ("mesial", "buccal", "occlusal"), ("torque", "tip", "rotation")
_LAW_UNITS = {"speed": "_mm_per_day", "stress": "_kPa", "time": "_day"}


@dataclass(frozen=True)
class Measures:
    """Distances of the arch, mm: `widths` and `apex_widths` by place from the midline, `perimeter` along the slots."""

    widths: Mapping[int, float]
    apex_widths: Mapping[int, float]
    perimeter: float


def measures_before(course: Course) -> Measures:
    """Return the distances of the arch as it stood before the wires were laid in; gains count from these."""
    parts = course.legs[0].appliance.teeth
    marks = {
        at: {n: p.pose.point(p.tooth.landmarks[at]) for n, p in parts.items()} for at in ("edge", "apex")
    }
    slots = np.stack([p.pose.point(p.slot_in_tooth.position) for p in parts.values()])
    return Measures(
        _spans(marks["edge"]), _spans(marks["apex"]), float(np.linalg.norm(np.diff(slots, axis=0), axis=-1).sum())
    )


def _spans(points: Mapping[int, Array]) -> dict[int, float]:
    """Return the distance between fellow teeth by place from the midline; quadrants 1 and 2, 4 and 3 are fellows."""
    fellows = {n: 10 * {1: 2, 4: 3}[n // 10] + n % 10 for n in points if n // 10 in (1, 4)}
    return {n % 10: float(np.linalg.norm(points[n] - points[m])) for n, m in fellows.items() if m in points}


def write_course(course: Course, folder: Path | str) -> list[Path]:
    """Write course.json, visits.csv, curves.csv and the caution into `folder` (made if needed).

    All or none; returns their paths. Raises FileError naming path and reason.
    """
    data = course_record(course)
    texts = {
        "course.json": json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n",
        "visits.csv": csv_text(list(_visit_rows(data))),
        "curves.csv": csv_text(list(_curve_rows(course))),
    }
    return write_results(Path(folder), texts)


def course_record(course: Course) -> dict[str, Any]:
    """Return a course as JSON-serialisable data.

    Every visit holds the arch as `found` (null at the start) and as `left`; `end` is the arch at the end. Movements
    count from the start of the course, gains from the arch before the wires were laid in. Directions and signs are the
    words of biomech.outputs: as there, `crown_mm` is the edge (buccal cusp), which also moves when the tooth turns
    about its long axis, and ratios are those of the axis (`axis_crown_mm`, `axis_apex_mm`). Apex over crown is null
    where it says nothing, see phrases.crown_leads.
    """
    before = measures_before(course)
    law = course.law
    values = {
        f.name + _LAW_UNITS.get(f.metadata["kind"], ""): getattr(law, f.name)
        for f in fields(law) if getattr(law, f.name) is not None
    }  # fmt: skip
    out = {
        "format": dict(FORMAT),
        "versions": versions(),
        "caution": CAUTION,
        "title": course.scenario.title,
        "scenario": course.scenario.document,
        "scenario_sha256": fingerprint(course.scenario),
        "rate_law": {"name": law.name, **values, "provenance": law.provenance()},
        "visits": [_visit(visit, before) for visit in course.visits],
        "end": _moment(course.readings[-1], before),
        "stopped": course.stopped,
        "warnings": list(course_warnings(course)),
    }
    model = course.scenario.course
    assert model is not None
    out["expectations"] = [outcome.as_data() for outcome in outcomes(model.expect, out)]
    plain: dict[str, Any] = plain_values(out)
    return plain


def _visit(visit: Visit, before: Measures) -> dict[str, Any]:
    return {
        "number": visit.number,
        "day": visit.day,
        "date": None if visit.date is None else visit.date.isoformat(),
        "note": visit.note,
        "actions": list(visit.actions),
        "rules": list(visit.rules),
        "found": None if visit.before is None else _moment(visit.before, before),
        "left": _moment(visit.after, before),
        "limits_passed_until_next": [
            {"kind": f.kind, "day": f.day, "tooth": f.tooth, "text": f.text} for f in visit.flags
        ],
    }


def _moment(reading: Reading, before: Measures) -> dict[str, Any]:
    """Return one moment with what follows from it: ratios to the crown's movement, and widths a month."""
    out = reading_record(reading, before)
    for tooth in out["teeth"].values():
        crown, apex = tooth["axis_crown_mm"]["buccal"], tooth["axis_apex_mm"]["buccal"]
        tooth["apex_to_crown"] = apex / crown if crown_leads(crown, apex) else None
    months = reading.day / MONTH
    changes = out["arch"]["width_change_mm"]
    out["arch"]["width_mm_per_month"] = {p: at["crown"] / months if months > 0 else None for p, at in changes.items()}
    return out


def reading_record(reading: Reading, before: Measures) -> dict[str, Any]:
    """Return one moment as data: teeth by number, arch, wires by name."""
    return {
        "day": reading.day,
        "teeth": {str(n): _tooth(reading, i) for i, n in enumerate(reading.teeth)},
        "arch": _arch(reading, before),
        "wires": {name: wire_values(wire) for name, wire in reading.wires.items()},
    }


def wire_values(wire: WireLeft) -> dict[str, float]:
    """Return what is left in a wire as data, with the largest set or share of martensite where it remembers."""
    out = {"energy_N_mm": wire.energy, "peak_over_limit": wire.utilisation}
    keeps = {"set": "set_strain", "martensite": "martensite_share"}.get(wire.reading)
    return out if keeps is None else {**out, keeps: wire.largest}


def _tooth(reading: Reading, i: int) -> dict[str, Any]:
    return {
        "axis_crown_mm": _words(WAYS, reading.crown[i]),
        "axis_apex_mm": _words(WAYS, reading.apex[i]),
        "crown_mm": _words(WAYS, reading.edge[i]),
        "apex_mm": _words(WAYS, reading.root_end[i]),
        "centre_of_resistance_mm": _words(WAYS, reading.resistance[i]),
        "crown_leads_root_mm": float(reading.lead[i]),
        "turn_deg": _words(TURNS, reading.turn[i]),
        "inner_cusp_mm": {"occlusal": float(reading.cusp[i])} if reading.has_cusp[i] else None,
        "force_N": _words(WAYS, reading.force[i]),
        "moment_at_bracket_N_mm": _words(TURNS, reading.moment[i]),
    }


def _arch(reading: Reading, before: Measures) -> dict[str, Any]:
    pairs = ((reading.widths, before.widths, "crown"), (reading.apex_widths, before.apex_widths, "apex"))
    return {
        "width_mm": {
            place_key(p): {at: now[p] for now, _, at in pairs} for p in reading.widths
        },
        "width_change_mm": {
            place_key(p): {at: now[p] - then[p] for now, then, at in pairs} for p in reading.widths
        },
        "midline_to_left_mm": reading.midline,
        "perimeter_mm": reading.perimeter,
        "perimeter_change_mm": reading.perimeter - before.perimeter,
        "balance_force_N": reading.unbalanced,
        "balance_moment_N_mm": reading.unbalanced_moment,
    }


def _words(names: tuple[str, ...], values: Array) -> dict[str, float]:
    return dict(zip(names, values.tolist(), strict=True))


def _visit_rows(data: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield one row a tooth of every visit, as found and as left, and of the end; the arch's own values in each."""
    last = data["visits"][-1]["number"]
    moments = [
        (visit["number"], visit["date"], state, "; ".join(visit["actions"] + visit["rules"]), visit[state])
        for visit in data["visits"] for state in ("found", "left") if visit[state] is not None
    ]  # fmt: skip
    for number, date, state, done, found in [*moments, (last, None, "end", "", data["end"])]:
        head = {"visit": number, "state": state, "day": found["day"], "date": date}
        rest = {"done": done if state == "left" else "", **flat_row({k: found[k] for k in ("arch", "wires")})}
        for tooth, values in found["teeth"].items():
            yield {**head, "tooth": tooth, **flat_row(values), **rest}


def _curve_rows(course: Course) -> Iterator[dict[str, Any]]:
    """Yield one row a moment; a visit has two on the same day, as found and as left."""
    before = measures_before(course)
    for visit, leg in zip(course.visits, course.legs, strict=True):
        for reading in leg.readings:
            found = reading_record(reading, before)
            day = found.pop("day")
            yield {"day": day, "after_visit": visit.number, **flat_row(found)}
