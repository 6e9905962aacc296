"""Usual directions of the long axes of the teeth against the plane of the bracket line.

Inclination: degrees the crown leans buccally (negative: lingually); angulation: degrees it leans mesially.
"""

from __future__ import annotations

from dataclasses import dataclass

from biomech.tooth.anatomy import anatomy


@dataclass(frozen=True)
class LongAxis:
    """Usual `inclination` and `angulation` of one kind of tooth, degrees; `seen`: how far the source was."""

    inclination: float
    angulation: float
    seen: str


_HANDBOOK = (
    "from memory: Dempster, Adams, Duddles 1963 JADA 67:779, as tabulated in handbooks of dental anatomy; "
    "senses of the inclinations inferred"
)
_MOLARS = "angulation " + _HANDBOOK + "; inclination: mean of adults, abstract only, "
_FIRST = _MOLARS + "doi 10.25301/JPDA.321.4"
_SECOND = _MOLARS + "doi 10.3390/jcm11226629"
_INCISOR = (
    "angulation " + _HANDBOOK + "; inclination: the axis meets the occlusal plane at 58.3 degrees, lower "
    "limit of the norm, J Orofac Orthop 2018, coordinating bracket torque and incisor inclination, part 3, "
    "abstract only"
)

_TABLE = {
    "U1": LongAxis(31.7, 2.0, _INCISOR),
    "U2": LongAxis(26.0, 7.0, _HANDBOOK),
    "U3": LongAxis(16.0, 17.0, _HANDBOOK),
    "U4": LongAxis(5.0, 9.0, _HANDBOOK),
    "U5": LongAxis(6.0, 5.0, _HANDBOOK),
    "U6": LongAxis(9.4, 10.0, _FIRST),
    "U7": LongAxis(15.7, 8.0, _SECOND),
    "L1": LongAxis(22.0, 2.0, _HANDBOOK),
    "L2": LongAxis(23.0, 0.0, _HANDBOOK),
    "L3": LongAxis(12.0, 6.0, _HANDBOOK),
    "L4": LongAxis(-9.0, 6.0, _HANDBOOK),
    "L5": LongAxis(-10.0, 9.0, _HANDBOOK),
    "L6": LongAxis(-14.1, 10.0, _FIRST),
    "L7": LongAxis(-15.2, 14.0, _SECOND),
}


def long_axis(number: int) -> LongAxis:
    """Return the usual long axis of tooth `number` (ISO 3950); an unknown number raises InputError."""
    return _TABLE[anatomy(number).kind]
