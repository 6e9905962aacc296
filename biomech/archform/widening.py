"""How a widening is shared along an arch.

Each profile gives the transverse shift dx (mm, to the left) of the point at arc length s and abscissa x, for
`left` mm at the left end and `right` mm at the right end. With a = (left + right)/2, b = (left - right)/2:

* "proportional": dx = x (left/x_left on the left, right/|x_right| on the right): every point moves in
  proportion to its distance from the midline. Unequal sides blend within 20 % of the half width.
* "even": dx = left on the left side, -right on the right, joined by a smooth step over the front third of
  the half width: the halves move apart whole.
* "molar": dx grows with the third power of the distance back along the arch, s/length: front unchanged.

The blends are polynomials chosen so that the curvature stays continuous.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from biomech.errors import InputError, nearest

if TYPE_CHECKING:
    from biomech.archform.curve import Curve

Array = NDArray[np.float64]
Shift = Callable[[Array, Array], Array]

_PROPORTIONAL_BLEND = 0.2
_EVEN_BLEND = 1 / 3


def widening(curve: Curve, left: float, right: float, profile: str) -> Shift:
    """Return the shift dx(s, x) of `profile`; InputError for bad amounts or an unknown profile."""
    if profile not in PROFILES:
        known = ", ".join(f"'{k}'" for k in PROFILES)
        raise InputError(f"widening profile '{profile}': known are {known}.{nearest(str(profile), PROFILES)}")
    ends = curve.point(np.array([-curve.length_right, curve.length_left]))[:, 0]
    for key, amount, room in (("left", left, ends[1]), ("right", right, -ends[0])):
        if not np.isfinite(amount) or not abs(amount) < 0.8 * room:
            raise InputError(
                f"widen.{key} = {amount!r} mm: must be finite and below 80 % of the half width, {room:.4g} mm"
            )
    return PROFILES[profile](curve, float(left), float(right), (float(-ends[0]), float(ends[1])))


def _proportional(curve: Curve, left: float, right: float, room: tuple[float, float]) -> Shift:
    rate_right, rate_left = right / room[0], left / room[1]
    blend = _PROPORTIONAL_BLEND * min(room)
    mean, half = 0.5 * (rate_left + rate_right), 0.5 * (rate_left - rate_right)
    return lambda s, x: mean * x + half * blend * _smooth_abs(x / blend)


def _even(curve: Curve, left: float, right: float, room: tuple[float, float]) -> Shift:
    blend = _EVEN_BLEND * min(room)
    return lambda s, x: 0.5 * (left - right) + 0.5 * (left + right) * _smooth_sign(x / blend)


def _molar(curve: Curve, left: float, right: float, room: tuple[float, float]) -> Shift:
    def shift(s: Array, x: Array) -> Array:
        left_part = left * np.maximum(s / curve.length_left, 0.0) ** 3
        return left_part - right * np.maximum(-s / curve.length_right, 0.0) ** 3

    return shift


def _smooth_abs(u: Array) -> Array:
    """Return |u| outside |u| < 1 and a polynomial inside, zero at 0, with two continuous derivatives."""
    v = np.clip(np.abs(u), 0.0, 1.0) ** 2
    inside = v * (15 - 10 * v + 3 * v * v) / 8
    return np.where(np.abs(u) < 1, inside, np.abs(u))


def _smooth_sign(u: Array) -> Array:
    """Return sign(u) outside |u| < 1 and a polynomial inside, with two continuous derivatives."""
    v = np.clip(u, -1.0, 1.0)
    out: Array = v * (15 - 10 * v**2 + 3 * v**4) / 8
    return out


PROFILES: dict[str, Callable[[Curve, float, float, tuple[float, float]], Shift]] = {
    "proportional": _proportional,
    "even": _even,
    "molar": _molar,
}
"""The known profiles by name."""
