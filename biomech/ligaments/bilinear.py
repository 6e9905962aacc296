"""Bilinear ligament: compliant up to a transition strain, stiffer beyond."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, final

import numpy as np

from biomech.ligaments import REGISTRY, Curve, Ligament
from biomech.mechanics.poses import Array


@final
@dataclass(frozen=True)
class Bilinear(Ligament):
    """Modulus `young` up to the weighted strain `transition_strain`, `second_young` (MPa) beyond it.

    In one dimension sigma = E1 e, then E1 e12 + E2 (e - e12). Pure shear reaches the transition at
    ut/t = e12 sqrt(kn/kt). Both branches share Poisson's ratio.
    """

    second_young: float = 0.20
    transition_strain: float = 0.07

    name: ClassVar[str] = "bilinear"
    source: ClassVar[str] = (
        "Papageorgiou et al. 2017 Prog Orthod 18:6, Table 1 (0.05/0.20 MPa, 7 %, nu 0.30); measured in human "
        "upper incisors: 0.04/0.16 MPa, 7.3 %, Dong-Xu et al. 2011 Angle 81:229; thickness 0.2 mm assumed"
    )
    seen: ClassVar[str] = "table seen in full; abstract only"
    allowed: ClassVar[dict[str, tuple[float, float]]] = {
        **Ligament.allowed,
        "second_young": (1e-4, 1e3),
        "transition_strain": (1e-4, 1.0),
    }

    @property
    def is_linear(self) -> bool:
        """True when both moduli are equal."""
        return self.second_young == self.young

    def curve(self, strain: Array) -> Curve:
        """Return the two straight branches and their integral."""
        ratio, corner = self.second_young / self.young, self.transition_strain
        past = np.maximum(strain - corner, 0.0)
        low = strain - past
        secant = 1.0 + (ratio - 1.0) * past / np.maximum(strain, corner)
        slope = np.where(past > 0.0, ratio, 1.0)
        return Curve(0.5 * low * low + corner * past + 0.5 * ratio * past * past, secant, slope)


REGISTRY.register(Bilinear.name, Bilinear)
