"""Limits of a stretch of a course: all that it passed, and what stops it on the way."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from biomech.appliance import Appliance
from biomech.movement.limits import Flag, Watch, pressures_past, speeds_past, wires_past
from biomech.movement.march import Moment, Mover
from biomech.movement.readings import Reader, Reading


def stop_at(
    kinds: Sequence[str],
    mover: Mover,
    watch: Watch,
    reader: Reader,
    earlier: Sequence[Reading],
    tell: Callable[[float], None],
) -> Callable[[Moment], bool]:
    """Return what says at a moment whether a limit of these `kinds` is passed; `tell` is told every day it looks at.

    `earlier`: what was read since the course began. Slow teeth are judged at the end of a stretch, see `flags_of`.
    """
    before = list(earlier)

    def stop(moment: Moment) -> bool:
        tell(moment.time)
        if not kinds:
            return False
        reading = reader.read(moment)
        flags = [*watch.look(moment), *wires_past(reading)]
        if "rate" in kinds and before:
            found = speeds_past([*before, reading], since=before[-1].day, short=False)
            flags += [flag for flag in found if flag.tooth is not None]
        if "pressure" in kinds:
            flags += pressures_past(mover.appliance, [moment])
        passed = any(flag.kind in kinds for flag in flags)
        if not passed:
            before.append(reading)
        return passed

    return stop


@dataclass(frozen=True)
class Pace:
    """What speeds of a stretch are judged with: the law's bound `most` (mm/day), the day up to which teeth `rest`.

    `earlier`: what was read before it; `last`: no stretch follows in which a week would be full.
    """

    most: float | None
    rest: float
    earlier: Sequence[Reading]
    last: bool


def flags_of(
    appliance: Appliance, watch: Watch, moments: Sequence[Moment], readings: Sequence[Reading], pace: Pace
) -> tuple[Flag, ...]:
    """Return the limits passed in one leg, each kind and tooth once, when it first happened."""
    found = list(watch.passed(moments))
    found += [flag for r in readings for flag in wires_past(r)]
    found += pressures_past(appliance, moments)
    found += speeds_past(
        [*pace.earlier, *readings], pace.most, since=readings[0].day, rest=pace.rest, short=pace.last
    )
    first: dict[tuple[str, int | None, str], Flag] = {}
    for flag in found:
        first.setdefault((flag.kind, flag.tooth, flag.part), flag)
    return tuple(sorted(first.values(), key=lambda f: f.day))
