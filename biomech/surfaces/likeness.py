"""Whether a surface can be the tooth it is said to be: its long axis, its width, the number of its roots."""

from __future__ import annotations

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.tooth.anatomy import Anatomy

OFF_AXIS = 60.0
"""Degrees from the axis about which the volume turns most easily beyond which a long axis is refused. A convention:
on the generated example teeth the two are within 4."""
WIDTHS = (0.6, 1.6)
"""Mesiodistal width of a crown over the handbook's that is taken; measured crowns scatter by a tenth (common practice,
no source)."""
TURNED = 60.0
"""Degrees about the long axis by which roots may lie otherwise than the handbook's before it is said. A convention."""
FRONT, MOST = 3, 2
"""Incisors and canines, by their place from the midline, and the most roots one of them may have."""


def check_axis(way: Array, slimmest: Array) -> None:
    """Raise InputError when the long axis `way` runs across the tooth; unit vectors (3,)."""
    off = float(np.degrees(np.arccos(np.clip(abs(float(way @ slimmest)), 0.0, 1.0))))
    if off > OFF_AXIS:
        at = ", ".join(f"{x + 0.0:.3f}" for x in np.round(slimmest, 6))
        raise InputError(
            f"long_axis runs across the tooth: {off:.0f} deg from the axis about which its volume turns most easily, "
            f"({at}) or the other way; allowed: up to {OFF_AXIS:g} deg"
        )


def check_likeness(number: int, shape: Anatomy, width: float, roots: int) -> list[str]:
    """Return a note when the roots are not as many as usual; `width` mm of the crown, mesiodistal.

    Raises InputError for a width or a number of roots that tooth `number` does not have.
    """
    low, high = (share * shape.md_crown for share in WIDTHS)
    if not low <= width <= high:
        raise InputError(
            f"its crown is {width:.1f} mm wide mesiodistally; allowed for tooth {number}: {low:.1f} to {high:.1f} mm "
            f"(handbook: {shape.md_crown:g} mm). Are the number of the tooth, its axis and its buccal side right?"
        )
    usual = max(1, len(shape.roots))  # the handbook lists parts only where there are several
    if number % 10 <= FRONT and roots > MOST:
        raise InputError(
            f"it has {roots} roots; allowed for tooth {number}: up to {MOST} (handbook: {usual}). Is the number right?"
        )
    if roots == usual:
        return []
    return [f"it has {roots} root{'s' * (roots != 1)}, tooth {number} usually {usual}: is its number right?"]


def check_sides(shape: Anatomy, apices: Array) -> list[str]:
    """Return a note when the `apices` (R, 2), mesial and buccal, lie turned about the axis against the handbook's.

    Of two roots the line through them is compared, of three the way to the one that stands apart.
    """
    if len(apices) != len(shape.roots) or len(apices) < 2:
        return []
    usual = np.array([[r.centre[0] * shape.md_cervix, r.centre[1] * shape.bl_cervix] for r in shape.roots])
    one, two = (_way(places) for places in (usual, apices))
    cosine = float(one @ two)
    turned = float(np.degrees(np.arccos(np.clip(abs(cosine) if len(apices) == 2 else cosine, -1.0, 1.0))))
    if turned <= TURNED:
        return []
    return [f"its roots lie turned by {turned:.0f} deg against the usual: are its buccal side and its number right?"]


def _way(places: Array) -> Array:
    """Return the direction (2,) from the middle of `places` (R, 2) to the one farthest from it."""
    centred = places - places.mean(axis=0)
    far = centred[int(np.linalg.norm(centred, axis=1).argmax())]
    return np.asarray(far / max(float(np.linalg.norm(far)), 1e-12))
