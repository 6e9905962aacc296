"""What a torque prescription says: how the brackets are to stand the crowns, by kind of tooth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from biomech.errors import InputError
from biomech.registry import Registry

KINDS = tuple(f"{jaw}{place}" for jaw in "UL" for place in range(1, 8))
"""Kinds of tooth: U upper, L lower, 1 (central incisor) to 7 (second molar)."""
SEEN = ("seen", "abstract", "memory")
"""How far a value was seen: "seen" in its authors' own public pages, in an "abstract" only, from "memory"."""


@dataclass(frozen=True)
class Angles:
    """Torque and tip of one kind of tooth, degrees; how far each was seen (one of SEEN).

    `torque`: inclination of the crown's facial axis, positive with the crown buccal (labial), so -14 on a molar means
    buccal root torque. `tip`: its angulation, positive with the crown mesial.
    """

    torque: float
    tip: float
    torque_seen: str = "memory"
    tip_seen: str = "memory"

    def __post_init__(self) -> None:
        for key, limit in (("torque", 45.0), ("tip", 30.0)):
            if not abs(getattr(self, key)) <= limit:
                raise InputError(f"{key} = {getattr(self, key)!r} deg cannot be used; allowed: up to {limit:g} deg")
        for key in ("torque_seen", "tip_seen"):
            if getattr(self, key) not in SEEN:
                raise InputError(f"{key} = {getattr(self, key)!r} is not known; allowed: {', '.join(SEEN)}")


@dataclass(frozen=True)
class Prescription:
    """A torque prescription: angles of all 14 kinds of teeth, where they come from, what is left out."""

    name: str
    teeth: Mapping[str, Angles]
    source: str
    note: str = ""

    def __post_init__(self) -> None:
        if set(self.teeth) != set(KINDS):
            wrong = sorted(set(self.teeth) ^ set(KINDS))
            raise InputError(f"prescription '{self.name}' must give all of {', '.join(KINDS)}; differs at {wrong}")


REGISTRY: Registry[Prescription] = Registry("prescription", "biomech.prescriptions")
"""Every prescription by its name."""
