"""Tip of the crown for every millimetre it gains."""

from __future__ import annotations

import numpy as np

from biomech.outputs import ToothView, Value, add

LEAST_GAIN = 1e-3
"""Buccal displacement of the crown, mm, below which the ratio says nothing."""


@add("tip_deg_per_mm", "buccal crown tip for each mm the crown goes buccally", "deg/mm")
def tip(view: ToothView) -> Value:
    """Return buccal crown tip over buccal crown displacement: 0 bodily, negative when the root leads; else None.

    For a rotation centre at the distance R (mm) from the crown's edge it is 57.3 / R.
    """
    gain = view.words(view.displacement(view.part.tooth.landmarks["edge"]))["buccal"]
    turned = -view.turns(np.degrees(view.motion[3:]))["torque"]
    return None if abs(gain) < LEAST_GAIN else turned / gain
