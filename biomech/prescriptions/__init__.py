"""Torque prescriptions: one file each, found by the registry. Adding one is adding a file to this folder.

They carry letters, no trade names. In-out and the distal offset of the molars are not part of them: the bracket line
is the line of the slots, so neither moves a tooth here.
"""

from __future__ import annotations

from biomech.prescriptions._base import KINDS, REGISTRY, SEEN, Angles, Prescription

__all__ = ["KINDS", "REGISTRY", "SEEN", "Angles", "Prescription"]
