"""The data of the three-dimensional view and the controls around it."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from biomech.appliance import ToothPart
from biomech.mechanics.poses import Pose, pose_exp
from biomech.report.html import colours
from biomech.report.html import geometry as g
from biomech.report.html.markup import DASH, Raw, number, table, tag
from biomech.report.html.steps import Step, part_of

COLUMNS: tuple[tuple[str, str, str | None, int], ...] = (
    ("movement", "movement", None, 0),
    ("crown, mm", "long_axis_mm", "crown", 3),
    ("apex, mm", "long_axis_mm", "apex", 3),
    ("force, N", "force_N", "buccal", 2),
    ("torque, N·mm", "moment_at_bracket_N_mm", "torque", 1),
    ("M/F, mm", "moment_to_force_mm", None, 1),
)
"""Columns beside the picture: head, output, its entry, digits."""
TICKS = (("wires", "wires", True), ("forces", "forces", True), ("roots", "roots", True),
         ("start", "where the teeth stood", True), ("labels", "tooth numbers", True))  # fmt: skip


def shown(step: Step, n: int) -> list[str]:
    """Return the texts of one tooth's row."""
    values = step.numbers[n]
    if not values:
        return ["not moved" if key == "movement" else DASH for _, key, _, _ in COLUMNS]
    out = []
    for _, key, entry, digits in COLUMNS:
        value: Any = values.get(key) if entry is None else part_of(values.get(key), entry)
        out.append(number(value, digits))
    return out


def views(upper: bool) -> list[dict[str, Any]]:
    """Return the ready directions of looking: turn about the vertical and rise, rad."""
    half = math.pi / 2
    occlusal = -half if upper else half
    return [
        {"name": "oblique", "angles": [0.6, -0.45 if upper else 0.45]},
        {"name": "front", "angles": [0.0, 0.0]},
        {"name": "patient's right", "angles": [-half, 0.0]},
        {"name": "patient's left", "angles": [half, 0.0]},
        {"name": "occlusal", "angles": [0.0, occlusal]},
    ]


def viewer_data(steps: Sequence[Step], parts: Mapping[int, ToothPart], factors: Sequence[int]) -> dict[str, Any]:
    """Return all the script needs, as JSON-serialisable data."""
    meshes, teeth = g.teeth_data(parts)
    start = Pose(*(np.stack(of) for of in zip(*(p.pose for p in parts.values()), strict=True)))
    held = np.stack([p.slot_in_tooth.position for p in parts.values()])
    slots = [(start @ pose_exp(np.stack([s.motions[n] for n in parts]))).point(held) for s in steps]
    wires, states = g.wires_data(steps, slots)
    places = np.concatenate([p.pose.point(g.crown_of(p.tooth, g.AROUND_CROWN).vertices) for p in parts.values()] + [
        p.pose.point(p.tooth.root_surface(8).vertices) for p in parts.values()
    ])  # fmt: skip
    low, high = places.min(axis=0), places.max(axis=0)
    centre = 0.5 * (low + high) * np.array([1.0, -1.0, 1.0])  # forward becomes back in the picture
    return {
        "meshes": meshes, "teeth": teeth, "wires": wires, "colours": g.colour_data(),
        "factors": list(factors), "factor_words": [g.factor_words(f) for f in factors],
        "mm_per_newton": g.arrow_scale(steps), "least_force": g.LEAST_FORCE,
        "centre": g.floats(centre, 2), "distance": round(1.5 * float(np.linalg.norm(high - low)) + 28.0, 1),
        "views": views(next(iter(parts)) < 30),
        "steps": [
            {"label": s.label, "note": s.note, "wires": states[k], "numbers": [shown(s, n) for n in parts],
             "motions": [g.floats(s.motions[n], 9) for n in parts],
             "forces": [g.floats(s.forces[n]) for n in parts]}
            for k, s in enumerate(steps)
        ],
    }  # fmt: skip


def data_script(data: Mapping[str, Any]) -> Raw:
    """Return the data as a block that no browser runs; "<" is escaped so that nothing can end it."""
    text = json.dumps(data, separators=(",", ":"), allow_nan=False).replace("<", "\\u003c")
    return Raw(f'<script type="application/json" id="viewer-data">{text}</script>')


