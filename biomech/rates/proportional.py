"""Speed proportional to the elastic displacement."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, final

import numpy as np

from biomech.mechanics.poses import Array
from biomech.rates import REGISTRY, RateLaw, Speed, parameter


@final
@dataclass(frozen=True)
class Proportional(RateLaw):
    """v = u / time_constant: every point of the root moves by its own elastic displacement in every time constant.

    The form in which bone is removed and added in proportion to the stress of the ligament. Its constant was seen in
    no source: the default gives a canine with the first branch of the default ligament the published 0.040 mm/day at
    13 kPa (an elastic displacement of 0.013 mm). Published speeds rise with stress nine times more slowly.
    """

    time_constant: float = parameter(
        1 / 3, "time", 1e-3, 1e3, "time in which a tooth moves by its own elastic displacement"
    )

    name: ClassVar[str] = "proportional"
    source: ClassVar[str] = (
        "form: Kojima and Fukui 2005 AJODO 127:542, remodelling in proportion to the stress of the ligament; constant "
        "set by 0.040 mm/day at 13 kPa, Nickel and Iwasaki 2014 (derived)"
    )
    seen: ClassVar[str] = "abstracts only; constant of the first not seen"

    def unbounded(self, displacement: Array, stress: Array) -> Speed:
        """See RateLaw.unbounded; the stress does not count."""
        per_day = 1 / self.time_constant
        return Speed(per_day * displacement, np.full_like(displacement, per_day), np.zeros_like(stress))


REGISTRY.register(Proportional.name, Proportional)
