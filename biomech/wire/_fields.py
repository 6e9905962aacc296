"""Bends by slot as functions along the wire: offsets of the centreline, twist of the section."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from biomech.mechanics.poses import Array
from biomech.wire.bends import ProgressiveTwist, SlotBends

_FLAT = 1e-12


class OffsetField(NamedTuple):
    """Offsets outward and up, mm: straight in every slot, cubic between, straight beyond the outermost.

    nodes (k,) rising s, values (k, 2) and slopes (k, 2) there.
    """

    nodes: Array
    values: Array
    slopes: Array

    def __call__(self, s: Array) -> tuple[Array, Array]:
        """Return the offsets (..., 2) and their derivatives (..., 2) at s (...)."""
        if self.nodes.size == 0:
            return np.zeros((*s.shape, 2)), np.zeros((*s.shape, 2))
        x = np.clip(s, self.nodes[0], self.nodes[-1])
        if self.nodes.size == 1:
            value, slope = (np.broadcast_to(part[0], (*s.shape, 2)) for part in (self.values, self.slopes))
        else:
            value, slope = self._cubic(x)
        return value + (s - x)[..., None] * slope, slope

    def _cubic(self, x: Array) -> tuple[Array, Array]:
        i = np.clip(np.searchsorted(self.nodes, x, side="right") - 1, 0, self.nodes.size - 2)
        width = (self.nodes[i + 1] - self.nodes[i])[..., None]
        t = (x - self.nodes[i])[..., None] / width
        rise = (self.values[i + 1] - self.values[i]) / width
        m0, m1 = self.slopes[i] - rise, self.slopes[i + 1] - rise
        # cubic with the given end values and slopes, as the chord plus two bumps
        value = self.values[i] + width * (t * rise + t * (1 - t) * ((1 - t) * m0 - t * m1))
        return value, rise + (1 - t) * (1 - 3 * t) * m0 + t * (3 * t - 2) * m1

    def corners(self) -> Array:
        """Return the nodes at the ends of every piece that is not straight, where the curvature jumps."""
        rise = np.diff(self.values, axis=0) / np.diff(self.nodes)[:, None]
        straight = np.all(
            (np.abs(self.slopes[:-1] - rise) < _FLAT) & (np.abs(self.slopes[1:] - rise) < _FLAT), axis=1
        )
        bent = np.concatenate([[False], ~straight, [False]])
        out: Array = self.nodes[bent[:-1] | bent[1:]] if self.nodes.size else self.nodes
        return out


class TwistField(NamedTuple):
    """Twist about the wire's axis, rad: sum of piecewise linear functions (nodes (k,), values (k,))."""

    parts: tuple[tuple[Array, Array], ...]

    def __call__(self, s: Array) -> Array:
        """Return the twist (...) at s (...); constant beyond the outermost nodes."""
        total = np.zeros(s.shape)
        for nodes, values in self.parts:
            total = total + np.interp(s, nodes, values)
        return total

    def corners(self) -> Array:
        """Return the s (k,) where the rate of twist changes."""
        found = [np.zeros(0)]
        for nodes, values in self.parts:
            rate = np.concatenate([[0.0], np.diff(values) / np.diff(nodes), [0.0]])
            found.append(nodes[np.abs(np.diff(rate)) > _FLAT])
        return np.concatenate(found)


def offset_field(slots: Sequence[SlotBends], curvature: Array) -> OffsetField:
    """Return the offsets of `slots` on a base curve of `curvature` (m,), rad/mm, at their centres."""
    steps = np.array([[slot.out, slot.up] for slot in slots]).reshape(-1, 2)
    rotation = np.array([slot.rotation for slot in slots])
    tip = np.array([slot.tip for slot in slots])
    # dr/ds = (1 - curvature * out) a1 + out' a2 + up' a3 points along a1 of R3(rotation) R2(tip)
    stretch = 1.0 - curvature * steps[:, 0]
    slopes = np.stack([stretch * np.tan(rotation), -stretch * np.tan(tip) / np.cos(rotation)], axis=-1)
    index, arm = _edges(slots)
    nodes = np.array([slots[i].s for i in index]) + arm
    return OffsetField(nodes, steps[index] + arm[:, None] * slopes[index], slopes[index])


def twist_field(slots: Sequence[SlotBends], progressive: Sequence[ProgressiveTwist]) -> TwistField:
    """Return the twist along the wire: constant over each slot, even between slots, plus the progressive."""
    parts = []
    index, arm = _edges(slots)
    if slots:
        twist = np.array([slot.twist for slot in slots])
        parts.append((np.array([slots[i].s for i in index]) + arm, twist[index]))
    return TwistField((*parts, *(_ramp(slots, ramp) for ramp in progressive)))


def _edges(slots: Sequence[SlotBends]) -> tuple[np.ndarray, Array]:
    """Return the slot each edge belongs to and its distance from the centre; one edge for a point hold."""
    pairs = [(i, arm) for i, t in enumerate(slots) for arm in sorted({-t.half_width, t.half_width})]
    return np.array([i for i, _ in pairs], dtype=int), np.array([arm for _, arm in pairs], dtype=np.float64)


def _ramp(slots: Sequence[SlotBends], ramp: ProgressiveTwist) -> tuple[Array, Array]:
    """Return nodes and values of a progressive twist."""
    low, high = ramp.first, ramp.last
    for slot in slots:
        if abs(slot.s - ramp.first) < slot.half_width:
            low = slot.s - slot.half_width
        if abs(slot.s - ramp.last) < slot.half_width:
            high = slot.s + slot.half_width
    before = [t.s + t.half_width for t in slots if t.s + t.half_width < low][-1:]
    after = [t.s - t.half_width for t in slots if t.s - t.half_width > high][:1]
    points = {s: 0.0 for s in (*before, *after)}
    points |= {low: ramp.start, ramp.first: ramp.start, ramp.last: ramp.end, high: ramp.end}
    nodes = sorted(points)
    return np.array(nodes), np.array([points[s] for s in nodes])
