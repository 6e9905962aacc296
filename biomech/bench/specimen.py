"""The wire on the bench: section, alloy, temperature."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from biomech.alloys import Alloy
from biomech.mechanics.links import Links
from biomech.mechanics.poses import Array, Pose
from biomech.section import Section
from biomech.wire.fibre_rod import FibreRod, fibre_rod
from biomech.wire.fibre_section import FibreSection
from biomech.wire.rod import rod

MOUTH = 36.0
"""C; the temperature at which the published standard bends nickel-titanium (36 C, within 1 C; ISO 15841, wires.md of
the references: confirmed in an abstract)."""


@dataclass(frozen=True)
class Specimen:
    """One wire to be tested. `temperature` in C; raises InputError where the alloy's law does not reach."""

    section: Section
    alloy: Alloy
    temperature: float = MOUTH

    @cached_property
    def response(self) -> FibreSection:
        """The section's response, shared by all its elements."""
        return FibreSection(self.section, self.alloy, temperature=self.temperature)

    @property
    def elastic(self) -> Array:
        """(EA, k2 GA, k3 GA, GJ, EI2, EI3) (6,) of the unloaded section, N and N.mm^2."""
        return np.asarray(self.response.elastic)

    @property
    def label(self) -> str:
        """Size and alloy in words."""
        return f"{self.section.label()}, {self.alloy.name}"

    def size(self, across: int) -> float:
        """Return the thickness, mm, in the direction of section axis `across` (1 outward, 2 up)."""
        return self.section.depth if across == 1 else self.section.height

    def links(self, frames: np.ndarray, stations: Pose) -> Links:
        """Return the wire's elements through the stress-free `stations` (n + 1,) riding on `frames`."""
        free = stations.take(slice(0, -1)).inverse() @ stations.take(slice(1, None))
        if self.response.is_linear:
            return rod("wire", frames, self.elastic, free)
        return fibre_rod("wire", frames, self.response, free)

    def strains(self, links: Links, state: object) -> Array | None:
        """Return the fibre strains (elements, 2, fibres) of a state of its elements; None while it is linear."""
        if not isinstance(links.law, FibreRod):
            return None
        out: Array = self.response.fibre_strain(links.law.section_strains(state))  # type: ignore[arg-type]
        return out
