"""How far crown and apex of the tooth that moves most swing when an input is a little more or less."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from biomech.appliance import build
from biomech.attachments.slot import Slot
from biomech.errors import InputError, SolveError
from biomech.mechanics.equilibrium import equilibrium
from biomech.outputs import tooth_views
from biomech.report.html.charts import tornado
from biomech.report.html.figures import figure
from biomech.report.html.markup import Raw, join, number, table, tag
from biomech.report.html.sensitivity import buccal, most_moved, sensitivity
from biomech.studies import Solution
from biomech.studies.solve import settings_of

SHARE, SIZE = 0.10, 0.02
"""Relative changes: of stiffnesses and play; of a wire's cross-section, whose fourth power its stiffness goes with."""
Ends = tuple[float, float]


@dataclass(frozen=True)
class Swing:
    """Buccal displacement of crown and apex, mm, with `amount` `less` and `more` of a parameter; None: not solved."""

    parameter: str
    amount: str
    less: Ends | None
    more: Ends | None


def swings(solution: Solution, tooth: int) -> Iterator[Swing]:
    """Yield the swings of `tooth`: first order for stiffnesses, solved anew for cross-sections and the play.

    The teeth of the solution stand where its scenario puts them. Raises SolveError when the tangent cannot be solved.
    """
    here = buccal(solution.teeth[tooth])
    for change in sensitivity(solution, tooth):
        by = (SHARE * change.crown, SHARE * change.apex)
        less, more = ((here[0] + sign * by[0], here[1] + sign * by[1]) for sign in (-1, 1))
        yield Swing(change.parameter, f"{100 * SHARE:g} %", less, more)
    for name, amount, changes in _variants(solution):
        yield Swing(name, amount, *(_solved(solution, change, tooth) for change in changes))


def _variants(solution: Solution) -> Iterator[tuple[str, str, list[Mapping[str, str]]]]:
    """Yield what is solved anew: name, amount in words, and the keys with less and with more of it."""
    for name, part in solution.appliance.wires.items():
        keys = {"diameter": part.section.height}
        if solution.scenario.wire[name].section != "round":
            keys = {"height": part.section.height, "depth": part.section.depth}
        changes: list[Mapping[str, str]] = [
            {f"wire.{name}.{k}": f"{(1 + sign * SIZE) * v:.9f} mm" for k, v in keys.items()}
            for sign in (-1, 1)
        ]  # fmt: skip
        yield f"{' and '.join(keys)} of wire '{name}'", f"{100 * SIZE:g} %", changes
    play = slot_play(solution)
    if play is not None:
        wire, height, clearance = play
        heights = [height + (sign * SHARE) * clearance for sign in (-1, 1)]
        name = f"play of wire '{wire}' in its slots (clearance {1e3 * clearance:.0f} µm)"
        yield name, f"{100 * SHARE:g} %", [{"bracket.slot_height": f"{h:.9f} mm"} for h in heights]


def slot_play(solution: Solution) -> tuple[str, float, float] | None:
    """Return a wire that lies in slots of the brackets' own height, that height, and the clearance in it, mm."""
    height = solution.scenario.bracket.slot_height
    for name, part in solution.appliance.wires.items():
        for group in solution.appliance.network.groups:
            if group.name == f"{name} slots" and isinstance(group.law, Slot):
                own = np.isclose(group.law.slot_height, height, rtol=0.0, atol=1e-9)
                if own.any() and height - part.section.height > 0.0:
                    return name, height, height - part.section.height
    return None


def _solved(solution: Solution, change: Mapping[str, str], tooth: int) -> Ends | None:
    try:
        appliance = build(solution.scenario.changed(change))
        solved = equilibrium(appliance.network, appliance.start, settings=settings_of(appliance.scenario))
    except (InputError, SolveError):  # a section larger than its slot, say: the row tells that there is no answer
        return None
    return buccal(tooth_views(appliance, solved)[tooth])


def swings_section(solution: Solution, label: str | None) -> Raw:
    """Return the table and the figure of the swings, with what they come to together; `label` of a course's moment."""
    tooth = most_moved(solution)
    if tooth is None:
        return tag("p", "All teeth are held rigidly; nothing moves.")
    here, found = buccal(solution.teeth[tooth]), list(swings(solution, tooth))
    when = f", {label}" if label else ""
    rows = [_row(swing) for swing in found]
    rows.append([f"as given{when}", DASHED, *_pair(here, here), *_ratios(here, here)])
    head = [
        [("", 1), ("", 1), ("crown, µm", 2), ("apex, µm", 2), ("apex over crown", 2)],
        [("input", 1), ("changed by", 1), *((w, 1) for _ in range(3) for w in ("less", "more"))],
    ]
    caption = (
        f"Buccal displacement of tooth {tooth}, whose crown moves most{when}, on the long axis, with a little less and "
        "a little more of one input. Stiffnesses: first order, from the exact derivative at the equilibrium; "
        "cross-sections and play: solved anew."
    )
    return join(table(caption, head, rows), tag("p", band_words(here, found)), _figure(tooth, here, found, when))


DASHED = "–"


def _row(swing: Swing) -> list[object]:
    return [swing.parameter, swing.amount, *_pair(swing.less, swing.more), *_ratios(swing.less, swing.more)]


def _pair(less: Ends | None, more: Ends | None) -> list[object]:
    ends = (less, more)
    return [number(None if e is None else 1e3 * e[i], 2) for i in (0, 1) for e in ends]


def _ratios(less: Ends | None, more: Ends | None) -> list[object]:
    return [number(None if e is None or abs(e[0]) < 1e-6 else e[1] / e[0], 3) for e in (less, more)]


def band(here: Ends, found: Sequence[Swing]) -> Ends:
    """Return how far crown and apex swing by all inputs together, were they independent: root of the sum of squares."""
    total = [0.0, 0.0]
    for swing in found:
        for i in (0, 1):
            ends = [e[i] for e in (swing.less, swing.more) if e is not None]
            total[i] += max((abs(end - here[i]) for end in ends), default=0.0) ** 2
    return math.sqrt(total[0]), math.sqrt(total[1])


def band_words(here: Ends, found: Sequence[Swing]) -> str:
    """Return the band of uncertainty in words."""
    crown, apex = band(here, found)
    missing = [s.parameter for s in found if s.less is None or s.more is None]
    left = f" Without an answer on one side or both: {'; '.join(missing)}." if missing else ""
    return (
        f"All of them together, if independent: crown {number(1e3 * here[0], 1)} ± {1e3 * crown:.1f} µm, apex "
        f"{number(1e3 * here[1], 1)} ± {1e3 * apex:.1f} µm. Not in it: the ligament's moduli beyond "
        f"{100 * SHARE:g} %, which are known within a factor of several at best and scale all amounts.{left}"
    )


def _figure(tooth: int, here: Ends, found: Sequence[Swing], when: str) -> Raw:
    def change(ends: Ends | None) -> float | None:
        return None if ends is None else 1e3 * (ends[0] - here[0])

    rows = [(f"{s.parameter}, {s.amount}", change(s.less), change(s.more)) for s in found]
    rows.sort(key=lambda row: -max(abs(row[1] or 0.0), abs(row[2] or 0.0)))
    chart = tornado(f"What moves the crown of tooth {tooth}", "change of the crown's buccal displacement, µm", rows)
    return figure(chart, f"Change of the crown's buccal displacement of tooth {tooth}{when}: the input that matters "
                  "most stands on top.")  # fmt: skip
