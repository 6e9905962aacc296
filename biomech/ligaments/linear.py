"""Linear ligament: the same modulus at every strain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, final

import numpy as np

from biomech.ligaments import REGISTRY, Curve, Ligament
from biomech.mechanics.poses import Array


@final
@dataclass(frozen=True)
class Linear(Ligament):
    """Traction = kn un n + kt ut. The default is the first branch of the bilinear law, for small loads."""

    name: ClassVar[str] = "linear"
    source: ClassVar[str] = "first branch of the set in Papageorgiou et al. 2017 Prog Orthod 18:6, Table 1"
    seen: ClassVar[str] = "table seen in full"

    @property
    def is_linear(self) -> bool:
        """Always true."""
        return True

    def curve(self, strain: Array) -> Curve:
        """Return Gamma = e^2/2."""
        one = np.ones_like(strain)
        return Curve(0.5 * strain * strain, one, one)


REGISTRY.register(Linear.name, Linear)
