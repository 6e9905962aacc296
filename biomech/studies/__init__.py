"""What one does with scenarios: solve one, write what came out."""

from __future__ import annotations

from biomech.studies.record import expectations, lookup, record
from biomech.studies.solve import CAUTION, Refinement, Solution, solve
from biomech.studies.write import write

__all__ = ["CAUTION", "Refinement", "Solution", "expectations", "lookup", "record", "solve", "write"]
