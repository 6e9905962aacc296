"""Arch forms: planar curves by arc length from the midline, the usual formulas, given points, widening."""

from __future__ import annotations

from biomech.archform.curve import Curve
from biomech.archform.forms import KINDS, arch_form, through_points
from biomech.archform.widening import PROFILES

__all__ = ["KINDS", "PROFILES", "Curve", "arch_form", "through_points"]
