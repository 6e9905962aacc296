"""How a wire is held by a tooth: slot, tube, tie, bonded. One file a kind; each registers itself.

Every law works on the "section" strain of a link from a wire station (a) to the holder on the tooth (b):
p = position of the holder in the station's axes (tangent, outward, up; mm) and w = rotation from the station to
the holder (rad). What pushes the wire pushes the tooth the other way.
"""

from __future__ import annotations

from dataclasses import dataclass

from biomech.registry import Registry


@dataclass(frozen=True)
class Kind:
    """One way of holding a wire: what it is in words, and how many wire stations carry one holder."""

    name: str
    summary: str
    stations: int


REGISTRY: Registry[Kind] = Registry("hold", "biomech.attachments")
