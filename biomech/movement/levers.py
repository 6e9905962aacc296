"""The scalar that drives a tooth: how large its elastic motion is, and at what stress."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from biomech.mechanics.poses import Array, apply

CONCENTRATION = 3.2
"""Published stress over the stress of an even bed of springs (force over K/kn). It gives the standard upper canine an
effective area of 44.5 mm2, the one behind the published pairs of force and stress (44 to 45 mm2, derived; Iwasaki
2000 AJODO 117:175, abstract only); other teeth get theirs in proportion to their springs."""


@dataclass(frozen=True)
class Levers:
    """Of T teeth: `metric` (T, 6, 6), with which a motion q has the size u = sqrt(q^T metric q) mm; `area` (T,) mm2.

    The metric is the unloaded stiffness over its mesiodistal entry, so that u is the displacement in a mesiodistal
    translation and the elastic energy makes all motions alike. The stress is work q . wrench over u times the area:
    force over area in any translation.
    """

    metric: Array
    area: Array
    stiffness: Array

    @staticmethod
    def of(stiffness: Array, normal_moduli: Sequence[float]) -> Levers:
        """Return the levers of teeth with stiffnesses (T, 6, 6), mesiodistal first, and moduli kn (T,) N/mm3."""
        along = np.asarray(stiffness)[:, 0, 0]
        area = along / np.asarray(normal_moduli, dtype=float) / CONCENTRATION
        return Levers(np.asarray(stiffness) / along[:, None, None], area, along)

    def size(self, q: Array) -> Array:
        """Return the size u (..., T), mm, of motions q (..., T, 6)."""
        square = (q * apply(self.metric, q)).sum(axis=-1)
        return np.asarray(np.sqrt(np.maximum(square, 0.0)))

    def stress(self, q: Array, wrench: Array) -> Array:
        """Return the stress (..., T), kPa, for motions q (..., T, 6) and their wrenches (..., T, 6)."""
        size = self.size(q)
        work = np.einsum("...i,...i", q, wrench)
        safe = np.where(size > 0.0, size, 1.0)
        return np.asarray(np.where(size > 0.0, 1e3 * work / (safe * self.area), 0.0))
