"""Moment on the tooth at its bracket and at its centre of resistance."""

from __future__ import annotations

from biomech.outputs import ToothView, Value, add


@add("moment_at_bracket_N_mm", "moment at the bracket", "N.mm")
def at_bracket(view: ToothView) -> Value:
    """Return the moment about the slot's centre: torque + buccal root, tip + mesial crown, rotation + mesial out."""
    return view.turns(view.moment_at(view.bracket))


@add("moment_at_resistance_N_mm", "moment at the centre of resistance", "N.mm")
def at_resistance(view: ToothView) -> Value:
    """Return the moment about the centre of resistance, signs as at the bracket; None on a tooth held rigidly."""
    return None if view.centre is None else view.turns(view.moment_at(view.centre.point))
