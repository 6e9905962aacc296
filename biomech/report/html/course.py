"""The report of a course: its visits, curves over time, and the arch at every visit."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from biomech.movement.evidence import Travel, outside
from biomech.outputs._arch import PLACES
from biomech.report.alarms import alarms, flag_lines, limit_lines
from biomech.report.html.course_checks import checked_course
from biomech.report.html.course_curves import ZERO, arch_over_visits, curves
from biomech.report.html.inputs import Stage
from biomech.report.html.markup import DASH, Raw, items, join, number, table, tag
from biomech.report.html.page import Whole, write_report
from biomech.report.moments import judged, moments
from biomech.report.worst import wires_of
from biomech.scenario.course import MONTH
from biomech.studies.course import Course, Visit
from biomech.studies.course_files import course_record, measures_before
from biomech.studies.course_shown import shown_tooth
from biomech.studies.phrases import crown_leads


def write_course_report(course: Course, path: Path | str) -> Path:
    """Write the report of a course as one HTML file and return its path; the slider goes from visit to visit.

    Raises FileError when `path` cannot be written.
    """
    shown = list(moments(course))
    solutions = [(stop.label, course.solution_at(stop.i)) for stop in shown]
    outcomes = course_record(course)["expectations"]
    found = checked_course(course, [solution for _, solution in solutions], outcomes)
    held = judged(course)
    whole = Whole(
        course.scenario, [stop.note for stop in shown], _summary(course), join(_visits(course), curves(course)),
        outcomes, found, held, alarms(course, held), limit_lines(course), wires_of(course.readings),
        _stages(course), outside(course.law, sum((leg.travel for leg in course.legs), Travel())),
    )  # fmt: skip
    return write_report(solutions, path, whole=whole)


def _stages(course: Course) -> list[Stage]:
    """Return the appliance of every stretch between visits, with its days."""
    return [
        Stage(leg.appliance, (float(leg.track.times[0]), float(leg.track.times[-1]))) for leg in course.legs
    ]


def _visits(course: Course) -> Raw:
    rows: list[list[object]] = [_visit(visit) for visit in course.visits]
    head = [[("visit", 1), ("day", 1), ("date", 1), ("done", 1), ("limits passed until the next visit", 1)]]
    stopped = (
        tag("p", f"The course was stopped by a limit: {course.stopped}.", class_="caution") if course.stopped else None
    )
    return tag(
        "section",
        tag("h2", "Visits"),
        tag("p", f"Teeth move by the rate law “{course.law.name}”: {course.law.provenance()}"),
        tag("p", f"No tooth is faster than {number(MONTH * course.law.most, 2)} mm a month, its root taken as a whole; "
            "the crown of one that tips may be up to about four times as fast.") if course.law.most else None,
        stopped,
        table("Visits and what was done.", head, rows, words=(2, 3, 4), id_="visit-list"),
        id="visits",
    )


def _visit(visit: Visit) -> list[object]:
    done = [*visit.actions, *visit.rules, *([visit.note] if visit.note else [])]
    name = "start" if visit.number == 0 else str(visit.number)
    flags = list(flag_lines(visit.flags))
    date = DASH if visit.date is None else visit.date.isoformat()
    return [name, number(visit.day, 0), date, items(done) if done else DASH, items(flags) if flags else DASH]


def _summary(course: Course) -> Raw:
    """Return widths and the tooth in the foreground at every visit as found, and at the end."""
    before, n = measures_before(course), shown_tooth(course.readings)
    at, place = course.readings[0].of(n), next((p for p in (6, 3) if p in before.widths), None)
    stops = [(str(v.number), v.before) for v in course.visits if v.before is not None]
    rows: list[list[object]] = []
    for name, r in [*stops, ("end" if course.stopped is None else "stopped", course.readings[-1])]:
        crown, apex = float(r.crown[at, 1]), float(r.apex[at, 1])
        gain = None if place is None else r.widths[place] - before.widths[place]
        roots = None if place is None else r.apex_widths[place] - before.apex_widths[place]
        pace = None if gain is None or r.day <= 0 else gain * MONTH / r.day
        cusp = float(r.cusp[at]) if r.has_cusp[at] else None
        ratio = apex / crown if crown_leads(crown, apex) else None
        raised, force = float(r.crown[at, 2]), float(np.linalg.norm(r.force[at]))
        values = (gain, roots, pace, crown, apex, ratio, -float(r.turn[at, 0]), raised, cusp, force)
        rows.append([name, number(r.day, 0), *(number(value, 2) for value in values)])
    width = "width" if place is None else f"width between the {PLACES[place]}s, mm"
    head = [
        [("", 1), ("", 1), (width, 3), (f"tooth {n}", 7)],
        [("visit", 1), ("day", 1), ("gain at the crowns", 1), ("at the apices", 1), ("a month", 1), ("crown, mm", 1),
         ("apex, mm", 1), ("apex over crown", 1), ("tip, deg", 1),
         ("crown, occlusal, mm", 1), ("palatal or lingual cusp, mm", 1), ("force, N", 1)],
    ]  # fmt: skip
    caption = (
        f"The arch as found at every visit: + buccal, tip of the crown, + occlusal for the cusp, all {ZERO}; "
        "force: the size of that of all wires and loads on the tooth. "
        "Apex over crown: 1 bodily, 0 tipping about the apex, above 1 the root leads, none where the crown hardly goes."
    )
    return tag("section", tag("h2", "The course in short"), table(caption, head, rows),
               arch_over_visits(course), id="short")
