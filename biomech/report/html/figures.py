"""The figures of the report."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from biomech.outputs.limits import ALONG, AXIAL_IN, AXIAL_OUT, TORQUE, Band, applied
from biomech.report.html.charts import Series, Zone, curves, lines, stems
from biomech.report.html.markup import Raw, join, tag
from biomech.report.html.steps import Step, part_of
from biomech.studies import Solution

ACROSS = "tooth (ISO 3950), from the patient's right to the left"


def figure(drawing: Raw, caption: object) -> Raw:
    """Return a drawing with what it shows below it."""
    return tag("figure", drawing, tag("figcaption", caption))


def figures(step: Step, pushed: Step, solution: Solution) -> Raw:
    """Return the figures: movement at one step, forces, torque and stress at another one, whose solution is given."""
    when = "" if pushed is step else f" At step “{pushed.label}”, the one with the largest force on a tooth."
    moved = "" if pushed is step else f" At step “{step.label}”, since the start."
    out = [movement(step, moved), forces(pushed, solution, when), torque(pushed, when)]
    if solution.wires:
        out.append(stress(solution, when))
    return join(*out)


def _values(step: Step, key: str, entry: str) -> list[float | None]:
    found = [part_of(values.get(key), entry) for values in step.numbers.values()]
    return [None if v is None else float(v) for v in found]


def _names(step: Step) -> list[str]:
    return [str(n) for n in step.motions]


def movement(step: Step, when: str = "") -> Raw:
    """Return crown and apex, buccolingually, of every tooth."""
    series = [
        Series("crown", _values(step, "long_axis_mm", "crown"), 1),
        Series("apex", _values(step, "long_axis_mm", "apex"), 2),
    ]  # fmt: skip
    chart = stems("Buccal displacement of crown and apex", "mm, + buccal", _names(step), ACROSS, series)
    return figure(chart, "Displacement of the long axis at crown and apex in the buccolingual direction. Both alike: "
                  f"the tooth moves bodily; opposite ways: it tips.{when}")  # fmt: skip


def forces(step: Step, solution: Solution, when: str = "") -> Raw:
    """Return the buccal force on every tooth before the published band of its kind of movement."""
    zones = []
    values = _values(step, "force_N", "buccal")
    for i, view in enumerate(solution.teeth.values()):
        band = buccal_band(applied(view))
        if band is not None:
            sign = -1.0 if (values[i] or 0.0) < 0 else 1.0
            low, high = sorted((sign * band.low, sign * band.high))
            zones.append(Zone(low, high, i, i))
    series = [Series("buccal force", values)]
    chart = stems("Buccal force on every tooth", "N, + buccal", _names(step), ACROSS, series, zones,
                  "published band of this movement")  # fmt: skip
    return figure(chart, "Buccal force on each tooth and the published band of the movement it makes. A tooth whose "
                  f"movement has no band of buccal force shows none.{when}")  # fmt: skip


def buccal_band(found: Sequence[tuple[Band, float]]) -> Band | None:
    """Return the band that a tooth's buccal force is held against, if any."""
    return next((b for b, _ in found if b.name.startswith("force") and b not in (AXIAL_IN, AXIAL_OUT, ALONG)), None)


def torque(step: Step, when: str = "") -> Raw:
    """Return the torque moment at every bracket."""
    values = _values(step, "moment_at_bracket_N_mm", "torque")
    last = len(values) - 1
    zones = [Zone(TORQUE.low, TORQUE.high, 0, last)] if any((v or 0) > 0 for v in values) else []
    zones += [Zone(-TORQUE.high, -TORQUE.low, 0, last)] if any((v or 0) < -TORQUE.low for v in values) else []
    chart = stems("Torque at every bracket", "N·mm, + buccal root", _names(step), ACROSS,
                  [Series("torque at the bracket", values)], zones, "published useful window")  # fmt: skip
    return figure(chart, f"Torque moment at the bracket, positive when it sends the root buccally.{when}")


def stress(solution: Solution, when: str = "") -> Raw:
    """Return the peak stress along the wires, as share of the elastic limit."""
    teeth = solution.appliance.teeth
    at = np.array([part.s for part in teeth.values()])
    places = np.arange(len(at), dtype=float)
    series = []
    for name, view in solution.wires.items():
        share = np.zeros(len(view.stress) + 1)
        share[:-1] = view.stress[:, 0]
        share[1:] = np.maximum(share[1:], view.stress[:, 1])
        where = np.interp(view.part.s, at, places)
        series.append((name, [(float(p), 100.0 * float(v) / view.limit) for p, v in zip(where, share, strict=True)]))
    peak = max(view.utilisation for view in solution.wires.values())
    chart = curves("Peak stress along the wires", "% of elastic limit", [str(n) for n in teeth], ACROSS, series,
                   100.0 if peak > 0.5 else None)  # fmt: skip
    return figure(chart, "Peak stress over the section along each wire, in percent of the alloy's elastic limit; what "
                  f"lies beyond the last tooth is drawn at it.{when}")  # fmt: skip


def over_steps(steps: Sequence[Step], rows: Sequence[Mapping[str, float | None]], key_words: Mapping[str, str]) -> Raw:
    """Return how the widths change over the steps; `rows` one a step, `key_words` names of their keys."""
    series = [
        Series(words, [row.get(key) for row in rows], i % 3 + 1) for i, (key, words) in enumerate(key_words.items())
    ]
    chart = lines("Width over the steps", "mm", [s.label for s in steps], "step", series)
    return figure(chart, "Change of the distance between the first molars (canines where there are none) since the "
                  "start.")  # fmt: skip
