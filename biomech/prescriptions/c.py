"""Prescription C: most torque on the upper incisors, least on the lower molars."""

from __future__ import annotations

from biomech.prescriptions._base import REGISTRY, Angles, Prescription

PRESCRIPTION = REGISTRY.register(
    "C",
    Prescription(
        name="C",
        teeth={
            "U1": Angles(17, 4, "seen", "seen"),
            "U2": Angles(10, 8, "seen", "seen"),
            "U3": Angles(-7, 8),
            "U4": Angles(-7, 0, "seen", "seen"),
            "U5": Angles(-7, 0, "seen", "seen"),
            "U6": Angles(-14, 0, "seen", "seen"),
            "U7": Angles(-14, 0, "seen", "seen"),
            "L1": Angles(-6, 0),
            "L2": Angles(-6, 0),
            "L3": Angles(-6, 3),
            "L4": Angles(-12, 2, "seen", "seen"),
            "L5": Angles(-17, 2, "seen", "seen"),
            "L6": Angles(-20, 0),
            "L7": Angles(-10, 0),
        },
        source=(
            "upper incisors, premolars and molars, lower premolars: public technical pages of the prescription's "
            "authors, seen; the rest from memory. Compared with B in Mittal 2015 Angle Orthod 85:292 and Moesi 2013 "
            "Eur J Orthod 35:236, abstracts"
        ),
        note="the canines' brackets exist in other torques too (0, and +7 upper or +6 lower); the commonest is given",
    ),
)
