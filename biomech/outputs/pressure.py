"""Pressure in the periodontal ligament."""

from __future__ import annotations

import numpy as np

from biomech.outputs import ToothView, Value, add


@add("ligament_pressure_kPa", "ligament pressure", "kPa")
def pressure(view: ToothView) -> Value:
    """Return the peak and the area mean of the compressive normal pressure over the root.

    The mean is over the compressed part of the surface. Peaks of an elastic model at the crest say little
    (reference values of tissue models lie below them); the mean is the steadier number.
    """
    if view.pressures is None:
        return None
    normal = 1e3 * view.pressures.normal
    weight = view.part.bearing.weights
    squeezed = normal > 0
    area = float(weight[squeezed].sum())
    mean = float((normal * weight)[squeezed].sum() / area) if area > 0 else 0.0
    return {"peak": float(np.max(normal, initial=0.0)), "mean": mean}
