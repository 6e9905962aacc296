"""Arch forms by formula and through given points.

Each form has its front at (0, depth) and its ends at (-width/2, 0) and (width/2, 0), mm. Formulas as in Braun
et al. 1998 (Angle Orthod 68:29-36, beta function; coefficients from memory, confirmed algebraically) and
elementary geometry.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from biomech.archform.curve import Curve, from_path
from biomech.errors import InputError, nearest

Array = NDArray[np.float64]

_BETA_CUT = 0.005
_MAX_SIZE = 200.0
_MIN_SIZE = 1.0
_MIN_STEP = 1e-2


def arch_form(kind: str, width: float, depth: float = 0.0) -> Curve:
    """Return the arch form `kind`, one of KINDS, of `width` between its ends and `depth` to them, mm.

    * "beta": y = D (1 - (2x/W)^2)^0.8. Its curvature grows without bound at the very ends (the tangent turns
      0.11 rad over the last 0.5 % of the depth), so the curve proper stops at y = 0.005 D and continues
      straight to y = 0; at 55 x 40 mm this changes the width by 0.01 mm, the perimeter by 0.001 mm.
    * "ellipse": half an ellipse. "parabola": y = D (1 - (2x/W)^2). "catenary": y = D - c (cosh(x/c) - 1).
    * "straight": y = D throughout.

    Raises InputError for an unknown kind or a size that is not finite or plausible.
    """
    if kind not in KINDS:
        known = ", ".join(f"'{k}'" for k in KINDS)
        raise InputError(f"arch form '{kind}': known are {known}.{nearest(str(kind), KINDS)}")
    _require("width", width, _MIN_SIZE)
    _require("depth", depth, 0.0 if kind == "straight" else _MIN_SIZE)
    return _formed(kind, float(width), float(depth))


@lru_cache(maxsize=64)
def _formed(kind: str, width: float, depth: float) -> Curve:
    """Return a form, made once: a course builds the same arch at every visit."""
    return KINDS[kind](width, depth)


def through_points(points: ArrayLike) -> Curve:
    """Return a smooth curve (cubic spline by chord length) through points (n, 2) or (n, 3), mm, in order.

    The points run from one end of the arch to the other and must cross the midline x = 0, where s = 0 (at
    the foremost crossing). Two points give a straight line. A third column, the height, must be constant,
    since the curve is planar. Raises InputError otherwise, and for points closer than 0.01 mm.
    """
    p = np.asarray(points, dtype=np.float64)
    if p.ndim != 2 or p.shape[0] < 2 or p.shape[1] not in (2, 3) or not np.all(np.isfinite(p)):
        raise InputError(f"points of shape {p.shape}: must be at least two finite rows of x, y (mm)")
    if p.shape[1] == 3 and np.ptp(p[:, 2]) > 1e-6:
        raise InputError(
            f"points: heights differ by {np.ptp(p[:, 2]):.4g} mm, but the curve is planar; give x and y only"
        )
    p = p[:, :2] if p[0, 0] < p[-1, 0] else p[::-1, :2]
    chord = np.linalg.norm(np.diff(p, axis=0), axis=1)
    if np.min(chord) < _MIN_STEP:
        at = int(np.argmin(chord)) + 1
        raise InputError(
            f"points {at} and {at + 1} are {chord[at - 1]:.2g} mm apart: must be at least 0.01 mm"
        )
    return _interpolate(p, np.concatenate([[0.0], np.cumsum(chord)]))


def _interpolate(p: Array, u: Array) -> Curve:
    from scipy.interpolate import make_interp_spline

    spline = make_interp_spline(u, p, k=min(3, len(p) - 1))
    fine = np.linspace(u[0], u[-1], 4000)
    x, y = spline(fine).T
    crossing = np.flatnonzero((x[:-1] <= 0) & (x[1:] > 0))
    if crossing.size == 0:
        raise InputError(
            f"points: x runs from {x.min():.4g} to {x.max():.4g} mm, but must cross the midline x = 0 from "
            "the patient's right (x < 0) to the left (x > 0)"
        )
    i = crossing[np.argmax(y[crossing])]
    low, high = fine[i], fine[i + 1]
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if spline(middle)[0] <= 0 else (low, middle)
    return from_path(lambda t: np.asarray(spline(t), dtype=np.float64), (u[0], u[-1]), zero=low)


def _require(key: str, value: float, low: float) -> None:
    if not (np.isfinite(value) and low <= value <= _MAX_SIZE):
        raise InputError(f"arch {key} = {value!r} mm: must be within {low:g} and {_MAX_SIZE:g} mm")


def _stack(x: Array, y: Array) -> Array:
    return np.stack(np.broadcast_arrays(x, y), axis=-1)


def _beta(width: float, depth: float) -> Curve:
    # x = W/2 sin t makes y = D cos(t)^1.6, smooth up to the cut
    end = float(np.arccos(_BETA_CUT ** (1 / 1.6)))
    fall = 1.6 * depth * np.cos(end) ** 0.6 * np.sin(end)  # -dy/dt at the cut
    tail = _BETA_CUT * depth * float(np.hypot(width / 2 * np.cos(end), fall)) / fall
    return from_path(
        lambda t: _stack(width / 2 * np.sin(t), depth * np.cos(t) ** 1.6), (-end, end), tails=(tail, tail)
    )


def _ellipse(width: float, depth: float) -> Curve:
    end = np.pi / 2
    return from_path(lambda t: _stack(width / 2 * np.sin(t), depth * np.cos(t)), (-end, end))


def _parabola(width: float, depth: float) -> Curve:
    return from_path(lambda x: _stack(x, depth * (1 - (2 * x / width) ** 2)), (-width / 2, width / 2))


def _catenary(width: float, depth: float) -> Curve:
    from scipy.optimize import brentq

    # depth = c (cosh(W/2c) - 1), solved for q = W/2c: (cosh q - 1)/q = 2 D/W grows from 0
    ratio = 2 * depth / width
    q = float(brentq(lambda q: (np.cosh(q) - 1) / q - ratio, 1e-9, 20.0, xtol=1e-14))
    c = width / (2 * q)
    return from_path(lambda x: _stack(x, depth - c * (np.cosh(x / c) - 1)), (-width / 2, width / 2))


def _straight(width: float, depth: float) -> Curve:
    return from_path(lambda x: _stack(x, np.asarray(depth)), (-width / 2, width / 2))


KINDS: dict[str, Callable[[float, float], Curve]] = {
    "beta": _beta,
    "ellipse": _ellipse,
    "parabola": _parabola,
    "catenary": _catenary,
    "straight": _straight,
}
"""The known arch forms by name."""
