"""Tip of the crown for every millimetre it gains."""

from __future__ import annotations

import numpy as np

from biomech.outputs import ToothView, Value, add
from biomech.outputs.movement import long_axis
from biomech.tooth.kinds import crown_tells

LEAST_GAIN = 1e-3
"""Buccal displacement of the crown on the long axis, mm, below which the ratio says nothing."""


@add("tip_deg_per_mm", "buccal crown tip for each mm the crown goes buccally on the long axis", "deg/mm")
def tip(view: ToothView) -> Value:
    """Return buccal crown tip over buccal displacement of the long axis at the edge.

    0 is bodily movement, negative when the root leads; for a rotation centre at the distance R (mm) from the edge it is
    57.3 / R. None for a crown that rests: in itself, or beside its apex (see tooth.kinds.crown_tells).
    """
    moved = long_axis(view)
    gain, apex = (float(moved[at] or 0.0) if isinstance(moved, dict) else 0.0 for at in ("crown", "apex"))
    turned = -view.turns(np.degrees(view.motion[3:]))["torque"]
    return turned / gain if abs(gain) >= LEAST_GAIN and crown_tells(gain, apex) else None
