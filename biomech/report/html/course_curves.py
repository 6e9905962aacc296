"""Curves of a course over time: the arch, every tooth, and what is left in the wires."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from biomech.outputs._arch import PLACES
from biomech.report.html.charts import over_time
from biomech.report.html.figures import figure
from biomech.report.html.markup import Raw, number, table, tag
from biomech.report.html.pick import pick
from biomech.studies.course import Course
from biomech.studies.course_files import measures_before
from biomech.studies.course_shown import shown_tooth

ZERO = "counted from the passive arch, before any wire was laid in"
"""The one zero of all movements and widths of a course."""
Curve = list[tuple[float, float]]
_MOLARS = {"upper": (16, 26), "lower": (46, 36)}


def curves(course: Course) -> Raw:
    """Return curves of the arch, of the wires, and of every tooth, one of which is chosen."""
    plates = [plate for plate in (_widths(course), _midline(course), _perimeter(course), _cusps(course),
                                  _wires(course)) if plate is not None]  # fmt: skip
    said = tag("p", "Dashed lines: visits.", class_="hint") if _days(course) else None
    return tag(
        "section", tag("h2", "Over time"), said, tag("div", *plates, class_="plates"), tag("h3", "Tooth by tooth"),
        tag("p", moved_most(course)), _teeth(course), id="over-time",
    )  # fmt: skip


def moved_most(course: Course) -> str:
    """Return in words which crowns and apices went furthest, at any moment."""
    readings = course.readings
    crown = np.max([np.linalg.norm(r.crown, axis=1) for r in readings], axis=0)
    apex = np.max([np.linalg.norm(r.apex, axis=1) for r in readings], axis=0)
    order = np.argsort(-np.maximum(crown, apex), kind="stable")[:4]
    listed = ", ".join(f"{readings[0].teeth[i]} (crown {crown[i]:.2f} mm, apex {apex[i]:.2f} mm)" for i in order)
    return f"Moved most, on the long axis, in any direction: {listed}."


def _days(course: Course) -> list[float]:
    """Return the days of the visits, which curves show as dashed lines."""
    return [visit.day for visit in course.visits if visit.number]


def _curve(course: Course, value: Callable[[int], float]) -> Curve:
    return [(float(day), value(i)) for i, day in enumerate(course.times)]


def _widths(course: Course) -> Raw | None:
    readings = course.readings
    place = next((p for p in (6, 3) if p in readings[0].widths), None)
    if place is None:
        return None
    before = measures_before(course)
    crown, apex = before.widths[place], before.apex_widths[place]
    series = [
        (f"{PLACES[place]}s, crown", _curve(course, lambda i: readings[i].widths[place] - crown)),
        (f"{PLACES[place]}s, apex", _curve(course, lambda i: readings[i].apex_widths[place] - apex)),
    ]
    chart = over_time("Change of width", "mm", series, _days(course))
    return figure(chart, "Change of the distance between the teeth named, at their buccal cusps (edges) and apices, "
                  f"{ZERO}.")  # fmt: skip


def _midline(course: Course) -> Raw | None:
    readings = course.readings
    if any(r.midline is None for r in readings):
        return None
    series = [("dental midline", _curve(course, lambda i: readings[i].midline or 0.0))]
    chart = over_time("Dental midline", "mm, + to the patient's left", series, _days(course))
    return figure(chart, f"Shift of the midline between the central incisors, + to the patient's left, {ZERO}.")


def _perimeter(course: Course) -> Raw | None:
    readings, before = course.readings, measures_before(course).perimeter
    if len(readings[0].teeth) < 2:
        return None
    series = [("perimeter along the slots", _curve(course, lambda i: readings[i].perimeter - before))]
    chart = over_time("Change of the arch's perimeter", "mm", series, _days(course))
    return figure(chart, f"Change of the length of the line through all slots, {ZERO}.")


def _cusps(course: Course) -> Raw | None:
    readings = course.readings
    have = readings[0].has_cusp
    if not have.any():
        return None
    jaw = course.scenario.arch.jaw
    series = [("mean of all", _curve(course, lambda i: float(readings[i].cusp[have].mean())))]
    for n in _MOLARS[jaw]:
        if n in readings[0].teeth:
            at = readings[0].of(n)
            series.append((f"tooth {n}", _curve(course, lambda i, at=at: float(readings[i].cusp[at]))))  # type: ignore[misc]
    cusp = "palatal" if jaw == "upper" else "lingual"
    chart = over_time(f"Height of the {cusp} cusps", "mm, + occlusal", series, _days(course))
    return figure(chart, f"Occlusal movement of the {cusp} cusps of premolars and molars (negative: apical), "
                  f"{ZERO}.")  # fmt: skip


def _teeth(course: Course) -> Raw:
    teeth = course.readings[0].teeth
    sheets = [(str(n), tag("div", *_tooth(course, n), class_="plates")) for n in teeth]
    return pick("tooth-over-time", "Tooth", sheets, teeth.index(shown_tooth(course.readings)))


def _tooth(course: Course, n: int) -> Iterator[Raw]:
    """Yield curves of one tooth: movement, tip, force and torque."""
    readings = course.readings
    at = readings[0].of(n)

    def row(name: str, value: Callable[[int], float]) -> tuple[str, Curve]:
        return name, _curve(course, value)

    moved = [row("crown", lambda i: float(readings[i].crown[at, 1])),
             row("apex", lambda i: float(readings[i].apex[at, 1])),
             row("crown, mesial", lambda i: float(readings[i].crown[at, 0]))]  # fmt: skip
    yield figure(over_time(f"Movement of tooth {n}", "mm, + buccal, + mesial", moved, _days(course)),
                 f"Tooth {n}: buccal movement of crown and apex and mesial movement of the crown, on the long axis, "
                 f"{ZERO}.")  # fmt: skip
    tip = [row("crown buccal", lambda i: -float(readings[i].turn[at, 0])),
           row("crown mesial", lambda i: float(readings[i].turn[at, 1]))]  # fmt: skip
    yield figure(over_time(f"Tip of tooth {n}", "degrees", tip, _days(course)),
                 f"Tooth {n}: tip of the crown, buccal and mesial, {ZERO}.")  # fmt: skip
    force = [row(word, lambda i, way=way: float(readings[i].force[at, way]))  # type: ignore[misc]
             for way, word in ((1, "buccal"), (0, "mesial"), (2, "occlusal"))]  # fmt: skip
    yield figure(over_time(f"Force on tooth {n}", "N", force, _days(course)),
                 f"Tooth {n}: force of wires and loads; it decays as the tooth follows and jumps at a visit.")
    torque = [row("torque", lambda i: float(readings[i].moment[at, 0]))]
    yield figure(over_time(f"Torque on tooth {n}", "N·mm, + buccal root", torque, _days(course)),
                 f"Tooth {n}: torque moment at the bracket.")  # fmt: skip


def _wires(course: Course) -> Raw | None:
    names = list(dict.fromkeys(name for reading in course.readings for name in reading.wires))
    series = []
    for name in names:
        points = [
            (float(day), r.wires[name].energy)
            for day, r in zip(course.times, course.readings, strict=True)
            if name in r.wires
        ]
        series.append((f"wire {name}", points))
    if not series:
        return None
    chart = over_time("What is left in the wires", "N·mm", series, _days(course))
    return figure(chart, "Elastic energy stored in each wire: what is left of its activation.")


def arch_over_visits(course: Course) -> Raw:
    """Return the table of the arch at every visit as found, and at the end: widths, midline, perimeter, cusps."""
    before = measures_before(course)
    places = [p for p in (3, 4, 6) if p in before.widths]
    stops = [(str(v.number), v.before) for v in course.visits if v.before is not None]
    rows: list[list[object]] = []
    for name, r in [*stops, ("end" if course.stopped is None else "stopped", course.readings[-1])]:
        gains = [
            value for p in places
            for value in (r.widths[p] - before.widths[p], r.apex_widths[p] - before.apex_widths[p])
        ]  # fmt: skip
        cusp = float(r.cusp[r.has_cusp].mean()) if r.has_cusp.any() else None
        ends = (r.midline, r.perimeter - before.perimeter, cusp)
        rows.append([name, number(r.day, 0), *(number(value, 2) for value in (*gains, *ends))])
    head = [
        [("", 1), ("", 1), *((f"{PLACES[p]}s, gain in width", 2) for p in places), ("", 1), ("", 1), ("", 1)],
        [("visit", 1), ("day", 1), *((w, 1) for _ in places for w in ("crowns", "apices")),
         ("midline, to the left", 1), ("gain in perimeter", 1), ("palatal or lingual cusps, mean, occlusal", 1)],
    ]  # fmt: skip
    caption = f"The arch as found at every visit, mm: widths at edges (buccal cusps) and apices, all {ZERO}."
    return table(caption, head, rows, id_="arch-visits")
