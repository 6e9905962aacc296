"""Write a comparison of courses as comparison.json, comparison.csv and curves.csv."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from biomech.studies.compare_courses import CourseComparison
from biomech.studies.comparison_files import row_record
from biomech.studies.course_files import reading_record
from biomech.studies.course_sentences import band_of, course_sentences
from biomech.studies.curves import Curves
from biomech.studies.record import fingerprint, plain_values, versions
from biomech.studies.rows import Cell, Row
from biomech.studies.solve import CAUTION
from biomech.studies.write import csv_text, flat_row, write_results

FORMAT = {"name": "biomech comparison of courses", "version": 1}
"""Name and version of the layout; the version grows when a key changes its meaning or goes."""


def write_course_comparison(found: CourseComparison, folder: Path | str) -> list[Path]:
    """Write comparison.json, comparison.csv, curves.csv and the caution into `folder` (made if needed).

    All or none; returns their paths. Raises FileError naming path and reason.
    """
    data = course_comparison_record(found)
    texts = {
        "comparison.json": json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n",
        "comparison.csv": course_comparison_csv(found),
        "curves.csv": csv_text(list(_curve_rows(found))),
    }
    return write_results(Path(folder), texts)


def course_comparison_record(found: CourseComparison) -> dict[str, Any]:
    """Return a comparison of courses as JSON-serialisable data.

    `times` hold, for each chosen time, every result of every variant, in order; nothing of it depends on how many
    processes shared the work.
    """
    out = {
        "format": dict(FORMAT),
        "versions": versions(),
        "caution": CAUTION,
        "varied": list(found.keys),
        "reference": found.labels[0],
        "foreground": list(found.teeth),
        "sentences": course_sentences(found),
        "variants": [
            {"label": v.label, "title": v.scenario.title, "scenario": v.scenario.document,
             "scenario_sha256": fingerprint(v.scenario), **_told(course)}
            for v, course in zip(found.variants, found.courses, strict=True)
        ],
        "times": [
            {"name": stop.name, "days": list(stop.days), "rows": [_banded(row) for row in rows]}
            for stop, rows in zip(found.stops, found.tables, strict=True)
        ],
    }  # fmt: skip
    plain: dict[str, Any] = plain_values(out)
    return plain


def _told(course: Curves) -> dict[str, Any]:
    return {
        "rate_law": {"name": course.law[0], "provenance": course.law[1]},
        "days": course.end,
        "stopped": course.stopped,
        "warnings": list(course.warnings),
        "visits": [
            {"number": v.number, "day": v.day, "date": None if v.date is None else v.date.isoformat(), "note": v.note,
             "actions": list(v.actions), "rules": list(v.rules),
             "limits_passed_until_next": [{"kind": f.kind, "day": f.day, "tooth": f.tooth, "text": f.text}
                                          for f in v.flags]}
            for v in course.visits
        ],
    }  # fmt: skip


def _banded(row: Row) -> dict[str, Any]:
    band = band_of(row.path)
    published = {"low": band.low, "high": band.high, "of": band.name, "source": band.source} if band else None
    return {**row_record(row), "published": published}


def course_comparison_csv(found: CourseComparison) -> str:
    """Return one line a result and time (RFC 4180): values, differences from the first variant, percent, band."""
    first, *others = found.labels
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow(
        ["time", *(f"day of {label}" for label in found.labels), "place", "output", "quantity", "unit", *found.labels]
        + [f"{label} less {first}" for label in others]
        + [f"{label} against {first}, percent" for label in others]
        + ["published from", "published to"]
    )
    for stop, rows in zip(found.stops, found.tables, strict=True):
        for row in rows:
            numbers: list[Cell] = [row.difference(i) for i in range(1, len(row.values))]
            numbers += [row.percent(i) for i in range(1, len(row.values))]
            band = band_of(row.path)
            ends: list[Cell] = [band.low, band.high] if band else [None, None]
            cells = ["" if v is None else v for v in (*row.values, *numbers, *ends)]
            days = ["" if day is None else day for day in stop.days]
            writer.writerow([stop.name, *days, row.place, row.path, row.title, row.unit, *cells])
    return buffer.getvalue()


def _curve_rows(found: CourseComparison) -> Iterator[dict[str, Any]]:
    """Yield one row a moment of every variant; a visit has two on the same day, as found and as left."""
    for label, course in zip(found.labels, found.courses, strict=True):
        for visit, leg in zip(course.visits, course.legs, strict=True):
            for reading in leg:
                record = reading_record(reading, course.before)
                day = record.pop("day")
                yield {"variant": label, "day": day, "after_visit": visit.number, **flat_row(record)}
