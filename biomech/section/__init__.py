"""Wire cross-sections: sizes, area and moments, Saint-Venant torsion, shear factors, peak stress."""

from __future__ import annotations

from biomech.section.base import MAX_SIZE, MIN_SIZE, Section
from biomech.section.shapes import Rectangular, Round

__all__ = ["MAX_SIZE", "MIN_SIZE", "Rectangular", "Round", "Section"]
