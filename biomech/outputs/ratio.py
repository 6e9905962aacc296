"""Moment-to-force ratio at the bracket in the buccolingual plane."""

from __future__ import annotations

from biomech.outputs import ToothView, Value, add

LEAST_FORCE = 0.01
"""Buccolingual force, N, below which the ratio says nothing."""


@add("moment_to_force_mm", "M/F at the bracket, buccolingual", "mm")
def ratio(view: ToothView) -> Value:
    """Return torque over buccal force: positive when the moment sends the root the way of the force; else None."""
    buccal = view.words(view.wrench[:3])["buccal"]
    torque = view.turns(view.moment_at(view.bracket))["torque"]
    return None if abs(buccal) < LEAST_FORCE else torque / buccal
