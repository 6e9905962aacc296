"""A planar curve by its arc length from the midline, the base of arches and of wires.

Axes: x to the patient's left, y forward, mm. s = 0 at the midline, s < 0 on the patient's right, s > 0 on the
left. Beyond its ends the curve continues straight. The curve is held as a quintic spline over its arc length,
fine enough that |dr/ds| = 1 within 1e-3 at the very ends of a beta curve, 1e-8 elsewhere, so tangent and
curvature are smooth.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from biomech.errors import InputError

Array = NDArray[np.float64]
Path = Callable[[Array], Array]
"""Positions (..., 2) for parameters (...); any smooth, regular parameter."""

SPACING = 0.25
"""Distance of the spline's knots along the curve, mm."""
_GAUSS_X, _GAUSS_W = np.polynomial.legendre.leggauss(4)
_MAX_LENGTH = 1000.0


@dataclass(frozen=True, eq=False)
class Curve:
    """A planar curve r(s), s the signed arc length from the midline, mm.

    `length_left` and `length_right` are the nominal lengths of the two sides, mm. Immutable; every method
    takes s of any shape (...) and adds the axes named in its docstring.
    """

    length_left: float
    length_right: float
    _splines: tuple[Any, Any, Any] = field(repr=False)
    _span: tuple[float, float] = field(repr=False)

    @property
    def length(self) -> float:
        """Whole length from end to end, mm."""
        return self.length_left + self.length_right

    def point(self, s: ArrayLike) -> Array:
        """Return the positions (..., 2), mm."""
        s = np.asarray(s, dtype=np.float64)
        inside = np.clip(s, *self._span)
        out: Array = self._splines[0](inside)
        over = s - inside
        if np.any(over):
            out = out + over[..., None] * self.tangent(inside)
        return out

    def tangent(self, s: ArrayLike) -> Array:
        """Return the unit tangents (..., 2), pointing from the patient's right to the left end."""
        t = self._splines[1](np.clip(np.asarray(s, dtype=np.float64), *self._span))
        out: Array = t / np.linalg.norm(t, axis=-1, keepdims=True)
        return out

    def curvature(self, s: ArrayLike) -> Array:
        """Return the signed curvature (...) about +z, rad/mm: negative where the arch is convex outward.

        Zero on the straight continuations.
        """
        s = np.asarray(s, dtype=np.float64)
        inside = np.clip(s, *self._span)
        d1, d2 = self._splines[1](inside), self._splines[2](inside)
        cross = d1[..., 0] * d2[..., 1] - d1[..., 1] * d2[..., 0]
        bend = cross / np.sum(d1 * d1, axis=-1) ** 1.5
        return np.where(s == inside, bend, 0.0)

    def frames(self, s: ArrayLike, z: ArrayLike = 0.0) -> tuple[Array, Array]:
        """Return rotations (..., 3, 3), columns tangent, outward, up, and positions (..., 3), at height z."""
        s = np.asarray(s, dtype=np.float64)
        t = self.tangent(s)
        rotation = np.zeros((*t.shape[:-1], 3, 3))
        rotation[..., 0, 0], rotation[..., 1, 0] = t[..., 0], t[..., 1]
        rotation[..., 0, 1], rotation[..., 1, 1] = -t[..., 1], t[..., 0]
        rotation[..., 2, 2] = 1.0
        height = np.broadcast_to(np.asarray(z, dtype=np.float64), s.shape)
        return rotation, np.concatenate([self.point(s), height[..., None]], axis=-1)

    def nearest(self, points: ArrayLike) -> Array:
        """Return s (...) of the curve's points, straight continuations included, nearest to (..., 2)."""
        p = np.asarray(points, dtype=np.float64)
        grid = np.linspace(*self._span, max(int((self._span[1] - self._span[0]) / SPACING), 8) + 1)
        gap = np.linalg.norm(p[..., None, :] - self.point(grid), axis=-1)
        s: Array = grid[np.argmin(gap, axis=-1)]
        step = grid[1] - grid[0]
        for _ in range(12):
            off = p - self.point(s)
            t = self.tangent(s)
            along = np.sum(off * t, axis=-1)
            across = off[..., 1] * t[..., 0] - off[..., 0] * t[..., 1]
            slope = np.maximum(1.0 - self.curvature(s) * across, 0.2)
            beyond = ((s <= grid[0]) & (along < 0)) | ((s >= grid[-1]) & (along > 0))
            move = np.where(beyond, along, np.clip(along / slope, -step, step))
            s = s + move
            if np.max(np.abs(move), initial=0.0) < 1e-12:
                break
        return s

    def mirrored(self) -> Curve:
        """Return the mirror image, left for right."""
        from scipy.interpolate import BSpline

        knots, values, degree = self._splines[0].tck
        spline = BSpline(-knots[::-1], values[::-1] * np.array([-1.0, 1.0]), degree)
        return Curve(
            length_left=self.length_right,
            length_right=self.length_left,
            _splines=(spline, spline.derivative(), spline.derivative(2)),
            _span=(-self._span[1], -self._span[0]),
        )

    def offset(self, distance: float) -> Curve:
        """Return the parallel curve `distance` mm outward (negative: inward).

        Raises InputError if an inward offset exceeds the radius of curvature.
        """
        if not np.isfinite(distance):
            raise InputError(f"offset = {distance!r} mm: must be a finite number")
        grid = np.linspace(*self._span, 400)
        if np.min(1.0 - self.curvature(grid) * distance) < 0.05:
            radius = 1.0 / np.max(np.abs(self.curvature(grid)))
            raise InputError(
                f"offset = {distance:g} mm: must stay below the curve's smallest radius, {radius:.3g} mm"
            )

        def path(s: Array) -> Array:
            t = self.tangent(s)
            return self.point(s) + distance * np.stack([-t[..., 1], t[..., 0]], axis=-1)

        return from_path(path, self._span, tails=self._tails())

    def widened(self, left: float, right: float, profile: str = "proportional") -> Curve:
        """Return the curve with its ends moved apart: `left` mm to the left, `right` mm to the right.

        `profile` says how the movement is shared along the arch, see `biomech.archform.widening`; negative
        amounts narrow. s keeps counting from the (displaced) midline point, along the new curve. Raises
        InputError for an unknown profile or an amount that is not finite or would fold the curve.
        """
        from biomech.archform.widening import widening

        shift = widening(self, left, right, profile)

        def path(s: Array) -> Array:
            p = self.point(s)
            return np.stack([p[..., 0] + shift(s, p[..., 0]), p[..., 1]], axis=-1)

        # the straight tails, if any, keep reaching the moved ends
        ends = path(np.array([-self.length_right, self._span[0], self._span[1], self.length_left]))
        reach = np.linalg.norm(ends[[0, 3]] - ends[[1, 2]], axis=1)
        return from_path(path, self._span, tails=(float(reach[0]), float(reach[1])))

    def _tails(self) -> tuple[float, float]:
        """Return how far the nominal ends lie beyond the spline (right, left), mm."""
        return self.length_right + self._span[0], self.length_left - self._span[1]


