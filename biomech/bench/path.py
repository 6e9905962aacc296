"""The path of a test: where it halts, from turn to turn, and at which temperature."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from biomech.errors import InputError

WARMING = 4.0
"""Largest change of temperature in one step, K. Numerical choice: halved, the forces of a held wire cooled to 10 C and
warmed to 60 C change by 1e-5 of the largest."""


class Halt(NamedTuple):
    """One point of a path: the value (mm, rad or share), the number of its stretch, the temperature in C."""

    x: float
    leg: int
    temperature: float


def path(
    turns: Sequence[float],
    step: float,
    stops: Sequence[float] = (),
    temperatures: Sequence[float | None] = (),
    begin: float = 0.0,
) -> list[Halt]:
    """Return the halts of a path from 0 at `begin` C through the `turns`.

    It halts at every one of `stops` that lies on its way, at least every `step`, and at least every `WARMING` K.
    `temperatures`, C, are those at the turns (None, or none given: as before); on the way from turn to turn the
    temperature changes evenly. Raises InputError for a path without a turn, a turn that goes nowhere at one
    temperature, as many temperatures as there are no turns, or a step that is not positive.
    """
    if not turns:
        raise InputError("the path has no turn: give at least how far to go")
    if not step > 0:
        raise InputError(f"step = {step:g}: must be positive")
    if len(temperatures) not in (0, len(turns)):
        raise InputError(f"{len(temperatures)} temperatures for {len(turns)} turns of the path: give one for each")
    out = [Halt(0.0, 0, begin)]
    for leg, (goal, wanted) in enumerate(zip(map(float, turns), temperatures or [None] * len(turns), strict=True)):
        here, warm = out[-1].x, out[-1].temperature
        then = warm if wanted is None else wanted
        if goal == here and then == warm:
            raise InputError(f"the path turns at {goal:g}, where it already is")
        between = sorted({s for s in stops if min(here, goal) < s < max(here, goal)}, reverse=goal < here)
        at, now = here, warm
        for end in (*between, goal):
            to = then if end == goal else warm + (end - here) / (goal - here) * (then - warm)
            n = max(1, math.ceil(abs(end - at) / step - 1e-9), math.ceil(abs(to - now) / WARMING - 1e-9))
            out += [Halt(at + (end - at) * i / n, leg, now + (to - now) * i / n) for i in range(1, n)]
            out.append(Halt(float(end), leg, to))
            at, now = end, to
    return out


def goes_back(begin: float, end: float) -> bool:
    """Return whether a stretch from `begin` to `end` begins towards zero."""
    return (end - begin) * begin < 0
