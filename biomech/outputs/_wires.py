"""Wires in an equilibrium: stress against the elastic limit, and what each hold carries."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.appliance import Appliance, WirePart
from biomech.mechanics.equilibrium import Equilibrium
from biomech.mechanics.poses import Array
from biomech.outputs._holds import HoldForce, hold_forces, nearest_tooth
from biomech.outputs._inner import Inner, inner_view
from biomech.wire.rod import resultants


@dataclass(frozen=True)
class WireView:
    """One wire of a solved variant.

    `stress` (n, 2) peak von Mises stress at both ends of every element, MPa (of a wire with memory: the largest of its
    fibres at both Gauss points); `peak` the largest, `limit` the alloy's elastic limit; `tooth` nearest to the peak;
    `past` the share of the length beyond the limit; `resultants` (n, 2, 6); `inner` of a wire with memory.
    """

    part: WirePart
    stress: Array
    resultants: Array
    peak: float
    limit: float
    tooth: int
    past: float
    holds: tuple[HoldForce, ...]
    inner: Inner | None = None

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
    inner = None if part.past is None else inner_view(appliance, solved, part, variant, holds)
    mises = np.asarray(part.section.peak_stress(forces)) if inner is None else inner.inside.stress
    worst = np.unravel_index(int(np.argmax(mises)), mises.shape)
    along = part.s[worst[0] + worst[1]]
    past = float(part.length[(mises > part.alloy.elastic_limit).any(axis=1)].sum() / part.length.sum())
    return WireView(
        part, mises, forces, float(mises[worst]), part.alloy.elastic_limit, nearest_tooth(appliance, float(along)),
        past, holds, inner,
    )  # fmt: skip


__all__ = ["HoldForce", "WireView", "hold_forces", "nearest_tooth", "wire_views"]