def from_path(
    path: Path, span: tuple[float, float], *, zero: float = 0.0, tails: tuple[float, float] = (0.0, 0.0)
) -> Curve:
    """Return the curve along `path` over the parameters `span`, right to left, with s = 0 at `zero`.

    `tails` (right, left): straight lengths, mm, that belong to the nominal length beyond the span.
    """
    from scipy.interpolate import make_interp_spline

    lo, hi = span
    count = 400
    nodes = np.linspace(lo, hi, count + 1)
    source = make_interp_spline(nodes, path(nodes), k=5)
    velocity = source.derivative()
    lengths = _cumulative(velocity, nodes)
    total = float(lengths[-1])
    if not (np.isfinite(total) and 0 < total < _MAX_LENGTH):
        raise InputError(f"curve of length {total:g} mm: must be positive and below {_MAX_LENGTH:g} mm")
    knots = np.linspace(0.0, total, max(int(np.ceil(total / SPACING)), 16) + 1)
    u = _invert(velocity, nodes, lengths, knots)
    start = float(_length_to(velocity, nodes, lengths, np.array([zero]))[0])
    spline = make_interp_spline(knots - start, path(u), k=5)
    return Curve(
        length_left=total - start + tails[1],
        length_right=start + tails[0],
        _splines=(spline, spline.derivative(), spline.derivative(2)),
        _span=(-start, total - start),
    )


def _cumulative(velocity: Any, nodes: Array) -> Array:
    """Return the arc length (n,) from the first of `nodes` (n,) by Gauss quadrature."""
    half = 0.5 * np.diff(nodes)
    where = 0.5 * (nodes[:-1] + nodes[1:])[:, None] + half[:, None] * _GAUSS_X
    pieces = half * (np.linalg.norm(velocity(where), axis=-1) @ _GAUSS_W)
    return np.concatenate([[0.0], np.cumsum(pieces)])


def _length_to(velocity: Any, nodes: Array, lengths: Array, u: Array) -> Array:
    """Return the arc length (m,) from the first node to parameters u (m,)."""
    cell = np.clip(np.searchsorted(nodes, u, side="right") - 1, 0, nodes.size - 2)
    half = 0.5 * (u - nodes[cell])
    where = (nodes[cell] + half)[:, None] + half[:, None] * _GAUSS_X
    out: Array = lengths[cell] + half * (np.linalg.norm(velocity(where), axis=-1) @ _GAUSS_W)
    return out


def _invert(velocity: Any, nodes: Array, lengths: Array, targets: Array) -> Array:
    """Return the parameters (m,) at arc lengths `targets` (m,), by Newton's method."""
    u = np.interp(targets, lengths, nodes)
    for _ in range(6):
        miss = _length_to(velocity, nodes, lengths, u) - targets
        u = np.clip(u - miss / np.linalg.norm(velocity(u), axis=-1), nodes[0], nodes[-1])
        if np.max(np.abs(miss)) < 1e-6:  # quadratic: the step just taken ends near rounding
            break
    return u
