"""What goes on inside a wire with memory: stress, strain, set or martensite, and energy that it could give back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from biomech.appliance.parts import WirePart
from biomech.mechanics.links import State
from biomech.mechanics.poses import Array
from biomech.mechanics.states import mapped
from biomech.wire.fibre_rod import Memory
from biomech.wire.fibre_section import FibreSection


@dataclass(frozen=True)
class Inside:
    """A wire with memory, by element and Gauss point (n, 2).

    `stress` the largest of the section's fibres, MPa (axial, or sqrt 3 times shear); `strain` the largest axial one;
    `readings` what the alloy tells by name, the largest over the fibres: "set" or "martensite"; `energy` N.mm.
    """

    memory: Memory
    stress: Array
    strain: Array
    readings: Mapping[str, Array]
    energy: float


def inside(part: WirePart, states: Sequence[State], variant: int = 0) -> Inside:
    """Return what goes on inside a wire with memory, `states` being those of all groups of links."""
    assert part.past is not None
    law = part.past.law
    section = law.section
    assert isinstance(section, FibreSection)
    memory = memory_of(part, states, variant)
    strains = law.section_strains(memory)
    energy = float((section.stored(memory.sections) * law.weights).sum())
    return Inside(
        memory, section.peak_stress(memory.sections), section.peak_strain(strains), section.readings(memory.sections),
        energy,
    )  # fmt: skip


def memory_of(part: WirePart, states: Sequence[State], variant: int = 0) -> Memory:
    """Return what all elements of a wire remember, in their order along it."""
    assert part.past is not None
    whole: Memory = mapped(np.copy, part.past.law.start())
    for group in np.unique(part.elements[:, 0]):
        rows = np.flatnonzero(part.elements[:, 0] == group)
        picked = part.elements[rows, 1]

        def put(array: Array, found: Array, rows: np.ndarray = rows, picked: np.ndarray = picked) -> Array:
            one = found if found.ndim == array.ndim else found[min(variant, found.shape[0] - 1)]
            array[rows] = one[picked]
            return array

        whole = mapped(put, whole, states[int(group)])
    return whole
