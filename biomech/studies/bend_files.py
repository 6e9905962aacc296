"""What a test on the bench leaves: curves.csv with every point, readings.csv with what is read off them, bend.json."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from biomech import __version__
from biomech.bench import Curve
from biomech.studies.bend import RIGS, Setup, numbers
from biomech.studies.solve import CAUTION
from biomech.studies.write import write_results


def write_bend(curves: Sequence[Curve], setup: Setup, folder: Path | str) -> list[Path]:
    """Write curves.csv, readings.csv, bend.json and the caution into `folder` (made if needed), all or none.

    Returns their paths. Raises FileError.
    """
    data = as_data(curves, setup)
    texts = {
        "curves.csv": _text(curve_rows(curves, setup)),
        "readings.csv": _text(reading_rows(curves, setup)),
        "bend.json": json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n",
    }
    return write_results(Path(folder), texts)


def curve_rows(curves: Sequence[Curve], setup: Setup) -> list[list[Any]]:
    """Return a heading and one row a point: wire, stretch, deflection, reading, temperature, strain, stress, others."""
    angular, first = RIGS[setup.rig].angular, curves[0]
    scale, unit = (float(np.degrees(1.0)), "deg") if angular else (1.0, first.unit or "1")
    head = ["wire", "stretch", f"{first.quantity}_{unit}", f"{first.reading_name}_{first.reading_unit}"]
    inner = ["temperature_C", "largest_fibre_strain", "peak_stress_over_limit"]
    rows: list[list[Any]] = [[*(h.replace(" ", "_") for h in head), *inner, *first.also]]
    for curve in curves:
        for i in range(len(curve.x)):
            strain, share = ("" if np.isnan(v[i]) else repr(float(v[i])) for v in (curve.strain, curve.share))
            also = [repr(float(values[i])) for values in curve.also.values()]
            outer = (repr(float(v)) for v in (scale * curve.x[i], curve.reading[i], curve.temperature[i]))
            rows.append([curve.wire, int(curve.leg[i]), *outer, strain, share, *also])
    return rows


def reading_rows(curves: Sequence[Curve], setup: Setup) -> list[list[Any]]:
    """Return a heading of wires and one row a number that is read."""
    read = [numbers(setup, c) for c in curves]
    rows: list[list[Any]] = [["reading", *(c.wire for c in curves)]]
    for i, one in enumerate(read[0]):
        rows.append([one.name, *("" if r[i].value is None else repr(r[i].value) for r in read)])
    return rows


def as_data(curves: Sequence[Curve], setup: Setup) -> dict[str, Any]:
    """Return everything as data for JSON."""
    return {
        "biomech": __version__,
        "setup": curves[0].setup,
        "rig": setup.rig,
        "temperature_C": setup.temperature,
        "temperature_at_turns_C": list(setup.met[1:]),
        "options": dict(setup.options),
        "caution": CAUTION,
        "wires": [
            {
                "wire": c.wire,
                "readings": {n.name: n.value for n in numbers(setup, c)},
                "elastic_limit": limit_data(c, setup),
                "warnings": list(c.warnings),
            }
            for c in curves
        ],
    }


def limit_data(curve: Curve, setup: Setup) -> dict[str, Any] | None:
    """Return where a wire taken as elastic met its limit on the path (None: never) and its peak stress over it.

    None for an alloy with memory, whose law goes on past its limit.
    """
    if np.isnan(curve.share).all():
        return None
    angular, at = RIGS[setup.rig].angular, curve.past_from
    key = f"past_from_{curve.quantity}_{'deg' if angular else curve.unit}".rstrip("_").replace(" ", "_")
    where = float(np.degrees(at)) if angular and at is not None else at
    return {"peak_over_limit": float(np.nanmax(curve.share)), key: where}


def _text(rows: Sequence[Sequence[Any]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()
