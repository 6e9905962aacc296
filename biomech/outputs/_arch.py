"""The arch as a whole: widths at crowns and apices, palatal cusps, midline, balance of forces."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from biomech.appliance import Appliance
from biomech.mechanics.equilibrium import Equilibrium
from biomech.mechanics.poses import Array, apply
from biomech.outputs._view import ToothView

PLACES = {1: "central incisor", 2: "lateral incisor", 3: "canine", 4: "first premolar", 5: "second premolar",
          6: "first molar", 7: "second molar"}  # fmt: skip


@dataclass(frozen=True)
class Width:
    """Change of the distance between a tooth and its fellow, mm: at the buccal cusps (edges) and at the apices."""

    crown: float
    apex: float


@dataclass(frozen=True)
class ArchView:
    """The arch in an equilibrium. Lengths mm, forces N, moments N.mm.

    `widths` by place from the midline (3 canine, 6 first molar); `cusp_drop` mean occlusal movement of the palatal
    (lingual) cusps of the posteriors, relative to their buccal cusps in `cusp_difference`; `midline` shift of the
    incisal midpoint to the patient's left; `force`, `moment` left over when all forces of wires on teeth are summed
    about the global origin; `throughput` sum of their sizes.
    """

    widths: dict[int, Width]
    cusp_drop: float | None
    cusp_difference: float | None
    midline: float | None
    force: float
    moment: float
    throughput: float


def arch_view(appliance: Appliance, solved: Equilibrium, views: Mapping[int, ToothView], variant: int = 0) -> ArchView:
    """Return the view of the whole arch."""
    drops, differences = _cusps(views)
    force, moment, total = _balance(appliance, solved, views)
    return ArchView(
        _widths(views),
        float(np.mean(drops)) if drops else None,
        float(np.mean(differences)) if differences else None,
        _midline(views),
        force,
        moment,
        total,
    )


def _moved(view: ToothView, landmark: str) -> Array:
    """Return the displacement (3,) of a landmark, global axes, mm."""
    out: Array = apply(view.part.pose.rotation, view.displacement(view.part.tooth.landmarks[landmark]))
    return out


def _widths(views: Mapping[int, ToothView]) -> dict[int, Width]:
    right, left = (1, 2) if any(n < 30 for n in views) else (4, 3)
    out = {}
    for place in PLACES:
        pair = views.get(10 * right + place), views.get(10 * left + place)
        if pair[0] is not None and pair[1] is not None:
            out[place] = Width(*(_spread(pair[0], pair[1], name) for name in ("edge", "apex")))
    return out


def _spread(right: ToothView, left: ToothView, landmark: str) -> float:
    before = [v.part.pose.point(v.part.tooth.landmarks[landmark]) for v in (right, left)]
    after = [v.pose.point(v.part.tooth.landmarks[landmark]) for v in (right, left)]
    return float(np.linalg.norm(after[1] - after[0]) - np.linalg.norm(before[1] - before[0]))


def _cusps(views: Mapping[int, ToothView]) -> tuple[list[float], list[float]]:
    drops, differences = [], []
    for view in views.values():
        marks = view.part.tooth.landmarks
        name = next((n for n in ("palatal cusp", "lingual cusp") if n in marks), None)
        if name is not None:
            lingual = view.words(view.displacement(marks[name]))["occlusal"]
            drops.append(lingual)
            differences.append(lingual - view.words(view.displacement(marks["edge"]))["occlusal"])
    return drops, differences


def _midline(views: Mapping[int, ToothView]) -> float | None:
    pair = next((p for p in ((11, 21), (41, 31)) if all(n in views for n in p)), None)
    if pair is None:
        return None
    return float(np.mean([_moved(views[n], "edge")[0] for n in pair]))


def _balance(
    appliance: Appliance, solved: Equilibrium, views: Mapping[int, ToothView]
) -> tuple[float, float, float]:
    """Return what is left of force and moment when the wires' forces on all teeth are summed, and their sizes' sum."""
    loads = appliance.network.loads
    wrenches = {v.part.frame: v.wrench.copy() for v in views.values()}
    if len(loads):
        for frame, wrench in zip(loads.frame, loads.wrenches(solved.poses)[0], strict=True):
            wrenches[int(frame)] -= wrench
    force, moment, total = np.zeros(3), np.zeros(3), 0.0
    for view in views.values():
        wrench = wrenches[view.part.frame]
        f, m = apply(view.pose.rotation, wrench[:3]), apply(view.pose.rotation, wrench[3:])
        force += f
        moment += m + np.cross(view.pose.position, f)
        total += float(np.linalg.norm(f))
    return float(np.linalg.norm(force)), float(np.linalg.norm(moment)), total
