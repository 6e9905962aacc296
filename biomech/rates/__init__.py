"""How fast a loaded tooth moves through bone: speed from stress and elastic displacement. One file a law.

The socket of a tooth follows it in the distribution of the elastic displacement field: its twist rate is
q v / u, q being the tooth's elastic motion in its socket, u the size of that motion (mm) and v the speed (mm/day)
that the law gives. Under a constant load the tooth thus moves steadily about the centre about which it turns
elastically. The stress handed to a law is force over an effective area, see `movement.levers`.

Every law takes a `least` stress below which a tooth stays where it is; none unless given, because the evidence is
thin and points both ways. For one: teeth stand still under resting pressures of tongue and lips that do not balance
(Proffit 1978 Angle Orthod 48:175, abstract only; some 0.5 to 1 kPa of it, from memory), and the published logarithmic
fit reaches zero at 0.3 kPa (derived, far outside its points). Against one, or for a low one: 0.016 N (1.68 gf) beyond
the resting force of the cheek moved premolars (Weinstein 1967 Am J Orthod 53:881, abstract only), and 4 kPa moved
canines at two thirds of the speed of 13 (Iwasaki 2000 AJODO 117:175, abstract only).

A law's parameters are fields with metadata `kind` (of biomech.units), `low`, `high` and `about`: scenario keys, their
checks and the help are made from them.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass, field, fields
from typing import Any, ClassVar, NamedTuple

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.registry import Registry, with_values

REGISTRY: Registry[type[RateLaw]] = Registry("rate law", "biomech.rates")


class Speed(NamedTuple):
    """Speed (...) mm/day and its slopes against displacement (1/day) and against stress (mm/day/kPa)."""

    value: Array
    by_displacement: Array
    by_stress: Array


def parameter(default: float | None, kind: str, low: float, high: float, about: str) -> Any:
    """Return a field of a law: `kind` of quantity in biomech.units, allowed range in inside units, what it is."""
    return field(default=default, metadata={"kind": kind, "low": low, "high": high, "about": about})


@dataclass(frozen=True)
class RateLaw(ABC):
    """A rate law. `most` (mm/day) bounds the speed, None: no bound; `lag` (days) is how long a tooth rests first.

    `least` (kPa) is the stress below which nothing moves. From there to twice as much the law comes in smoothly; from
    then on it is what it is without, so that what was fitted to measured points stays fitted.

    Raises InputError for a value that is not finite or outside its range.
    """

    most: float | None = parameter(None, "speed", 1e-4, 1.0, "upper bound on the speed of a tooth")
    lag: float = parameter(0.0, "time", 0.0, 120.0, "rest after the first loading and after every change of the wires")
    least: float = parameter(0.0, "stress", 0.0, 20.0, "stress below which a tooth stays where it is")

    name: ClassVar[str]
    source: ClassVar[str]
    seen: ClassVar[str]
    evidence: ClassVar[tuple[float, float] | None] = None
    """Least and largest stress, kPa, at which the speeds behind it were measured; None for a form without such data."""

    def __post_init__(self) -> None:
        for one in fields(self):
            value, low, high = getattr(self, one.name), one.metadata["low"], one.metadata["high"]
            if value is None and one.default is None:
                continue
            number = isinstance(value, (int, float, np.number)) and not isinstance(value, bool)
            if not (number and low <= value <= high):
                raise InputError(f"rate law {one.name} = {value!r} cannot be used; allowed: {low:g} to {high:g}")

    @abstractmethod
    def unbounded(self, displacement: Array, stress: Array) -> Speed:
        """Return the speed without the bound, for displacement (...) mm >= 0 and stress (...) kPa >= 0.

        It is zero at zero, does not fall with either, and is smooth there.
        """

    def speed(self, displacement: Array, stress: Array) -> Speed:
        """Return the speed of a tooth for the size of its elastic motion (...) mm and its stress (...) kPa."""
        free = self.unbounded(displacement, stress)
        if self.least > 0.0:
            free = _from(self.least, free, stress)
        if self.most is None:
            return free
        bound = free.value >= self.most
        if not bound.any():
            return free
        below = ~bound
        return Speed(np.minimum(free.value, self.most), free.by_displacement * below, free.by_stress * below)

    def provenance(self) -> str:
        """Return where the values come from, naming those that differ from the sourced defaults."""
        own = [f.name for f in fields(self) if getattr(self, f.name) != f.default]
        text = f"{self.source} ({self.seen})"
        return f"{text}; given by the user: {', '.join(own)}" if own else text


def _from(least: float, free: Speed, stress: Array) -> Speed:
    """Return a speed that is zero up to a stress `least` (kPa) and `free` from twice that on, with slopes between.

    The factor is the cubic t^2 (3 - 2 t), t = stress / least - 1, the simplest without a kink; a convention.
    """
    t = np.clip(stress / least - 1.0, 0.0, 1.0)
    share, steepness = t * t * (3.0 - 2.0 * t), 6.0 * t * (1.0 - t) / least
    slope = share * free.by_stress + steepness * free.value
    return Speed(share * free.value, share * free.by_displacement, slope)


def make_rate(law: str = "logarithmic", **values: float) -> RateLaw:
    """Return the rate law called `law` with the given `values` (mm, days, kPa), the rest at their defaults.

    An unknown law or key, or a value out of range, raises InputError.
    """
    return with_values(REGISTRY.get(law), values, f"{law} rate law")
