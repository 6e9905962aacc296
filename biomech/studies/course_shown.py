"""Which tooth of a course stands in the foreground, and which way it is pulled."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from biomech.movement.readings import Reading
from biomech.studies.course_files import WAYS

LITTLE = 0.25
"""Share of the largest force on any tooth below which a molar is no longer what a course is about. A convention."""
MUCH = 2.0
"""How many times the buccal force another one must be for a tooth to be shown along it. A convention."""


def shown_tooth(readings: Sequence[Reading]) -> int:
    """Return the right first molar (else the tooth furthest to the right), or the tooth with the largest force.

    The latter where that force is so much larger that the molar tells nothing of what the wires do.
    """
    teeth = readings[0].teeth
    usual = next((n for n in (16, 46) if n in teeth), teeth[0])
    force = np.max([np.linalg.norm(r.force, axis=1) for r in readings], axis=0)
    largest = int(np.argmax(force))
    return usual if force[teeth.index(usual)] >= LITTLE * force[largest] else teeth[largest]


def shown_way(readings: Sequence[Reading], number: int) -> tuple[int, str]:
    """Return the direction in which a tooth is shown, as place and word: buccal unless it is pulled far more otherwise.

    "mesial", "buccal" or "occlusal", positive that way.
    """
    at = readings[0].of(number)
    most = np.max([np.abs(r.force[at]) for r in readings], axis=0)
    best = int(np.argmax(most))
    way = best if most[best] > MUCH * most[1] else 1
    return way, WAYS[way]
