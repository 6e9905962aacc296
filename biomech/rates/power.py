"""Speed that grows with a power of the stress."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, final

import numpy as np

from biomech.mechanics.poses import Array
from biomech.rates import REGISTRY, RateLaw, Speed, parameter


@final
@dataclass(frozen=True)
class Power(RateLaw):
    """v = factor s (s^2 + onset^2)^((exponent - 1) / 2), s the stress in kPa; from `onset` upwards factor s^exponent.

    The same five points as the logarithmic law, fitted a little worse (largest residual 0.0035 mm/day). Below `onset`
    it turns proportional, where a bare power would have an infinite slope.
    """

    factor: float = parameter(0.02023, "speed", 1e-5, 1.0, "speed at 1 kPa, seen from high stress")
    exponent: float = parameter(0.2576, "number", 0.05, 1.0, "exponent of the stress")
    onset: float = parameter(0.5, "stress", 1e-3, 100.0, "stress below which the law is proportional")

    name: ClassVar[str] = "power"
    source: ClassVar[str] = (
        "fit 0.02023 s^0.2576 (derived) to the speeds of Nickel and Iwasaki 2014 (82 upper canines, 84 days)"
    )
    seen: ClassVar[str] = "abstract only"
    evidence: ClassVar[tuple[float, float] | None] = (4.0, 78.0)

    def unbounded(self, displacement: Array, stress: Array) -> Speed:
        """See RateLaw.unbounded; only the stress counts."""
        square = stress * stress + self.onset**2
        value = self.factor * stress * square ** (0.5 * (self.exponent - 1))
        slope = self.factor * square ** (0.5 * (self.exponent - 3)) * (self.exponent * stress**2 + self.onset**2)
        return Speed(value, np.zeros_like(displacement), slope)


REGISTRY.register(Power.name, Power)
