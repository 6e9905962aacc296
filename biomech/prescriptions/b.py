"""Prescription B: more torque on the upper incisors and molars than A, less on the upper canine."""

from __future__ import annotations

from biomech.prescriptions._base import REGISTRY, Angles, Prescription

PRESCRIPTION = REGISTRY.register(
    "B",
    Prescription(
        name="B",
        teeth={
            "U1": Angles(12, 5),
            "U2": Angles(8, 9),
            "U3": Angles(-2, 13, torque_seen="abstract"),
            "U4": Angles(-7, 0),
            "U5": Angles(-7, 0),
            "U6": Angles(-14, 0),
            "U7": Angles(-14, 0),
            "L1": Angles(-1, 2),
            "L2": Angles(-1, 2),
            "L3": Angles(-11, 7, torque_seen="abstract"),
            "L4": Angles(-17, -1),
            "L5": Angles(-22, -1),
            "L6": Angles(-30, -1),
            "L7": Angles(-30, -1),
        },
        source=(
            "canines' torque: SciELO S1677-32252015000100066, abstract; the rest from memory. Compared with C in "
            "Mittal 2015 Angle Orthod 85:292 and Moesi 2013 Eur J Orthod 35:236, abstracts"
        ),
    ),
)
