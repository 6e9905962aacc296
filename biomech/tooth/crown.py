"""Shape of crowns: facial outline and cusps, in anatomical coordinates (mesial, buccal, occlusal).

Heights are shares of the crown length from the cemento-enamel junction (0) to the incisal edge or buccal cusp
tip (1). The outlines are drawn from general knowledge of tooth form (from memory, no source): they place the
bracket and the cusp landmarks to a few tenths of a millimetre and make the pictures recognisable; the support
by the ligament does not depend on them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.mechanics.poses import Array
from biomech.tooth.anatomy import Anatomy

Cusp = tuple[float, float, float]

_HEIGHTS = np.array([0.0, 0.2, 0.5, 0.8, 1.0])
# facial, lingual and mesiodistal half-extent at _HEIGHTS as shares of half the crown diameter; the first is
# replaced by the cervix
_FRONT = ((0.0, 1.00, 0.88, 0.52, 0.14), (0.0, 0.98, 0.55, 0.24, 0.14), (0.0, 0.86, 0.93, 1.00, 0.94))
_CANINE = ((0.0, 1.00, 0.94, 0.58, 0.16), (0.0, 1.00, 0.66, 0.32, 0.16), (0.0, 0.90, 1.00, 0.86, 0.34))
_BACK = ((0.0, 0.99, 0.98, 0.88, 0.72), (0.0, 0.95, 1.00, 0.93, 0.74), (0.0, 0.94, 1.00, 0.99, 0.90))

# (mesial, buccal, height), the lateral places as shares of half the crown diameters
_CUSPS: dict[str, tuple[Cusp, ...]] = {
    "U4": ((0.0, 0.55, 1.0), (0.0, -0.52, 0.90)),
    "U5": ((0.0, 0.52, 1.0), (0.0, -0.52, 0.97)),
    "U6": ((0.45, 0.52, 1.0), (0.30, -0.50, 0.98), (-0.42, 0.52, 0.96), (-0.50, -0.50, 0.86)),
    "U7": ((0.45, 0.52, 1.0), (0.30, -0.50, 0.98), (-0.42, 0.50, 0.93), (-0.48, -0.50, 0.78)),
    "L4": ((0.0, 0.35, 1.0), (0.0, -0.58, 0.72)),
    "L5": ((0.0, 0.45, 1.0), (0.0, -0.52, 0.90)),
    "L6": (
        (0.52, 0.48, 1.0), (0.48, -0.50, 1.0), (-0.05, 0.54, 0.97), (-0.60, 0.34, 0.90), (-0.42, -0.50, 0.97)
    ),
    "L7": ((0.46, 0.50, 1.0), (0.46, -0.50, 0.98), (-0.44, 0.50, 0.96), (-0.44, -0.50, 0.95)),
}  # fmt: skip
_FLOOR = 0.70
"""Height of the valleys of an occlusal table."""


@dataclass(frozen=True)
class Crown:
    """Crown of one tooth: its anatomy and its `length` (mm) from the cemento-enamel junction."""

    anatomy: Anatomy
    length: float

    @property
    def cusps(self) -> tuple[Cusp, ...]:
        """Cusps (mesial, buccal, height) as shares; first the buccal, second the lingual landmark."""
        return _CUSPS.get(self.anatomy.kind, ())

    def outline(self, height: Array) -> Array:
        """Return facial, lingual and mesiodistal half-extents (3, ...) in mm at `height` (...)."""
        a = self.anatomy
        shares = _BACK if self.cusps else _CANINE if a.kind[1] == "3" else _FRONT
        crown = (a.bl_crown, a.bl_crown, a.md_crown)
        cervix = (a.bl_cervix, a.bl_cervix, a.md_cervix)
        rows = []
        for share, wide, narrow in zip(shares, crown, cervix, strict=True):
            values = 0.5 * wide * np.array(share)
            values[0] = 0.5 * narrow
            rows.append(_smooth(height, values))
        return np.array(rows)

    def facial(self, height: float) -> Array:
        """Return the point (mesial, buccal, occlusal), mm, amid the facial surface at `height`."""
        return np.array([0.0, self.outline(np.array(height))[0], height * self.length])

    def tip(self, cusp: Cusp) -> Array:
        """Return the cusp tip (mesial, buccal, occlusal), mm."""
        a = self.anatomy
        return np.array([0.5 * a.md_crown * cusp[0], 0.5 * a.bl_crown * cusp[1], self.length * cusp[2]])

    def table(self, mesial: Array, buccal: Array) -> Array:
        """Return the height (shares) of the occlusal surface over the places given in mm."""
        a = self.anatomy
        if not self.cusps:
            drop = 0.75 if a.kind[1] == "3" else 0.02
            return 1.0 - drop * (2.0 * mesial / a.md_crown) ** 2
        height = np.full(np.shape(mesial), _FLOOR)
        for m, b, tip in self.cusps:
            far = (2 * mesial / a.md_crown - m) ** 2 + (2 * buccal / a.bl_crown - b) ** 2
            height = np.maximum(height, _FLOOR + (tip - _FLOOR) * np.exp(-far / 0.18))
        return height


def _smooth(x: Array, values: Array) -> Array:
    """Return the cubic through `values` at _HEIGHTS with the slopes of central differences."""
    h = _HEIGHTS
    slope = np.gradient(values, h)
    x = np.clip(x, 0.0, 1.0)
    i = np.clip(np.searchsorted(h, x, side="right") - 1, 0, len(h) - 2)
    step = h[i + 1] - h[i]
    t = (x - h[i]) / step
    start = (1 + 2 * t) * (1 - t) ** 2 * values[i] + t * (1 - t) ** 2 * step * slope[i]
    end = t * t * (3 - 2 * t) * values[i + 1] + t * t * (t - 1) * step * slope[i + 1]
    return np.asarray(start + end)
