"""A wire with memory in an equilibrium: what it has been through, what it keeps, what is left of its force."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from biomech.appliance import Appliance, WirePart
from biomech.appliance.inside import Inside, inside
from biomech.appliance.rods import Past
from biomech.errors import SolveError
from biomech.mechanics.equilibrium import Equilibrium, equilibrium
from biomech.mechanics.newton import Settings, elastic_network
from biomech.outputs._holds import HoldForce, hold_forces, nearest_tooth

YIELDED = 1e-5
"""Set strain from which a section counts as yielded."""
NOTABLE = 1e-4
"""Set strain of a fibre from which a wire is said to have yielded. Assumed."""
TRANSFORMED = 1e-3
"""Share of martensite from which a section counts as transformed."""


@dataclass(frozen=True)
class Inner:
    """What a wire with memory tells besides its forces.

    `reading` is "set" (strain) or "martensite" (share); `largest` of any fibre, near tooth `tooth`; `over` the share of
    the length that yielded (transforms); `strain` the largest axial strain of any fibre, `strain_limit` that at which
    the alloy breaks.
    """

    past: Past
    inside: Inside
    reading: str
    largest: float
    tooth: int
    over: float
    strain: float
    strain_limit: float
    holds: tuple[HoldForce, ...]
    _appliance: Appliance = field(repr=False)

    @property
    def has_yielded(self) -> bool:
        """Whether some fibre has taken a set worth telling."""
        return self.reading == "set" and self.largest > NOTABLE

    @property
    def strained(self) -> float:
        """The largest axial strain so far, in the hands or in the mouth."""
        return max(self.strain, self.past.strained)

    @cached_property
    def set_mm(self) -> tuple[float, float] | None:
        """How much further out its right and left end stand, taken out now, than before it was tied in, mm.

        Negative: it comes out narrower. None when no rest is found.
        """
        try:
            return self.past.set_after(self.inside.memory)
        except SolveError:
            return None

    @cached_property
    def elastic_holds(self) -> tuple[HoldForce, ...] | None:
        """The forces of the holds if the wire, as it lay before it was tied in, did not yield; None when not found.

        Solves the arch once more, with wires that are elastic.
        """
        appliance = self._appliance
        elastic = elastic_network(appliance.network, appliance.network.start_states())
        assert elastic is not None
        try:
            solved = equilibrium(elastic, appliance.start, settings=Settings(largest_shift=0.08, largest_turn=0.5))
        except SolveError:
            return None
        names = {hold.wire for hold in self.holds}
        return tuple(hold for hold in hold_forces(appliance, solved) if hold.wire in names)

    @cached_property
    def force_left(self) -> float | None:
        """The sum of the holds' forces over that of a wire which did not yield; None where there is none."""
        if self.reading != "set" or self.elastic_holds is None:
            return None
        whole = sum(hold.size for hold in self.elastic_holds)
        return sum(hold.size for hold in self.holds) / whole if whole > 1e-9 else None


def inner_view(
    appliance: Appliance, solved: Equilibrium, part: WirePart, variant: int, holds: tuple[HoldForce, ...]
) -> Inner:
    """Return what a wire with memory tells in a solved variant."""
    assert part.past is not None
    found = inside(part, solved.states, variant)
    reading = next(iter(found.readings))
    values = found.readings[reading]
    worst = np.unravel_index(int(np.argmax(values)), values.shape)
    least = YIELDED if reading == "set" else TRANSFORMED
    over = float((part.past.law.weights * (values > least)).sum() / part.length.sum())
    near = nearest_tooth(appliance, float(part.s[worst[0] + worst[1]]))
    return Inner(
        part.past, found, reading, float(values[worst]), near, over, float(found.strain.max(initial=0.0)),
        part.alloy.strain_limit, holds, appliance,
    )  # fmt: skip
