"""What each hold of a wire carries, and which tooth is near."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.appliance import Appliance
from biomech.appliance.words import directions
from biomech.mechanics.equilibrium import Equilibrium


@dataclass(frozen=True)
class HoldForce:
    """Force on a tooth by one hold of one wire: N, + mesial, + buccal, + occlusal; `partner` of a tie between two."""

    wire: str
    tooth: int
    kind: str
    force: dict[str, float]
    size: float
    partner: int | None


def nearest_tooth(appliance: Appliance, s: float) -> int:
    """Return the tooth whose slot is nearest to arc length `s` (mm) on the bracket line."""
    return min(appliance.teeth.values(), key=lambda p: abs(p.s - s)).number


def hold_forces(appliance: Appliance, solved: Equilibrium, variant: int = 0) -> list[HoldForce]:
    """Return the force of every hold but the bonded ones on its tooth."""
    out = []
    for hold in appliance.holds:
        if hold.group < 0:
            continue
        force = solved.frame_forces(hold.group)
        on_tooth = -force[min(variant, force.shape[0] - 1)][hold.rows, 6:9].sum(axis=0)
        tooth = appliance.teeth[hold.tooth].tooth
        named = directions(on_tooth, tooth.side_sign, tooth.jaw_sign)
        size = float(np.linalg.norm(on_tooth))
        out.append(HoldForce(hold.wire, hold.tooth, hold.kind, named, size, hold.partner))
    return out
