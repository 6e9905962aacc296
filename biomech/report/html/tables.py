"""Result tables as the field's papers print them: anatomical words, reference point and sign convention stated."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from biomech.appliance import ToothPart
from biomech.mechanics.poses import Array, Pose, pose_exp
from biomech.outputs._arch import PLACES
from biomech.report.html.markup import Raw, brief, join, number, table
from biomech.report.html.memory import memory_table
from biomech.report.html.steps import Step, part_of

WAYS = ("mesial", "buccal", "occlusal")
TURNS = ("torque", "tip", "rotation")
SIGNS = "+ mesial, + buccal, + occlusal; torque + buccal root, tip + mesial crown, rotation + mesial side out"


def _row(step: Step, n: int, columns: Sequence[tuple[str, str | None, int]]) -> list[object]:
    values = step.numbers[n]
    cells = [values.get(key) if entry is None else part_of(values.get(key), entry) for key, entry, _ in columns]
    return [str(n), *(number(cell, digits) for cell, (_, _, digits) in zip(cells, columns, strict=True))]


def _teeth(step: Step, caption: str, head: list[list[tuple[str, int]]], columns: list[tuple[str, str | None, int]],
           words: tuple[int, ...] = ()) -> Raw:  # fmt: skip
    return table(caption, head, [_row(step, n, columns) for n in step.motions], words=words)


def force_tables(step: Step, when: str = "") -> Raw:
    """Return forces and moments on every tooth, kinds of movement with ratios, and pressures; `when`: which step."""
    return join(_forces(step, when), _ratios(step, when), _pressures(step, when))


def movement_tables(step: Step, when: str = "") -> Raw:
    """Return displacements and turns of every tooth since the start; `when` of which step."""
    return join(_displacements(step, when), _turns(step, when))


def _forces(step: Step, when: str) -> Raw:
    columns: list[tuple[str, str | None, int]] = [
        *(("force_N", way, 3) for way in WAYS),
        *(("moment_at_bracket_N_mm", turn, 2) for turn in TURNS),
        *(("moment_at_resistance_N_mm", turn, 2) for turn in TURNS),
    ]
    head = [
        [("", 1), ("force, N", 3), ("moment about the slot's centre, N·mm", 3),
         ("moment about the centre of resistance, N·mm", 3)],
        [("tooth", 1), *((w, 1) for w in (*WAYS, *TURNS, *TURNS))],
    ]  # fmt: skip
    return _teeth(step, f"Force and moment of wires and loads on each tooth ({SIGNS}){when}.", head, columns)


def _ratios(step: Step, when: str) -> Raw:
    columns: list[tuple[str, str | None, int]] = [
        ("movement", None, 0), ("moment_to_force_mm", None, 2), ("apex_to_crown", None, 3), ("tip_deg_per_mm", None, 2),
        ("rotation_centre_depth_mm", None, 2), ("resistance_depth_mm", None, 2),
    ]  # fmt: skip
    names = (
        "tooth", "movement, buccolingual", "M/F at the bracket, mm", "apex over crown", "crown tip, degrees per mm",
        "centre of rotation below the crest, mm", "centre of resistance below the crest, mm",
    )  # fmt: skip
    caption = (
        f"Kind of movement in the buccolingual plane since the start{when}. M/F is torque over buccal force, positive "
        "when the moment sends the root the way of the force; crown tip is positive when the crown leads; ratios are "
        "those of the long axis; negative depths lie on the crown's side of the alveolar crest."
    )
    return _teeth(step, caption, [[(name, 1) for name in names]], columns, (1,))


def _displacements(step: Step, when: str) -> Raw:
    marks = ("crown_mm", "apex_mm", "lingual_cusp_mm")
    columns: list[tuple[str, str | None, int]] = [
        *(("long_axis_mm", mark, 3) for mark in ("crown", "apex")), *((mark, way, 3) for mark in marks for way in WAYS)
    ]  # fmt: skip
    head = [
        [("", 1), ("long axis, buccal, mm", 2), ("edge or buccal cusp, mm", 3), ("apex, mm", 3),
         ("palatal or lingual cusp, mm", 3)],
        [("tooth", 1), ("crown", 1), ("apex", 1), *((way, 1) for _ in marks for way in WAYS)],
    ]  # fmt: skip
    caption = f"Displacement since the start (+ mesial, + buccal, + occlusal){when}. The long axis is free of rotation "
    return _teeth(step, f"{caption}about it, which moves cusps.", head, columns)


def _turns(step: Step, when: str) -> Raw:
    columns: list[tuple[str, str | None, int]] = [("turn_deg", turn, 3) for turn in TURNS]
    head = [[("tooth", 1), *((f"{turn}, degrees", 1) for turn in TURNS)]]
    return _teeth(step, f"Turn of each tooth since the start{when}.", head, columns)


def _pressures(step: Step, when: str) -> Raw:
    columns: list[tuple[str, str | None, int]] = [
        *(("ligament_pressure_kPa", kind, 1) for kind in ("mean", "peak")), *(("force_gf", way, 0) for way in WAYS),
    ]  # fmt: skip
    head = [
        [("", 1), ("ligament pressure, kPa", 2), ("force, gf", 3)],
        [("tooth", 1), *((w, 1) for w in ("mean", "peak", *WAYS))],
    ]  # fmt: skip
    return _teeth(step, "Compressive pressure in the ligament (mean over the compressed part, and peak), and the force "
                  f"in gram-force{when}.", head, columns)  # fmt: skip


def widths(step: Step, parts: Mapping[int, ToothPart]) -> dict[str, float]:
    """Return the change since the start of the distance between fellow teeth, mm, by "place crown" and "place apex"."""
    right, left = (1, 2) if next(iter(parts)) < 30 else (4, 3)
    places = {place: (10 * right + place, 10 * left + place) for place in PLACES}
    pairs = {place: pair for place, pair in places.items() if all(n in parts for n in pair)}
    row = {n: i for i, n in enumerate(parts)}
    out = {}
    marks = [(words, *_where(step, parts, mark)) for words, mark in (("crown", "edge"), ("apex", "apex"))]
    for place, (a, b) in pairs.items():
        for words, before, after in marks:
            was, now = (float(np.linalg.norm(at[row[b]] - at[row[a]])) for at in (before, after))
            out[f"{PLACES[place]} {words}"] = now - was
    return out


def _where(step: Step, parts: Mapping[int, ToothPart], mark: str) -> tuple[Array, Array]:
    """Return where a landmark of all teeth (T, 3) was at the start and is at a step, global."""
    points = np.stack([p.tooth.landmarks[mark] for p in parts.values()])
    start = Pose(*(np.stack(of) for of in zip(*(p.pose for p in parts.values()), strict=True)))
    return start.point(points), (start @ pose_exp(np.stack([step.motions[n] for n in parts]))).point(points)


def arch_table(step: Step, parts: Mapping[int, ToothPart], when: str = "") -> Raw | None:
    """Return the table of widths, None without a pair of fellow teeth."""
    found = widths(step, parts)
    names = [name for name in PLACES.values() if f"{name} crown" in found]
    rows: list[list[object]] = [
        [f"width between the {name}s", number(found[f"{name} crown"]), number(found[f"{name} apex"])] for name in names
    ]
    head = [[("", 1), ("at edges or buccal cusps", 1), ("at the apices", 1)]]
    return table(f"Change of the arch's width since the start, mm{when}.", head, rows) if rows else None


def cusps_table(record: Mapping[str, Any], when: str = "") -> Raw:
    """Return the table of cusps and midline of one moment."""
    arch = record["arch"]
    lines: list[list[object]] = [
        ["palatal or lingual cusps, mean occlusal movement, mm", number(arch["palatal_cusp_drop_mm"])],
        ["the same relative to the buccal cusps, mm", number(arch["cusp_difference_mm"])],
        ["dental midline, shift to the patient's left, mm", number(arch["midline_to_left_mm"])],
    ]
    return table(f"Cusps and midline, by the forces of this moment{when}.", [[("", 1), ("value", 1)]], lines)


def wire_tables(record: Mapping[str, Any], when: str = "") -> Raw:
    """Return the wires with their stress, and what every hold carries; `when` of which step."""
    wires = record["wires"]
    if not wires:
        return Raw("")
    rows: list[list[object]] = []
    holds: list[list[object]] = []
    for name, wire in wires.items():
        rows.append([
            name, wire["section"], wire["alloy"], brief(wire["young_MPa"] / 1000), number(wire["peak_stress_MPa"], 0),
            number(wire["elastic_limit_MPa"], 0), number(100 * wire["peak_over_limit"], 0),
            str(wire["peak_near_tooth"]), number(100 * wire["share_past_limit"], 0),
        ])  # fmt: skip
        for hold in wire["holds"]:
            tooth = f"{hold['tooth']} and {hold['partner']}" if hold["partner"] else str(hold["tooth"])
            force = hold["force_N"]
            cells = [*(force[w] for w in WAYS), hold["size_N"]]
            holds.append([f"{name}, {tooth}", hold["kind"], *(number(cell) for cell in cells)])
    head = [[("wire", 1), ("section", 1), ("alloy", 1), ("Young's modulus, GPa", 1), ("peak stress, MPa", 1),
             ("elastic limit, MPa", 1), ("peak over limit, %", 1), ("near tooth", 1),
             ("length past limit, %", 1)]]  # fmt: skip
    each = [[("wire, tooth", 1), ("hold", 1), *((w, 1) for w in WAYS), ("size", 1)]]
    caption = f"Force on the tooth by each hold, N (+ mesial, + buccal, + occlusal){when}."
    return join(table(f"Wires{when}.", head, rows, words=(1, 2)), memory_table(wires),
                table(caption, each, holds, words=(1,)))  # fmt: skip


def steps_table(steps: Sequence[Step], parts: Mapping[int, ToothPart]) -> Raw:
    """Return one row a step: widths, largest force, largest share of the elastic limit."""
    keys = list(widths(steps[0], parts))
    keys = [k for k in keys if k.split()[0] in ("canine", "first") and "premolar" not in k]
    head = [[("step", 1), *((f"{k} width, mm", 1) for k in keys), ("largest force on a tooth, N", 1), ("at tooth", 1),
             ("peak stress over limit, %", 1)]]  # fmt: skip
    rows: list[list[object]] = []
    for step in steps:
        found = widths(step, parts)
        sizes = {n: float(np.linalg.norm(f)) for n, f in step.forces.items()}
        most = max(sizes, key=lambda n: sizes[n])
        share = max((float(w.share.max()) for w in step.wires.values()), default=None)
        rows.append([
            step.label, *(number(found[k]) for k in keys), number(sizes[most]) if sizes[most] else number(None),
            str(most) if sizes[most] else number(None), number(None if share is None else 100 * share, 0),
        ])  # fmt: skip
    return table("The steps side by side; widths are changes since the start.", head, rows)
