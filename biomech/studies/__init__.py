"""What one does with scenarios: solve one, compare several, write what came out."""

from __future__ import annotations

from biomech.studies.compare import Comparison, compare
from biomech.studies.record import expectations, lookup, record
from biomech.studies.solve import CAUTION, Refinement, Solution, solve
from biomech.studies.variants import Variant, vary
from biomech.studies.write import write

__all__ = [
    "CAUTION",
    "Comparison",
    "Refinement",
    "Solution",
    "Variant",
    "compare",
    "expectations",
    "lookup",
    "record",
    "solve",
    "vary",
    "write",
]