def viewer(data: Mapping[str, Any], steps: Sequence[Step], flat: Raw, first_factor: int) -> Raw:
    """Return the picture with its controls, the flat drawing that stands in for it, and the table of numbers."""
    last = len(steps) - 1
    flat_caption = (
        f"The arch from its occlusal side at step “{steps[last].label}”: dashed where the teeth stood, solid moved. "
        f"{data['factor_words'][first_factor]} Arrows: force on the tooth in this plane, {data['mm_per_newton']:g} mm "
        "for 1 N. Wires are coloured by stress."
    )
    return tag(
        "section",
        tag("h2", "The arch"),
        tag("p", "This browser shows no 3-D graphics (WebGL 2 is missing), so the arch is drawn flat below.",
            id="no-webgl", class_="notice", hidden=True),
        tag("div", tag("div", _picture(data), _controls(data, steps, first_factor), class_="stage"),
            tag("figure", flat, tag("figcaption", flat_caption), class_="flat"),
            _numbers(steps[last]), class_="arch"),
        id="arch",
    )  # fmt: skip


def _picture(data: Mapping[str, Any]) -> Raw:
    buttons = [tag("button", view["name"], type="button", id=f"from-{i}") for i, view in enumerate(data["views"])]
    return tag(
        "div",
        tag("div", "View: ", *buttons, class_="row turnable-only", role="group", aria_label="Direction of view"),
        tag("div",
            tag("canvas", id="view", tabindex="0", role="img",
                aria_label="Arch in three dimensions. Arrow keys turn it, plus and minus change its size."),
            tag("div", id="labels", aria_hidden="true"),
            class_="canvas turnable-only"),
        tag("p", "Drag or use the arrow keys to turn, + and − (or the wheel, once clicked) to change the size; click a "
            "tooth to find its row.", class_="hint turnable-only"),
    )  # fmt: skip


def _controls(data: Mapping[str, Any], steps: Sequence[Step], first_factor: int) -> Raw:
    last = len(steps) - 1
    boxes = [
        tag("label", tag("input", type="checkbox", id=f"tick-{key}", checked=on), f" {words}")
        for key, words, on in TICKS
    ]
    return tag(
        "div",
        tag("div", tag("label", "Step", for_="step"),
            tag("input", type="range", id="step", min=0, max=last, step=1, value=last, autocomplete="off"),
            tag("output", steps[last].label, id="step-label", for_="step"), class_="slide"),
        tag("p", steps[last].note, id="step-note", aria_live="polite"),
        tag("div", tag("label", "Magnification", for_="magnify"),
            tag("input", type="range", id="magnify", min=0, max=len(data["factors"]) - 1, step=1, value=first_factor,
                autocomplete="off"), class_="slide turnable-only"),
        tag("p", data["factor_words"][first_factor], id="magnify-words", class_="turnable-only", aria_live="polite"),
        tag("div", *boxes, class_="row turnable-only", role="group", aria_label="What is shown"),
        _legend(data),
        class_="controls script-only",
    )  # fmt: skip


def _legend(data: Mapping[str, Any]) -> Raw:
    n = len(colours.SCALE)
    bar = [tag("rect", x=20 * i, y=0, width=20.5, height=12, fill=c) for i, c in enumerate(colours.SCALE)]
    past = tag("rect", x=20 * n + 8, y=0, width=20, height=12, fill=colours.PAST)
    strip = tag("svg", *bar, past, viewBox=f"0 0 {20 * n + 28} 12", class_="strip", aria_hidden="true")
    return tag(
        "p", "Wires: stress from 0 ", strip, " to the elastic limit, and beyond it. ",
        f"Arrows: force on the tooth, {data['mm_per_newton']:g} mm for 1 N.", class_="hint",
    )  # fmt: skip


def _numbers(step: Step) -> Raw:
    rows: list[list[object]] = [
        [tag("button", str(n), type="button", aria_pressed="false"), *shown(step, n)] for n in step.motions
    ]
    head = [[("tooth", 1), *((words, 1) for words, _, _, _ in COLUMNS)]]
    caption = (
        "Numbers of the step shown: buccal displacement of the long axis at crown and apex since the start, buccal "
        "force, torque at the bracket (+ buccal root)."
    )
    return table(caption, head, rows, words=(1,), id_="numbers")
