"""The name of a tooth movement in the buccolingual plane, by the place of its rotation centre.

Depths are mm along the long axis from the cemento-enamel junction, apical positive. The names are those of
the textbooks; where each begins is a convention of this program (textbooks give points, not ranges):

- "uncontrolled tipping": the tooth turns about a point between its centre of resistance and its apex, or occlusal of
  the centre of resistance as long as the crown still goes farther than the apex;
- "controlled tipping": about the apex, or apical to it by up to one root length;
- "bodily movement with tipping": farther apically, while the apex moves less than BODILY[0] of the crown;
- "bodily movement": the apex moves BODILY[0] to BODILY[1] times as far as the crown, the same way;
- "root movement": the apex leads: about any point occlusal of half-way between edge and apex;
- "rotation about the centre of resistance": within COUPLE of the root length about it, as under a couple (a
  force at the crown alone turns an incisor about a point some 5 % of the root length from it);
- "intrusion", "extrusion": along the long axis, the sideways part below SIDEWAYS of it; "no movement".

"About the apex" begins NEAR of the root length occlusal of it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.tooth.motion import NOTHING, displacement

NEAR = 0.05
"""Share of the root length by which a centre may lie occlusal of the apex and count as at the apex."""
COUPLE = 0.02
"""Share of the root length within which a centre counts as the centre of resistance."""
BODILY = (0.8, 1.25)
"""Apex over crown displacement of a bodily movement."""
SIDEWAYS = 0.02
"""Sideways over axial displacement below which a movement is along the long axis."""
RESTS = 0.1
"""Share of an apex's displacement up to which its crown rests, and the other way about. A convention."""
KINDS = (
    "uncontrolled tipping",
    "controlled tipping",
    "bodily movement with tipping",
    "bodily movement",
    "root movement",
    "rotation about the centre of resistance",
    "intrusion",
    "extrusion",
    "no movement",
)


class Levels(NamedTuple):
    """Depths, mm, apical positive: `edge` of the crown (negative), centre of `resistance`, `apex`."""

    edge: float
    resistance: float
    apex: float


class Sideways(NamedTuple):
    """Buccal displacement (mm, buccal positive) of crown and apex on the long axis, and the apical one."""

    crown: float
    apex: float
    apical: float = 0.0


def levels(edge: Array, resistance: Array, apex: Array, jaw_sign: int) -> Levels:
    """Return the depths of three points (3,) of the tooth frame; InputError unless they are in this order."""
    found = Levels(*(float(jaw_sign * point[2]) for point in (edge, resistance, apex)))
    if not found.edge < found.resistance < found.apex or found.apex <= 0.0:
        raise InputError(
            "edge, centre of resistance and apex must follow each other apically and the apex must lie below "
            f"the cemento-enamel junction; depths are {found.edge:.3g}, {found.resistance:.3g} and "
            f"{found.apex:.3g} mm"
        )
    return found


def sideways(q: Array, at: Levels, jaw_sign: int) -> Sideways:
    """Return what a motion q (6,) does to the points of the long axis at the depths of edge and apex."""
    points = np.array([[0.0, 0.0, jaw_sign * at.edge], [0.0, 0.0, jaw_sign * at.apex]])
    move = displacement(q, points)
    return Sideways(float(move[0, 1]), float(move[1, 1]), float(jaw_sign * move[0, 2]))


def apex_to_crown(move: Sideways) -> float:
    """Return apex over crown displacement: 1 in translation, 0 about the apex, negative between them.

    Infinite when only the apex moves; 0 when nothing does.
    """
    if abs(move.crown) <= NOTHING:
        return 0.0 if abs(move.apex) <= NOTHING else float(np.copysign(np.inf, move.apex))
    return move.apex / move.crown


def crown_tells(crown: float, apex: float) -> bool:
    """Return whether ratios to a crown's displacement (buccal, mm) say something: not where it rests beside its apex.

    Apex over crown lies within 1 / RESTS then; beyond, its size and sign are those of a remainder. The one rule of
    initial movements and courses (which also ask for a least movement, see studies.phrases); names of movements do not
    depend on it.
    """
    return abs(crown) > RESTS * abs(apex)


def centre_depth(move: Sideways, at: Levels) -> float:
    """Return the depth of the rotation centre, mm; plus or minus infinity without rotation.

    The sign of an infinite depth is that of a centre moving off: positive if the crown moves further.
    """
    turn = move.crown - move.apex
    size = max(abs(move.crown), abs(move.apex))
    if abs(turn) <= 1e-12 * size or size == 0.0:
        return float("inf") if abs(move.crown) >= abs(move.apex) else float("-inf")
    return at.edge + move.crown * (at.apex - at.edge) / turn


def classify(move: Sideways, at: Levels) -> str:
    """Return the name, one of KINDS, of a movement; not finite displacements raise InputError."""
    if not np.isfinite(move).all() or not np.isfinite(at).all():
        raise InputError(f"movement cannot be named: displacements {tuple(move)}, depths {tuple(at)} mm")
    largest = max(abs(move.crown), abs(move.apex))
    if largest <= max(NOTHING, SIDEWAYS * abs(move.apical)):
        if abs(move.apical) <= NOTHING:
            return "no movement"
        return "intrusion" if move.apical > 0.0 else "extrusion"
    if BODILY[0] <= apex_to_crown(move) <= BODILY[1]:
        return "bodily movement"
    return _by_centre(centre_depth(move, at), at)


def _by_centre(depth: float, at: Levels) -> str:
    if abs(depth - at.resistance) <= COUPLE * at.apex:
        return "rotation about the centre of resistance"
    if depth < min(at.resistance, 0.5 * (at.edge + at.apex)):
        return "root movement"
    if depth < (1.0 - NEAR) * at.apex:
        return "uncontrolled tipping"
    return "controlled tipping" if depth <= 2.0 * at.apex else "bodily movement with tipping"
