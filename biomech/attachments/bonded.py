"""Bonded: wire and tooth move as one body; the appliance lets both ride on one frame."""

from __future__ import annotations

from biomech.attachments import REGISTRY, Kind

REGISTRY.register("bonded", Kind("bonded", "rigid joint: all six components, no play", 1))
