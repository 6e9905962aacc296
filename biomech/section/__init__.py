"""Wire cross-sections: sizes, moments of area, torsion, shear factors, peak stress; fibres for laws beyond Hooke's."""

from __future__ import annotations

from biomech.section.base import MAX_SIZE, MIN_SIZE, Section
from biomech.section.bevel import typical_bevel
from biomech.section.fibres import Fibres, fibres
from biomech.section.plastic_torsion import ShearFibres, plastic_torque, shear_fibres
from biomech.section.shapes import Rectangular, Round

__all__ = [
    "MAX_SIZE", "MIN_SIZE", "Fibres", "Rectangular", "Round", "Section", "ShearFibres", "fibres", "plastic_torque",
    "shear_fibres", "typical_bevel",
]  # fmt: skip
