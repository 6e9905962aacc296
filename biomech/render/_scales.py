"""Scales of sections of teeth drawn beside each other: one for movements, forces and moments, stated in the picture."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from biomech.mechanics.poses import Array, pose_exp
from biomech.render._shapes import magnification

if TYPE_CHECKING:
    from biomech.outputs import ToothView

LEAST_FORCE, LEAST_MOMENT = 0.005, 0.05
"""N and N.mm below which nothing is drawn."""
LEAST_MOVE = 5e-5
"""Displacement of the long axis, mm, below which a tooth is said to rest: 0.0 micrometres in words."""
_MOST_FACTOR = 200.0  # a hundredth of a mm is drawn as 2 mm, less as less
_FULL_PRESSURE = 1.0  # kPa: a smaller largest pressure gets bars shorter than the longest
_FULL_FORCE = 0.2  # N: a smaller largest force gets an arrow shorter than the longest
_FULL_TURN = 5.0  # N.mm of a quarter turn at least: what is nothing to a tooth never looks like much
_LARGEST_TURN = 3.0  # quarter turns that the arc of the largest moment may have


@dataclass(frozen=True)
class Scales:
    """Scales shared by all teeth of a picture: `factor` of movements; lengths of arrows, in what the picture is drawn
    in (mm or units of a sheet), by N; `quarter` N.mm that an arc shows as a quarter turn; `pressure`, kPa, the largest.
    """

    factor: float
    newton: float
    quarter: float
    pressure: float

    def sweep(self, moment: float) -> float:
        """Return the angle, rad, of the arc of a moment, N.mm, with its sign."""
        return 0.5 * np.pi * moment / self.quarter


def scales_of(views: Sequence[ToothView], longest: float, magnify: float | None, *, moved: bool = False) -> Scales:
    """Return the scales of teeth drawn beside each other; `longest` is the length of the largest force.

    Moments are those about the brackets and, when they are `moved` there too, about the centres of resistance. Raises
    InputError for an unusable `magnify`.
    """
    largest = max(largest_on_axis(view) for view in views)
    force = max(float(np.linalg.norm(view.wrench[1:3])) for view in views)
    turn = max(abs(moment) for view in views for moment in (_moments(view) if moved else [moment_at(view)]))
    pressures = [1e3 * float(np.abs(v.pressures.normal).max(initial=0.0)) for v in views if v.pressures is not None]
    factor = magnification(largest, magnify) if largest >= LEAST_MOVE or magnify is not None else 1.0
    factor = factor if magnify is not None else min(factor, _MOST_FACTOR)
    return Scales(
        factor, longest / max(force, _FULL_FORCE), quarter_turn(turn), max([_FULL_PRESSURE, *pressures])
    )  # fmt: skip


def moment_at(view: ToothView, point: Array | None = None) -> float:
    """Return the moment in the plane about a point (default the bracket), N.mm, from buccal towards up."""
    return float(view.moment_at(view.bracket if point is None else point)[0])


def _moments(view: ToothView) -> list[float]:
    return [moment_at(view), *([] if view.centre is None else [moment_at(view, view.centre.point)])]


def quarter_turn(largest: float) -> float:
    """Return the moment, N.mm, 1, 2 or 5 times a power of ten, that arcs show as a quarter turn."""
    wanted = max(largest / _LARGEST_TURN, _FULL_TURN)
    power = 10.0 ** np.floor(np.log10(wanted))
    return float(next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= wanted * (1 - 1e-9)))


def round_amount(per_unit: float, longest: float) -> float:
    """Return the largest of 1, 2 or 5 times a power of ten whose length is at most `longest`."""
    power = 10.0 ** np.floor(np.log10(longest / per_unit))
    return float(max(m * power for m in (1.0, 2.0, 5.0) if m * power * per_unit <= longest * (1 + 1e-9)))


def in_plane(motion: Array) -> Array:
    """Return the part of a motion (6,) that lies in the buccolingual plane."""
    return np.asarray(motion * np.array([0.0, 1.0, 1.0, 1.0, 0.0, 0.0]))


def axis_ends(view: ToothView) -> Array:
    """Return the points (2, 3) of the long axis, tooth frame, mm, at the depths of crown edge and apex."""
    marks = view.part.tooth.landmarks
    return np.stack([marks[name] * [0.0, 0.0, 1.0] for name in ("edge", "apex")])


def largest_on_axis(view: ToothView) -> float:
    """Return how far the end of the long axis that moves more goes in the plane, mm."""
    ends = axis_ends(view)
    return float(np.linalg.norm(pose_exp(in_plane(view.motion)).point(ends) - ends, axis=-1).max())


def arc_angles(force: Array, sweep: float) -> tuple[float, float]:
    """Return begin and end, rad, of an arc that first runs on the side away from a force (2,) (across, up)."""
    along = float(np.arctan2(force[1], force[0])) if float(np.linalg.norm(force)) >= LEAST_FORCE else 0.0
    begin = along + np.copysign(0.5 * np.pi, sweep)
    return begin, begin + sweep


def spread(wanted: Iterable[float], gap: float) -> Array:
    """Return places (n,), ascending, at least `gap` apart and as near to those `wanted`, in their order, as can be.

    Least squares: runs of neighbours that would be too near share the mean of what they want.
    """
    values = np.asarray(list(wanted), dtype=float)
    steps = gap * np.arange(len(values))
    runs: list[tuple[float, int]] = []
    for value in values - steps:
        mean, count = float(value), 1
        while runs and runs[-1][0] >= mean:
            before, n = runs.pop()
            mean, count = (before * n + mean * count) / (n + count), n + count
        runs.append((mean, count))
    return np.concatenate([np.full(count, mean) for mean, count in runs]) + steps if runs else values
