"""What one does with scenarios: solve one, write what came out."""

from __future__ import annotations

from biomech.studies.solve import Refinement, Solution, solve

__all__ = ["Refinement", "Solution", "solve"]
