"""Teeth set up along a bracket line so that a wire lying on that line is passive in every slot.

The slot of each tooth lies on the line, level and along it; the tooth stands where its bracket carries it,
with its long axis inclined and angulated. Teeth touch: the distance between the middles of neighbouring
crowns is the mean of their widths.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from biomech.archform import Curve
from biomech.errors import InputError
from biomech.mechanics.poses import Array, Pose, apply, rotation_exp
from biomech.tooth.anatomy import anatomy, check_number, jaw_sign, side_sign
from biomech.tooth.model import Tooth

STAND_OFF = 1.0
"""Bottom of the slot from the facial surface of the tooth, mm. Common practice, no source."""
IN_OUT = {"U2": 0.55}
"""What is added to the stand-off by kind of tooth, mm: the inset of upper laterals against centrals, published
as 0.55 mm (seen in one prescription); other teeth 0."""
OVERLAP = 1.5
"""Overlap of neighbouring crowns (mm) beyond which a set-up is refused: what severe crowding reaches."""
SPACED_OVERLAP = 3.5
"""The same with a constant spacing, which ignores the widths of the teeth on purpose."""

INCLINATIONS = {
    "U1": 30.0, "U2": 27.0, "U3": 15.0, "U4": 5.0, "U5": 7.0, "U6": 9.4, "U7": 15.7,
    "L1": 22.0, "L2": 20.0, "L3": 8.0, "L4": -6.0, "L5": -10.0, "L6": -14.1, "L7": -15.2,
}  # fmt: skip
"""Buccal crown inclination of the long axis to the normal of the occlusal plane, degrees, by kind.

U6, L6: 9.42 and 14.07 degrees in adults (doi 10.25301/JPDA.321.4, abstract only); U7, L7: 15.7, 15.2
(doi 10.3390/jcm11226629, abstract only); U1: 90 less a norm above 58.3 (J Orofac Orthop 2018, abstract only).
The rest from memory or interpolated.
"""
ANGULATIONS = {
    "U1": 5.0, "U2": 9.0, "U3": 11.0, "U4": 2.0, "U5": 2.0, "U6": 5.0, "U7": 5.0,
    "L1": 2.0, "L2": 2.0, "L3": 5.0, "L4": 2.0, "L5": 2.0, "L6": 2.0, "L7": 2.0,
}  # fmt: skip
"""Mesial crown angulation of the long axis, degrees, by kind: the tips of a common prescription (from memory)."""

_LIMITS = {"inclination": 60.0, "angulation": 45.0, "in_out": 4.0}


@dataclass(frozen=True, eq=False)
class Placement:
    """One tooth in its place: `tooth`; `s`, arc length of its slot on the bracket line (mm); global poses."""

    tooth: Tooth
    s: float
    pose: Pose
    slot: Pose

    @property
    def number(self) -> int:
        """ISO 3950 number."""
        return self.tooth.number

    @property
    def slot_in_tooth(self) -> Pose:
        """Pose of the passive slot in the tooth frame."""
        return self.pose.inverse() @ self.slot


def arch_order(numbers: Sequence[int]) -> tuple[int, ...]:
    """Return tooth numbers of one jaw from the patient's right end to the left.

    None, two the same, or teeth of both jaws raise InputError.
    """
    if len(numbers) == 0:
        raise InputError("no teeth given; allowed: at least one tooth number")
    twice = {n for n in numbers if list(numbers).count(n) > 1}
    if twice:
        raise InputError(f"tooth {min(twice)} is given twice; allowed: every tooth once")
    if len({jaw_sign(n) for n in numbers}) > 1:
        raise InputError(f"teeth {list(numbers)} are of both jaws; allowed: teeth of one jaw")
    return tuple(sorted(numbers, key=_place))


def set_up(
    curve: Curve,
    teeth: Sequence[Tooth],
    *,
    height: float = 0.0,
    spacing: float | None = None,
    crowding: float = 0.0,
    inclinations: Mapping[int, float] | None = None,
    angulations: Mapping[int, float] | None = None,
    in_out: Mapping[int, float] | None = None,
    stand_off: float = STAND_OFF,
) -> tuple[Placement, ...]:
    """Return the placements of `teeth` (one jaw, any order) along the bracket line `curve`, right to left.

    The line lies at z = `height`. Absent teeth between those given, and towards the midline, leave their
    space. `spacing`: constant distance between slots along the line (mm) instead of contacts. `crowding`: by
    how much the arch is short of room (mm), shared evenly by the contacts of the whole row; negative leaves
    gaps. By tooth number, replacing the tables of this module: `inclinations` (rad, buccal crown),
    `angulations` (rad, mesial crown), `in_out` (mm, added to `stand_off`). Raises InputError for overlapping
    teeth, naming both, for wrong numbers, and for values out of range.
    """
    order = arch_order([tooth.number for tooth in teeth])
    by_number = {tooth.number: tooth for tooth in teeth}
    _check_room(spacing, crowding, stand_off)
    insets = {n: stand_off + _value("in_out", n, in_out, _default_in_out) for n in order}
    lean = {n: _value("inclination", n, inclinations, _default_inclination) for n in order}
    tip = {n: _value("angulation", n, angulations, _default_angulation) for n in order}
    row = _row(order, by_number, stand_off)
    stations = _spaced(row, spacing) if spacing is not None else _touching(curve, row, crowding)
    _refuse_overlap(curve, order, row, stations, OVERLAP if spacing is None else SPACED_OVERLAP)
    return tuple(
        _placed(curve, by_number[n], stations[n], height, insets[n], lean[n], tip[n]) for n in order
    )


@dataclass(frozen=True)
class _Member:
    """A tooth of the row, given or absent: its width, and its middle's distance inward of the line, mm."""

    width: float
    depth: float


