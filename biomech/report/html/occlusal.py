"""The arch seen from the occlusal side as a flat drawing, for paper and for browsers without 3-D."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from biomech.appliance import ToothPart
from biomech.mechanics.poses import Array, apply, pose_exp
from biomech.report.html import colours
from biomech.report.html.geometry import AROUND_CROWN, LEAST_FORCE, carry, crown_of
from biomech.report.html.markup import Raw, tag
from biomech.report.html.steps import Step

MARGIN = 5.0  # mm around arch and arrows
NARROWEST = 46.0
"""Least width of the drawing, mm: both sides of the patient are named below one tooth, too."""


def occlusal(step: Step, parts: Mapping[int, ToothPart], factor: float, mm_per_newton: float) -> Raw:
    """Return the crowns at the start (dashed) and moved `factor` times, wires and the forces' horizontal part.

    The patient's right is on the left of the drawing in both jaws, the incisors on top in the upper jaw and at the
    bottom in the lower jaw, as the mouth is looked at.
    """
    upper = next(iter(parts)) < 30
    drawn, labels, arrows, all_points = [], [], [], []
    slots, extra = [], []
    for n, part in parts.items():
        crown = crown_of(part.tooth, AROUND_CROWN).vertices
        outline = _hull(_flat(part.pose.point(crown), upper))
        pose = part.pose @ pose_exp(factor * step.motions[n])
        moved = _hull(_flat(pose.point(crown), upper))
        drawn += [_polygon(moved, "tooth"), _polygon(outline, "before")]
        slot = pose.point(part.slot_in_tooth.position)
        true = (part.pose @ pose_exp(step.motions[n])).point(part.slot_in_tooth.position)
        slots.append(true)
        extra.append(slot - true)
        middle = moved.mean(axis=0)
        labels.append(_label(middle, str(n)))
        foot = _flat(slot[None], upper)
        tip = foot + mm_per_newton * _flat(apply(pose.rotation, step.forces[n])[None], upper)
        if np.linalg.norm(tip - foot) > mm_per_newton * LEAST_FORCE:
            arrows += _arrow(foot[0], tip[0])
        all_points += [outline, moved, tip]
    wires = [_wire(state.points, np.array(slots), np.array(extra), state.radius, state.share, upper)
             for state in step.wires.values()]  # fmt: skip
    every = np.concatenate(all_points)
    low, high = every.min(axis=0) - MARGIN, every.max(axis=0) + MARGIN
    more = 0.5 * max(0.0, NARROWEST - float(high[0] - low[0])) * np.array([1.0, 0.0])
    low, high = low - more, high + more
    box = f"{low[0]:.1f} {low[1]:.1f} {high[0] - low[0]:.1f} {high[1] - low[1]:.1f}"
    sides = _sides(low, high, upper)
    return tag(
        "svg", tag("title", "Arch seen from the occlusal side"), *drawn, *(w for wire in wires for w in wire),
        *arrows, *labels, *sides, viewBox=box, role="img", class_="occlusal",
    )  # fmt: skip


def _flat(points: Array, upper: bool) -> Array:
    """Return points on the drawing (down is positive): patient's left to the right."""
    return np.column_stack([points[..., 0], -points[..., 1] if upper else points[..., 1]])


def _hull(points: Array) -> Array:
    from scipy.spatial import ConvexHull

    return np.asarray(points[ConvexHull(points).vertices])


def _path(points: Array) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in points)


def _polygon(points: Array, class_: str) -> Raw:
    return tag("polygon", class_=class_, points=_path(points))


def _label(at: Array, text: str) -> Raw:
    return tag("text", text, x=f"{at[0]:.1f}", y=f"{at[1] + 1:.1f}", text_anchor="middle")


def _sides(low: Array, high: Array, upper: bool) -> list[Raw]:
    y = high[1] - 3 if upper else low[1] + 5
    return [
        tag("text", "patient's right", x=f"{low[0] + 2:.1f}", y=f"{y:.1f}", class_="side"),
        tag("text", "patient's left", x=f"{high[0] - 2:.1f}", y=f"{y:.1f}", class_="side", text_anchor="end"),
    ]


def _arrow(foot: Array, tip: Array) -> list[Raw]:
    size = float(np.linalg.norm(tip - foot))
    along = (tip - foot) / size
    across = np.array([-along[1], along[0]])
    head = min(2.0, 0.6 * size)
    base = tip - head * along
    corners = np.array([tip, base + 0.4 * head * across, base - 0.4 * head * across])
    shaft = tag("line", class_="force", x1=f"{foot[0]:.2f}", y1=f"{foot[1]:.2f}", x2=f"{base[0]:.2f}",
                y2=f"{base[1]:.2f}")  # fmt: skip
    return [shaft, _polygon(corners, "force")]


def _wire(points: Array, slots: Array, extra: Array, radius: float, share: Array, upper: bool) -> list[Raw]:
    """Return a wire as short strokes, each in the colour of its stress."""
    ends = np.array([(1 - t) * extra[int(a)] + t * extra[int(b)] for a, b, t in carry(points, slots)])
    flat = _flat(points + ends, upper)
    out = []
    for i in range(len(flat) - 1):
        (x1, y1), (x2, y2) = flat[i], flat[i + 1]
        colour = stress_colour(float(max(share[i], share[i + 1])))
        out.append(tag("line", class_="wire", x1=f"{x1:.2f}", y1=f"{y1:.2f}", x2=f"{x2:.2f}", y2=f"{y2:.2f}",
                       stroke=colour, stroke_width=f"{2 * radius:.2f}"))  # fmt: skip
    return out


def stress_colour(share: float) -> str:
    """Return the colour of a stress as share of the elastic limit."""
    if share > 1.0:
        return colours.PAST
    at = max(0.0, share) * (len(colours.SCALE) - 1)
    i = min(int(at), len(colours.SCALE) - 2)
    low, high = (np.array([int(c[k : k + 2], 16) for k in (1, 3, 5)]) for c in colours.SCALE[i : i + 2])
    mixed = np.rint(low + (at - i) * (high - low)).astype(int)
    return "#" + "".join(f"{v:02x}" for v in mixed)
