"""Write a comparison as comparison.json and comparison.csv."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

from biomech.studies.compare import Comparison
from biomech.studies.record import versions
from biomech.studies.rows import Cell, Row
from biomech.studies.sentences import sentences
from biomech.studies.solve import CAUTION
from biomech.studies.write import write_results

FORMAT = {"name": "biomech comparison", "version": 1}
"""Name and version of the layout; the version grows when a key changes its meaning or goes."""


def write_comparison(found: Comparison, folder: Path | str) -> list[Path]:
    """Write comparison.json, comparison.csv and the caution into `folder` (made if needed).

    All or none; returns their paths. Raises FileError naming path and reason.
    """
    data = comparison_record(found)
    texts = {
        "comparison.json": json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n",
        "comparison.csv": comparison_csv(found),
    }
    return write_results(Path(folder), texts)


def comparison_record(found: Comparison) -> dict[str, Any]:
    """Return a comparison as JSON-serialisable data; `rows` hold every result of every variant, in order."""
    return {
        "format": dict(FORMAT),
        "versions": versions(),
        "caution": CAUTION,
        "varied": list(found.keys),
        "reference": found.labels[0],
        "foreground": list(found.teeth),
        "sentences": sentences(found),
        "variants": [
            {"label": v.label, "seconds": s.seconds,
             **{k: data[k] for k in ("title", "scenario", "scenario_sha256", "convergence", "balance", "warnings")}}
            for v, s, data in zip(found.variants, found.solutions, found.records, strict=True)
        ],
        "rows": [row_record(row) for row in found.rows],
    }  # fmt: skip


def row_record(row: Row) -> dict[str, Any]:
    """Return one compared quantity as plain data: where, what, its values and their differences from the first."""
    others = range(1, len(row.values))
    return {
        "place": row.place,
        "output": row.path,
        "title": row.title,
        "unit": row.unit,
        "values": list(row.values),
        "differences": [row.difference(i) for i in others],
        "percent": [row.percent(i) for i in others],
    }


def comparison_csv(found: Comparison) -> str:
    """Return one line a result (RFC 4180): values, differences from the first variant, percent; empty for none."""
    first, *others = found.labels
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow(
        ["place", "output", "quantity", "unit", *found.labels]
        + [f"{label} less {first}" for label in others]
        + [f"{label} against {first}, percent" for label in others]
    )
    for row in found.rows:
        numbers: list[Cell] = [row.difference(i) for i in range(1, len(row.values))]
        numbers += [row.percent(i) for i in range(1, len(row.values))]
        cells = ["" if v is None else v for v in (*row.values, *numbers)]
        writer.writerow([row.place, row.path, row.title, row.unit, *cells])
    return buffer.getvalue()
