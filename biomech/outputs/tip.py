"""Tip of the crown for every millimetre it gains."""

from __future__ import annotations

import numpy as np

from biomech.outputs import ToothView, Value, add
from biomech.outputs.movement import long_axis

LEAST_GAIN = 1e-3
"""Buccal displacement of the crown on the long axis, mm, below which the ratio says nothing."""


@add("tip_deg_per_mm", "buccal crown tip for each mm the crown goes buccally", "deg/mm")
def tip(view: ToothView) -> Value:
    """Return buccal crown tip over buccal displacement of the long axis at the edge; None for a crown that rests.

    0 is bodily movement, negative when the root leads; for a rotation centre at the distance R (mm) from the edge it
    is 57.3 / R.
    """
    moved = long_axis(view)
    gain = float(moved["crown"] or 0.0) if isinstance(moved, dict) else 0.0
    turned = -view.turns(np.degrees(view.motion[3:]))["torque"]
    return None if abs(gain) < LEAST_GAIN else turned / gain
