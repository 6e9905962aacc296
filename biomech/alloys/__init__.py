"""Wire alloys: one file each, found by the registry. Adding an alloy is adding a file to this folder."""

from __future__ import annotations

from biomech.alloys._base import REGISTRY, Alloy, Elastic, Response
from biomech.alloys._superelastic import Superelastic
from biomech.alloys._yielding import Yielding

__all__ = ["REGISTRY", "Alloy", "Elastic", "Response", "Superelastic", "Yielding"]
