"""How much of a movement lies within what the rate law was measured at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass, replace
from itertools import pairwise

import numpy as np

from biomech.mechanics.poses import Array, pose_log
from biomech.movement.march import Moment, Mover
from biomech.rates import RateLaw

_NOTHING = 1e-9  # mm: a way of rounding
WORTH = 0.1
"""Share of the way from which it is worth a sentence. A convention."""


@dataclass(frozen=True)
class Travel:
    """Ways of teeth added up, mm: the whole, what was gone `below` and `above` the stresses that the law was measured
    at, and what was gone `bounded` by the law's upper bound.
    """

    way: float = 0.0
    below: float = 0.0
    above: float = 0.0
    bounded: float = 0.0

    def __add__(self, other: Travel) -> Travel:
        """Add both up."""
        return Travel(*(a + b for a, b in zip(astuple(self), astuple(other), strict=True)))


def travelled(mover: Mover, moments: Sequence[Moment]) -> Travel:
    """Return the ways that sockets go from moment to moment, by the stress half-way (mean of both ends)."""
    if len(moments) < 2:
        return Travel()
    group = mover.appliance.ligament_group
    motion = np.stack([m.evaluation.kinematics[group].strain[0] for m in moments])
    wrench = np.stack([m.evaluation.responses[group].stress[0] for m in moments])
    size, stress = _between(mover.levers.size(motion)), _between(mover.levers.stress(motion, wrench))
    sockets = [mover.sockets_of(m.poses) for m in moments]
    steps = np.stack([pose_log(a.inverse() @ b) for a, b in pairwise(sockets)])
    way = mover.levers.size(steps)
    low, high = mover.law.evidence or (0.0, np.inf)
    most = np.inf if mover.law.most is None else mover.law.most
    free = replace(mover.law, most=None).speed(size, stress).value
    return Travel(*(float(way[which].sum()) for which in (way >= 0, stress < low, stress > high, free > most)))


def _between(values: Array) -> Array:
    return np.asarray(0.5 * (values[:-1] + values[1:]))


def outside(law: RateLaw, gone: Travel) -> tuple[str, ...]:
    """Return what a reader must know about a movement that left what its law was measured at; empty when nothing."""
    found: list[str] = []
    if gone.way <= _NOTHING:
        held = law.least > 0.0
        return (f"no tooth has moved: every stress stayed below `least` = {law.least:g} kPa",) if held else ()
    for part, side, end in ((gone.below, "below", 0), (gone.above, "above", 1)):
        if law.evidence is not None and part > WORTH * gone.way:
            edge = ("least", "largest")[end]
            found.append(
                f"{100 * part / gone.way:.0f} % of the way of all teeth was gone at stresses {side} "
                f"{law.evidence[end]:g} kPa, the {edge} at which the {law.name} law was measured: how fast teeth go "
                "there is its extrapolation, and not known"
            )
    if gone.bounded > WORTH * gone.way:
        found.append(
            f"`most` set the speed on {100 * gone.bounded / gone.way:.0f} % of the way: there a light force moves a "
            "tooth as fast as a heavy one, and the pace is the scenario's choice, not the law's"
        )
    return tuple(found)
