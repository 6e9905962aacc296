"""The ligament as a solid: curved 20-node hexahedra, right at any Poisson's ratio below 0.5.

`support(tooth, ligament)` returns the 6x6 stiffness of a rigid root in a fixed socket; `stresses(support, motion)`
what the ligament bears on its middle surface.
"""

from biomech.solid.stress import MidLayer, stresses
from biomech.solid.support import SolidSupport, support

__all__ = ["MidLayer", "SolidSupport", "stresses", "support"]
