"""Speed that grows with the logarithm of the stress."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, final

import numpy as np

from biomech.mechanics.poses import Array
from biomech.rates import REGISTRY, RateLaw, Speed, parameter


@final
@dataclass(frozen=True)
class Logarithmic(RateLaw):
    """v = slope ln(1 + stress / onset): human upper canines translated over 84 days at five stresses.

    Measured 0.028, 0.040, 0.050, 0.054, 0.061 mm/day at 4, 13, 26, 52, 78 kPa (standard error 0.004; single patients
    spread 9 to 1). The published form v = a + b ln(stress) falls below zero under 0.3 kPa; the 1 inside the logarithm
    takes it to zero instead. Both parameters are fitted to the five points: largest residual 0.0016 mm/day (0.0018 with
    the published form). Those stresses are force over an effective area of 44 to 45 mm2 (derived from two of the
    published pairs of force and stress).
    """

    slope: float = parameter(0.01036, "speed", 1e-4, 1.0, "speed gained when the stress grows e-fold")
    onset: float = parameter(0.2445, "stress", 1e-3, 100.0, "stress at which the logarithm sets in")

    name: ClassVar[str] = "logarithmic"
    source: ClassVar[str] = (
        "speeds: Nickel and Iwasaki 2014 (82 upper canines, 84 days, no lag in 96 %); slope and onset fitted to "
        "their five points (derived)"
    )
    seen: ClassVar[str] = "abstract only"
    evidence: ClassVar[tuple[float, float] | None] = (4.0, 78.0)

    def unbounded(self, displacement: Array, stress: Array) -> Speed:
        """See RateLaw.unbounded; only the stress counts."""
        value = self.slope * np.log1p(stress / self.onset)
        return Speed(value, np.zeros_like(displacement), self.slope / (self.onset + stress))


REGISTRY.register(Logarithmic.name, Logarithmic)