def _row(order: tuple[int, ...], teeth: Mapping[int, Tooth], stand_off: float) -> dict[int, _Member]:
    """Return all teeth from the outermost given ones to the midline, the absent ones from the handbook."""
    row = {}
    for quadrant in sorted({n // 10 for n in order}):
        for position in range(1, max(n % 10 for n in order if n // 10 == quadrant) + 1):
            number = 10 * quadrant + position
            inset = stand_off + _default_in_out(number)
            if number in teeth:
                tooth = teeth[number]
                row[number] = _Member(tooth.width, inset + float(tooth.landmark("bracket")[1]))
            else:
                shape = anatomy(number)
                row[number] = _Member(shape.md_crown, inset + 0.5 * shape.bl_crown)
    return {n: row[n] for n in sorted(row, key=_place)}


def _spaced(row: Mapping[int, _Member], spacing: float) -> dict[int, float]:
    """Return arc lengths at a constant spacing, the midline half-way between the central incisors."""
    return {n: spacing * (_place(n) - np.sign(_place(n)) * 0.5) for n in row}


def _touching(curve: Curve, row: Mapping[int, _Member], crowding: float) -> dict[int, float]:
    """Return arc lengths (mm) at which the middles of neighbours are their mean width apart."""
    share = crowding / max(len(row) - 1, 1)
    stations: dict[int, float] = {}
    for way in (-1, 1):
        side = sorted((n for n in row if np.sign(_place(n)) == way), key=lambda n: n % 10)
        for inner, number in zip([None, *side], side, strict=False):
            width, depth = row[number].width, row[number].depth
            if inner is None:
                # the midline contact: this tooth and its mirror image would touch on the curve's midline
                gap = _pair_distance(curve, way, depth)
                start, reach = 0.0, width - share
            else:
                gap = _distance(curve, stations[inner], row[inner].depth, way, depth)
                start, reach = abs(stations[inner]), 0.5 * (row[inner].width + width) - share
            stations[number] = way * _solve(gap, start, reach, number)
    return stations


def _pair_distance(curve: Curve, way: int, depth: float) -> Callable[[float], float]:
    return lambda s: float(np.linalg.norm(_middle(curve, way * s, depth) - _middle(curve, -way * s, depth)))


def _distance(curve: Curve, at: float, inner: float, way: int, depth: float) -> Callable[[float], float]:
    origin = _middle(curve, at, inner)
    return lambda s: float(np.linalg.norm(_middle(curve, way * s, depth) - origin))


def _middle(curve: Curve, s: float, depth: float) -> Array:
    """Return the point (2,) `depth` mm inward of the curve at `s`."""
    t = curve.tangent(s)
    return np.asarray(curve.point(s) - depth * np.array([-t[1], t[0]]))


def _solve(gap: Callable[[float], float], start: float, reach: float, number: int) -> float:
    """Return the first arc length beyond `start` at which `gap` equals `reach`."""
    from scipy.optimize import brentq

    low, step = start, 0.25 * max(reach, 1.0)
    while gap(low + step) < reach:
        low += step
        if low - start > 20.0 * max(reach, 1.0):
            raise InputError(
                f"tooth {number} finds no place on the bracket line; its curvature is too strong for the "
                "depth of the teeth: give the arch more width or depth"
            )
    if gap(low) > reach:
        return low
    return float(brentq(lambda s: gap(s) - reach, low, low + step, xtol=1e-12))


def _refuse_overlap(
    curve: Curve, order: tuple[int, ...], row: Mapping[int, _Member], at: Mapping[int, float], limit: float
) -> None:
    """Raise InputError when two neighbours overlap by more than `limit` mm."""
    middles = {n: _middle(curve, at[n], row[n].depth) for n in order}
    for a, b in pairwise(order):
        touching = 0.5 * (row[a].width + row[b].width)
        over = touching - float(np.linalg.norm(middles[a] - middles[b]))
        if over > limit or at[b] <= at[a]:
            raise InputError(f"teeth {a} and {b} overlap by {over:.2f} mm; allowed: up to {limit:g} mm. "
                             "Give the arch more width or depth, more spacing or less crowding")  # fmt: skip


def _placed(
    curve: Curve, tooth: Tooth, s: float, height: float, inset: float, lean: float, tip: float
) -> Placement:
    """Return the placement of one tooth with its slot at `s`."""
    slot = Pose(*curve.frames(s, height))
    side, jaw = tooth.side_sign, tooth.jaw_sign
    # the inclination is seen in the plane of the angulated axis, so it turns first
    local = rotation_exp(np.array([0.0, -side * jaw * tip, 0.0])) @ rotation_exp(
        np.array([jaw * lean, 0.0, 0.0])
    )
    rotation = slot.rotation @ local
    base = slot.point(np.array([0.0, -inset, 0.0]))
    return Placement(tooth, s, Pose(rotation, base - apply(rotation, tooth.landmark("bracket"))), slot)


def _place(number: int) -> int:
    """Return the place along the arch: negative on the patient's right, no zero."""
    return -side_sign(check_number(number)) * (number % 10)


def _default_in_out(number: int) -> float:
    return IN_OUT.get(anatomy(number).kind, 0.0)


def _default_inclination(number: int) -> float:
    return float(np.radians(INCLINATIONS[anatomy(number).kind]))


def _default_angulation(number: int) -> float:
    return float(np.radians(ANGULATIONS[anatomy(number).kind]))


def _value(
    key: str, number: int, given: Mapping[int, float] | None, default: Callable[[int], float]
) -> float:
    """Return the given or default value of `key` for a tooth, within its limits."""
    value = default(number) if given is None or number not in given else float(given[number])
    limit = _LIMITS[key]
    shown, unit = (value, "mm") if key == "in_out" else (float(np.degrees(value)), "deg")
    if not abs(shown) <= limit:
        raise InputError(f"tooth {number}: {key} = {shown:g} {unit} cannot be used; "
                         f"allowed: -{limit:g} to {limit:g} {unit}")  # fmt: skip
    return value


def _check_room(spacing: float | None, crowding: float, stand_off: float) -> None:
    if spacing is not None and not 1.0 <= spacing <= 30.0:
        raise InputError(f"spacing = {spacing!r} mm cannot be used; allowed: 1 to 30 mm")
    if not abs(crowding) <= 30.0:
        raise InputError(f"crowding = {crowding!r} mm cannot be used; allowed: -30 to 30 mm")
    if spacing is not None and crowding != 0.0:
        raise InputError(f"crowding = {crowding:g} mm cannot be used together with a constant spacing")
    if not 0.0 <= stand_off <= 5.0:
        raise InputError(f"stand_off = {stand_off!r} mm cannot be used; allowed: 0 to 5 mm")
