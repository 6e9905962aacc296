"""Geometry for the three-dimensional view, small enough for a page: 16-bit places, twin teeth stored once."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from biomech.appliance import ToothPart
from biomech.mechanics.poses import Array, Pose
from biomech.report.html import colours
from biomech.report.html.steps import Step, WireState
from biomech.tooth.meshes import Mesh
from biomech.tooth.model import Tooth

AROUND_CROWN, AROUND_ROOT = 36, 20
LEAST_RADIUS = 0.3
"""Radius, mm, below which no wire is drawn, so that thin ones stay visible."""
LEAST_FORCE = 0.005
"""Force, N, below which no arrow is drawn."""
LONGEST = 14.0
"""Length, mm, of the longest arrow, at most."""
SHOWN = 2.5
"""Displacement, mm, as which the largest one is drawn at the magnification first shown, at most."""
FACTORS = (1, 2, 5, 10, 20, 50, 100, 200, 500)


@lru_cache(maxsize=128)
def crown_of(tooth: Tooth, around: int) -> Mesh:
    """Return the crown's surface in the tooth frame; one report draws it several times."""
    return tooth.crown_surface(around)


def mesh_data(mesh: Mesh, signs: Array) -> dict[str, Any]:
    """Return a mesh of the tooth frame in anatomical coordinates as text; exact to 1/65535 of its extent."""
    anatomical = mesh.mapped(signs)
    low = anatomical.vertices.min(axis=0)
    step = float((anatomical.vertices.max(axis=0) - low).max()) / 65535
    places = np.rint((anatomical.vertices - low) / step).astype("<u2")
    return {
        "low": [round(float(v), 6) for v in low],
        "step": step,
        "vertices": base64.b64encode(places.tobytes()).decode(),
        "triangles": base64.b64encode(anatomical.triangles.astype("<u2").tobytes()).decode(),
    }


def teeth_data(parts: Mapping[int, ToothPart]) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return the meshes and the teeth that use them, teeth of the same shape sharing one mesh."""
    meshes: list[dict[str, Any]] = []
    known: dict[str, int] = {}
    teeth = []
    for number, part in parts.items():
        tooth = part.tooth
        crown = mesh_data(crown_of(tooth, AROUND_CROWN), tooth.signs)
        root = mesh_data(tooth.root_surface(AROUND_ROOT), tooth.signs)
        index = known.setdefault(crown["vertices"] + root["vertices"], len(meshes))
        if index == len(meshes):
            meshes.append({"crown": crown, "root": root})
        label = np.array([0.0, 0.0, -0.55 * tooth.jaw_sign * tooth.crown_length])  # amid the crown
        teeth.append({
            "number": number, "mesh": index, "signs": [float(s) for s in tooth.signs], "start": pose_data(part.pose),
            "slot": floats(part.slot_in_tooth.position), "label": floats(label),
        })  # fmt: skip
    return meshes, teeth


def floats(values: Array, digits: int = 5) -> list[float]:
    """Return numbers for the page, rounded."""
    return [round(float(v), digits) for v in np.ravel(values)]


def pose_data(pose: Pose) -> dict[str, list[float]]:
    """Return a pose as rotation by rows and position."""
    return {"R": floats(pose.rotation, 9), "x": floats(pose.position)}


def magnifications(largest: float) -> tuple[list[int], int]:
    """Return the factors on offer and the place of the one that shows `largest` (mm) clearly but not absurdly."""
    most = 4 * SHOWN / max(largest, 1e-6)
    factors = [f for f in FACTORS if f == 1 or f <= most]
    fitting = [i for i, f in enumerate(factors) if f * largest <= SHOWN or f == 1]
    return factors, fitting[-1]


def factor_words(factor: int) -> str:
    """Say how movements are drawn."""
    if factor == 1:
        return "Movements are drawn true to scale."
    return f"Movements are drawn {factor} times as large as computed."


def largest_movement(steps: Sequence[Step], parts: Mapping[int, ToothPart]) -> float:
    """Return the largest displacement, mm, of an edge or buccal cusp over all steps."""
    sizes = [0.0]
    for step in steps:
        for number, part in parts.items():
            edge, q = part.tooth.landmarks["edge"], step.motions[number]
            sizes.append(float(np.linalg.norm(q[:3] + np.cross(q[3:], edge))))
    return max(sizes)


def arrow_scale(steps: Sequence[Step]) -> float:
    """Return the length of the arrow of 1 N, mm: 10, less when the largest would be too long."""
    largest = max((float(np.linalg.norm(f)) for step in steps for f in step.forces.values()), default=0.0)
    return round(min(10.0, LONGEST / largest), 1) if largest > LEAST_FORCE else 10.0


def carry(points: Array, slots: Array) -> list[list[float]]:
    """Return for every station the two slots it lies between, along the wire, and the share of the way.

    `slots` (t, 3) in the order of the teeth; beyond the outermost slots a wire follows the last one.
    """
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    nearest = np.linalg.norm(points[None] - slots[:, None], axis=2).argmin(axis=1)
    order = np.argsort(along[nearest], kind="stable")
    at = along[nearest][order]
    out = []
    for s in along:
        i = int(np.clip(np.searchsorted(at, s, side="right") - 1, 0, max(len(at) - 2, 0)))
        j = min(i + 1, len(at) - 1)
        gap = at[j] - at[i]
        share = float(np.clip((s - at[i]) / gap, 0.0, 1.0)) if gap > 0 else 0.0
        out.append([int(order[i]), int(order[j]), round(share, 4)])
    return out


def wires_data(
    steps: Sequence[Step], slots: Sequence[Array]
) -> tuple[list[dict[str, Any]], list[list[dict[str, Any] | None]]]:
    """Return the wires, and for every step the state of each (None where it is absent).

    `slots` (t, 3) per step: slot centres of the teeth as they are then, global.
    """
    kinds: dict[tuple[str, int, float], int] = {}
    for step in steps:
        for name, wire in step.wires.items():
            kinds.setdefault(_kind(name, wire), len(kinds))
    wires = [{"name": n, "count": c, "radius": max(LEAST_RADIUS, r)} for n, c, r in kinds]
    states: list[list[dict[str, Any] | None]] = []
    for step, here in zip(steps, slots, strict=True):
        row: list[dict[str, Any] | None] = [None] * len(kinds)
        for name, wire in step.wires.items():
            row[kinds[_kind(name, wire)]] = {
                "points": [floats(p, 4) for p in wire.points],
                "share": floats(wire.share, 4),
                "carry": carry(wire.points, here),
            }
        states.append(row)
    return wires, states


def _kind(name: str, wire: WireState) -> tuple[str, int, float]:
    return name, len(wire.points), round(wire.radius, 6)


def colour_data() -> dict[str, Any]:
    """Return the colours of the view."""
    return {
        "crown": colours.CROWN, "root": colours.ROOT, "start": colours.START, "chosen": colours.CHOSEN,
        "force": colours.FORCE, "past": colours.PAST, "scale": list(colours.SCALE),
    }  # fmt: skip
