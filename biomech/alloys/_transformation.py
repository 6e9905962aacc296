"""Limits between which nickel-titanium needs no transformation, in tension and compression, and the way along them.

The signed share z of martensite is positive where it was pulled, negative where pressed. Two stresses bound what a
point bears at z: above, z grows (austenite turns under tension, martensite of compression turns back); below, z falls.
Both bounds rise with z, and each is a straight line in z on either side of zero.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from biomech.alloys._base import Array


class Line(NamedTuple):
    """One bound on one side: stress `start` at |z| = 0, its `rise` to |z| = 1, MPa, and `first`, the strain at |z| = 0.

    Beyond it |z| is the root of b = |z| + (`curve` / 4) |z|^2 with b = (|strain| - first) / `linear`.
    """

    start: float
    rise: float
    first: float
    linear: float
    curve: float

    def stress(self, share: Array) -> Array:
        """Return the size of the stress (...), MPa, at the share (...)."""
        return self.start + self.rise * share


def line(start: float, finish: float, length: float, young: float, softer: float) -> Line:
    """Return the line from stress `start` at |z| = 0 to `finish` at 1, MPa; `softer` 1/MPa as martensite is."""
    rise = finish - start
    linear = rise / young + length + softer * start
    return Line(start, rise, start / young, linear, 4 * softer * rise / linear)


class Side(NamedTuple):
    """Tension or compression: transformation strain, and the lines on which |z| grows and falls."""

    length: float
    there: Line
    back: Line


def sides(
    pulled: tuple[float, float, float, float], length: float, asymmetry: float, young: float, softer: float
) -> tuple[Side, Side]:
    """Return tension and compression.

    `pulled` = (start, finish, back start, back finish) in tension, MPa at the temperature; the lower two may be
    negative, which means that the martensite stays when the load is gone. It then turns back under the opposite load,
    at the latest where that load would turn austenite (it reorients).
    """
    start, finish, back_start, back_finish = pulled

    def side(a: float, opposite: float) -> Side:
        low, high = (max(a * stress, -opposite) for stress in (back_finish, back_start))
        own = length / a
        there = line(a * start, a * finish, own, young, softer)
        return Side(own, there, line(low, high, own, young, softer))

    return side(1.0, asymmetry * start), side(asymmetry, start)


def met(strain: Array, pull: Line, press: Line, apart: float) -> Array:
    """Return the signed share (...) at which a bound carries `strain` (...): `pull` where it is above `apart`."""
    pulling = strain > apart
    beyond = np.where(pulling, strain - pull.first, -press.first - strain)
    beyond /= pull.linear if pull.linear == press.linear else np.where(pulling, pull.linear, press.linear)
    np.maximum(beyond, 0.0, out=beyond)
    curve = pull.curve if pull.curve == press.curve else np.where(pulling, pull.curve, press.curve)
    root = np.asarray(curve * beyond)
    root += 1.0
    np.sqrt(root, out=root)
    root += 1.0
    beyond *= 2.0
    beyond /= root
    np.minimum(beyond, 1.0, out=beyond)
    return np.copysign(beyond, strain - apart)


def turned(length: float, softer: float, start: Array, end: Array, share: Array) -> Array:
    """Return the work (...), MPa, of turning `share` while the stress goes linearly from `start` to `end`.

    Without the elastic energy: the integral of length stress + softer stress^2 / 2 by share.
    """
    square = (start * start + start * end + end * end) / 3
    return np.asarray(share * (length * 0.5 * (start + end) + 0.5 * softer * square))


def given_back(side: Side, softer: float, share: Array) -> Array:
    """Return the work (...), MPa, that |z| = `share` gives back on its way down before the stress has gone."""
    back = side.back
    kept = np.zeros_like(share)
    if back.start < 0:
        kept = np.minimum(share, -back.start / back.rise) if back.start + back.rise > 0 else share
    low, high = (np.maximum(back.stress(at), 0.0) for at in (kept, share))
    return turned(side.length, softer, low, high, share - kept)
