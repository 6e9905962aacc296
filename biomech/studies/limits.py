"""Limits of a stretch of a course: all that it passed, and what stops it on the way."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from biomech.appliance import Appliance
from biomech.movement.limits import WEEK, Flag, Watch, pressures_past, speeds_past, wires_past
from biomech.movement.march import Moment, Mover
from biomech.movement.readings import Reader, Reading


def stop_at(
    kinds: Sequence[str], mover: Mover, watch: Watch, reader: Reader, tell: Callable[[float], None]
) -> Callable[[Moment], bool]:
    """Return what says at a moment whether a limit of these `kinds` is passed; `tell` is told every day it looks at.

    Speeds are looked at from a week after the first moment on; at the end of a shorter stretch `flags_of` does.
    """
    before: list[Reading] = []

    def stop(moment: Moment) -> bool:
        tell(moment.time)
        if not kinds:
            return False
        reading = reader.read(moment)
        flags = [*watch.look(moment), *wires_past(reading)]
        if "rate" in kinds and before and reading.day - before[0].day >= WEEK:
            flags += [flag for flag in speeds_past([*before, reading]) if flag.tooth is not None]
        if "pressure" in kinds:
            flags += pressures_past(mover.appliance, [moment])
        passed = any(flag.kind in kinds for flag in flags)
        if not passed:
            before.append(reading)
        return passed

    return stop


def flags_of(
    appliance: Appliance, watch: Watch, moments: Sequence[Moment], readings: Sequence[Reading], most: float | None
) -> tuple[Flag, ...]:
    """Return the limits passed in one leg, each kind and tooth once, when it first happened."""
    found = list(watch.passed(moments))
    found += [flag for r in readings for flag in wires_past(r)]
    found += [*pressures_past(appliance, moments), *speeds_past(readings, most)]
    first: dict[tuple[str, int | None, str], Flag] = {}
    for flag in found:
        first.setdefault((flag.kind, flag.tooth, flag.part), flag)
    return tuple(sorted(first.values(), key=lambda f: f.day))
