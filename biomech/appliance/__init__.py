"""From a scenario to frames and links: teeth in their sockets, wires laid in, and what holds them together."""

from __future__ import annotations

from biomech.appliance.build import build
from biomech.appliance.parts import Appliance, HoldPart, ToothPart, WirePart

__all__ = ["Appliance", "HoldPart", "ToothPart", "WirePart", "build"]
