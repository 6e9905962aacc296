"""Where the tooth turns in the buccolingual plane, and what that movement is called."""

from __future__ import annotations

import numpy as np

from biomech.outputs import ToothView, Value, add
from biomech.tooth.kinds import Levels, Sideways, apex_to_crown, centre_depth, classify, crown_tells, sideways

TINY = 1e-9
"""Displacement below which there is no ratio, mm."""


def _move(view: ToothView) -> tuple[Sideways, Levels] | None:
    if view.levels is None:
        return None
    return sideways(view.motion, view.levels, view.jaw), view.levels


@add("long_axis_mm", "buccal displacement of the long axis at crown edge and apex", "mm")
def long_axis(view: ToothView) -> Value:
    """Return the buccal displacement of the long axis at the depths of edge and apex: free of rotation about it."""
    found = _move(view)
    return None if found is None else {"crown": found[0].crown, "apex": found[0].apex}


@add("apex_to_crown", "apex over crown displacement of the long axis, buccolingual", "1")
def ratio(view: ToothView) -> Value:
    """Return apex over crown displacement along the long axis: 1 translation, 0 about the apex.

    None unmoved, and where the crown rests while its root goes (see tooth.kinds.crown_tells).
    """
    found = _move(view)
    if found is None or abs(found[0].crown) < TINY or not crown_tells(found[0].crown, found[0].apex):
        return None
    return apex_to_crown(found[0])


@add("rotation_centre_depth_mm", "centre of rotation below the crest, buccolingual", "mm")
def depth(view: ToothView) -> Value:
    """Return the depth of the rotation centre apical of the alveolar crest; None in translation or unmoved."""
    found = _move(view)
    if found is None:
        return None
    value = centre_depth(*found) - view.part.tooth.bone_level
    return float(value) if np.isfinite(value) else None


@add("resistance_depth_mm", "centre of resistance below the crest, buccolingual", "mm")
def resistance(view: ToothView) -> Value:
    """Return the depth of the centre of resistance apical of the alveolar crest."""
    return None if view.levels is None else view.levels.resistance - view.part.tooth.bone_level


@add("movement", "kind of movement of the long axis, buccolingual", "")
def kind(view: ToothView) -> Value:
    """Return the name of the movement by the place of its rotation centre (see tooth.kinds)."""
    found = _move(view)
    return "held" if found is None else classify(*found)
