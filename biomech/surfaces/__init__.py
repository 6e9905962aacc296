"""Teeth from surface meshes: reading, checking and repairing, axes, the cut at the bone crest, quadrature.

Places in a file are in its own coordinates and unit; everything behind `mesh_tooth` is in mm in the tooth frame.
"""

from biomech.surfaces.source import UNITS, Crest, Source
from biomech.surfaces.tooth import mesh_tooth

__all__ = ["UNITS", "Crest", "Source", "mesh_tooth"]
