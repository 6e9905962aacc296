"""Wires in an equilibrium: stress against the elastic limit, and what each hold carries."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.appliance import Appliance, WirePart
from biomech.appliance.words import directions
from biomech.mechanics.equilibrium import Equilibrium
from biomech.mechanics.poses import Array
from biomech.wire.rod import resultants


@dataclass(frozen=True)
class HoldForce:
    """Force on a tooth by one hold of one wire: N, + mesial, + buccal, + occlusal; `partner` of a tie between two."""

    wire: str
    tooth: int
    kind: str
    force: dict[str, float]
    size: float
    partner: int | None


@dataclass(frozen=True)
class WireView:
    """One wire of a solved variant.

    `stress` (n, 2) peak von Mises stress at both ends of every element, MPa; `peak` the largest, `limit` the alloy's
    elastic limit; `tooth` nearest to the peak; `past` the share of the length beyond the limit; `resultants` (n, 2, 6).
    """

    part: WirePart
    stress: Array
    resultants: Array
    peak: float
    limit: float
    tooth: int
    past: float
    holds: tuple[HoldForce, ...]

    @property
    def utilisation(self) -> float:
        """Peak stress over elastic limit."""
        return self.peak / self.limit


def wire_views(appliance: Appliance, solved: Equilibrium, variant: int = 0) -> dict[str, WireView]:
    """Return the views of all wires by name."""
    holds = hold_forces(appliance, solved, variant)
    out = {}
    for name, part in appliance.wires.items():
        mine = tuple(h for h in holds if h.wire == name)
        out[name] = _wire_view(appliance, solved, part, variant, mine)
    return out


def _wire_view(
    appliance: Appliance, solved: Equilibrium, part: WirePart, variant: int, holds: tuple[HoldForce, ...]
) -> WireView:
    stress = np.zeros((len(part.length), 6))
    for group in np.unique(part.elements[:, 0]):
        rows = part.elements[:, 0] == group
        found = solved.stress(int(group))
        stress[rows] = found[min(variant, found.shape[0] - 1)][part.elements[rows, 1]]
    forces = resultants(stress, part.length)
    mises = np.asarray(part.section.peak_stress(forces))
    worst = np.unravel_index(int(np.argmax(mises)), mises.shape)
    along = part.s[worst[0] + worst[1]]
    past = float(part.length[(mises > part.alloy.elastic_limit).any(axis=1)].sum() / part.length.sum())
    return WireView(
        part, mises, forces, float(mises[worst]), part.alloy.elastic_limit, nearest_tooth(appliance, float(along)),
        past, holds,
    )  # fmt: skip


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
