"""Angles by which the tooth has turned."""

from __future__ import annotations

import numpy as np

from biomech.outputs import ToothView, Value, add


@add("turn_deg", "rotation of the tooth", "deg")
def turn(view: ToothView) -> Value:
    """Return torque (+ buccal root), tip (+ mesial crown) and rotation (+ mesial out)."""
    return view.turns(np.degrees(view.motion[3:]))
