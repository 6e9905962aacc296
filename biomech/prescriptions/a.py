"""Prescription A: close to the mean of untreated arches with good occlusion."""

from __future__ import annotations

from biomech.prescriptions._base import REGISTRY, Angles, Prescription

PRESCRIPTION = REGISTRY.register(
    "A",
    Prescription(
        name="A",
        teeth={
            "U1": Angles(7, 5, torque_seen="abstract"),
            "U2": Angles(3, 9),
            "U3": Angles(-7, 11),
            "U4": Angles(-7, 2),
            "U5": Angles(-7, 2),
            "U6": Angles(-9, 5, torque_seen="seen"),
            "U7": Angles(-9, 5),
            "L1": Angles(-1, 2),
            "L2": Angles(-1, 2),
            "L3": Angles(-11, 5),
            "L4": Angles(-17, 2),
            "L5": Angles(-22, 2),
            "L6": Angles(-30, 2),
            "L7": Angles(-35, 2),
        },
        source=(
            "upper first molar -9: public technical pages of the authors of prescription C, seen; upper central 7: J "
            "Orofac Orthop 2018, coordinating bracket torque and incisor inclination, part 3, abstract; the rest, and "
            "that A is the mean of untreated arches, from memory. Compared with others in Thickett 2007 J Orthod 34:95"
        ),
    ),
)
