"""Bends by slot as functions along the wire: offsets of the centreline, twist of the section."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from biomech.mechanics.poses import Array


class OffsetField(NamedTuple):
    """Offsets outward and up, mm: straight in every slot, cubic between, straight beyond the outermost.

    nodes (k,) ascending s, values (k, 2) and slopes (k, 2) there.
    """

    nodes: Array
    values: Array
    slopes: Array

    def __call__(self, s: Array) -> tuple[Array, Array]:
        """Return the offsets (..., 2) and their derivatives (..., 2) at s (...)."""
        if self.nodes.size == 0:
            return np.zeros((*s.shape, 2)), np.zeros((*s.shape, 2))
        x = np.clip(s, self.nodes[0], self.nodes[-1])
        i = np.clip(np.searchsorted(self.nodes, x, side="right") - 1, 0, self.nodes.size - 2)
        width = (self.nodes[i + 1] - self.nodes[i])[..., None]
        t = (x - self.nodes[i])[..., None] / width
        rise = (self.values[i + 1] - self.values[i]) / width
        m0, m1 = self.slopes[i], self.slopes[i + 1]
        # cubic with the given end values and slopes, as the chord plus two bumps
        value = self.values[i] + width * (t * rise + t * (1 - t) * ((1 - t) * (m0 - rise) - t * (m1 - rise)))
        slope = rise + (1 - t) * (1 - 3 * t) * (m0 - rise) + t * (3 * t - 2) * (m1 - rise)
        return value + (s - x)[..., None] * slope, slope


def offset_field(centres: Array, half_width: float, steps: Array, slopes: Array) -> OffsetField:
    """Return the field with `steps` (m, 2) and `slopes` (m, 2) at slot `centres` (m,), ascending."""
    arm = half_width * np.array([-1.0, 1.0])
    values = steps[:, None, :] + slopes[:, None, :] * arm[:, None]
    return OffsetField((centres[:, None] + arm).ravel(), values.reshape(-1, 2), np.repeat(slopes, 2, axis=0))


class TwistField(NamedTuple):
    """Twist about the wire's axis, rad: sum of piecewise linear functions (nodes (k,), values (k,))."""

    parts: tuple[tuple[Array, Array], ...]

    def __call__(self, s: Array) -> Array:
        """Return the twist (...) at s (...); constant beyond the outermost slots."""
        total = np.zeros(s.shape)
        for nodes, values in self.parts:
            total += np.interp(s, nodes, values)
        return total


def local_twist(centres: Array, half_width: float, angles: Array) -> tuple[Array, Array]:
    """Return nodes and values of a twist by `angles` (m,) in each slot, linear between slots."""
    nodes = (centres[:, None] + half_width * np.array([-1.0, 1.0])).ravel()
    return nodes, np.repeat(angles, 2)


def progressive_twist(
    centres: Array, half_width: float, ends: tuple[float, float], angles: tuple[float, float]
) -> tuple[Array, Array]:
    """Return nodes and values of a twist growing linearly between two slot centres `ends` (ascending).

    Zero in all slots before and after; inside the two end slots, away from the ramp, it stays constant.
    """
    arm = half_width * np.array([-1.0, 1.0])
    before = (centres[centres < ends[0] - half_width][:, None] + arm).ravel()
    after = (centres[centres > ends[1] + half_width][:, None] + arm).ravel()
    ramp = np.array([ends[0] - half_width, ends[0], ends[1], ends[1] + half_width])
    nodes = np.concatenate([before, ramp, after])
    values = np.zeros(nodes.size)
    values[before.size : before.size + 4] = np.repeat(angles, 2)
    return nodes, values
