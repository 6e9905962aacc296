"""A bench for one wire: bend it, twist it, open it, and read what it gives back.

Set-ups are built from the same beam elements, sections and alloys as wires in an arch.
"""

from __future__ import annotations

from biomech.bench.curve import Curve
from biomech.bench.drive import drive
from biomech.bench.rig import Rig
from biomech.bench.specimen import Specimen

__all__ = ["Curve", "Rig", "Specimen", "drive"]
