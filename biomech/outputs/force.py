"""Force on the tooth."""

from __future__ import annotations

from biomech.outputs import ToothView, Value, add

GRAM_FORCE = 9.80665e-3
"""N per gf, exact by definition of the standard acceleration of gravity."""


@add("force_N", "force on the tooth", "N")
def force(view: ToothView) -> Value:
    """Return the force of wires and applied loads, N: + mesial, + buccal, + occlusal."""
    return view.words(view.wrench[:3])


@add("force_gf", "force on the tooth", "gf")
def force_gf(view: ToothView) -> Value:
    """Return the same force in gram-force."""
    return {key: value / GRAM_FORCE for key, value in view.words(view.wrench[:3]).items()}
