"""Teeth set up along a bracket line so that a wire lying on that line is passive in every slot.

The slot of each tooth lies on the line, level and along it; the tooth stands where its bracket carries it,
with its long axis inclined and angulated. Teeth touch: seen from above, the distance between the long axes of
neighbours at the height of their contacts is the mean of their widths.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from biomech.archform import Curve
from biomech.errors import InputError
from biomech.mechanics.poses import Array, Pose, rotation_exp
from biomech.tooth.anatomy import anatomy, check_number, jaw_sign, side_sign
from biomech.tooth.axes import long_axis
from biomech.tooth.model import Tooth, make_tooth

STAND_OFF = 1.0
"""Bottom of the slot from the facial surface of the tooth, mm. Common practice, no source."""
IN_OUT = {"U2": 0.55}
"""What is added to the stand-off by kind of tooth, mm: upper laterals stand 0.55 mm inward of the centrals
(published for one prescription, seen); other teeth 0."""
BEYOND = 12.0
"""How far (mm) beyond the ends of the curve, on its straight continuation, a slot may lie. A convention."""
CONTACT = 0.75
"""Height of the contacts, share of the crown's length from the cemento-enamel junction. From memory."""
OVERLAP = 1.5
"""Overlap of neighbouring crowns (mm) beyond which a set-up is refused: what severe crowding reaches."""
SPACED_OVERLAP = 3.5
"""The same with a constant spacing, which ignores the widths of the teeth on purpose."""

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
    teeth: Mapping[int, Tooth],
    *,
    height: float = 0.0,
    spacing: float | None = None,
    crowding: float = 0.0,
    inclinations: Mapping[int, float] | None = None,
    angulations: Mapping[int, float] | None = None,
    in_out: Mapping[int, float] | None = None,
    stand_off: float = STAND_OFF,
) -> dict[int, Placement]:
    """Return the placements of `teeth` (of one jaw, by number) along the bracket line `curve`, right to left.

    The line lies at z = `height`. Absent teeth between those given, and towards the midline, leave their
    space. `crowding`: by how much the arch is short of room (mm), shared evenly by the contacts of the whole
    row; negative leaves gaps. `spacing`: constant distance (mm) along the line between the slots of the given
    teeth instead, the midline half-way between the sides. By tooth number, replacing the usual values:
    `inclinations` (rad, buccal crown), `angulations` (rad, mesial crown), `in_out` (mm, adds to `stand_off`).
    Raises InputError for overlapping teeth, naming both, for wrong numbers, and for values out of range.
    """
    order = arch_order(list(teeth))
    _check_room(spacing, crowding, stand_off, height)
    _check_keys(order, inclinations=inclinations, angulations=angulations, in_out=in_out)
    row = {}
    for n in _whole_row(order) if spacing is None else order:
        inset = stand_off + _value("in_out", n, in_out, _default_in_out)
        lean = _value("inclination", n, inclinations, _default_inclination)
        tip = _value("angulation", n, angulations, _default_angulation)
        row[n] = _member(teeth[n] if n in teeth else make_tooth(n), inset, lean, tip)
    stations = _spaced(row, spacing) if spacing is not None else _touching(curve, row, crowding)
    _refuse_beyond(curve, order, stations)
    _refuse_overlap(curve, order, row, stations, OVERLAP if spacing is None else SPACED_OVERLAP)
    return {n: _placed(curve, row[n], stations[n], height) for n in order}


@dataclass(frozen=True, eq=False)
class _Member:
    """A tooth of the row, given or absent; its pose and its `contact` (2,) in the frame of its slot."""

    tooth: Tooth
    in_slot: Pose
    contact: Array


def _member(tooth: Tooth, inset: float, lean: float, tip: float) -> _Member:
    """Return the tooth as it stands behind its slot, its bracket `inset` mm inward of it."""
    side, jaw = tooth.side_sign, tooth.jaw_sign
    # the inclination is seen in the plane of the angulated axis, so it turns first
    tilt = rotation_exp(np.array([0.0, -side * jaw * tip, 0.0]))
    rotation = tilt @ rotation_exp(np.array([jaw * lean, 0.0, 0.0]))
    base = np.array([0.0, -inset, 0.0])
    in_slot = Pose(rotation, base - rotation @ tooth.landmark("bracket"))
    contact = np.array([0.0, 0.0, -jaw * CONTACT * tooth.crown_length])
    return _Member(tooth, in_slot, in_slot.point(contact)[:2])


def _whole_row(order: tuple[int, ...]) -> list[int]:
    """Return the numbers of all teeth from the outermost given ones to the midline, right to left."""
    row = []
    for quadrant in {n // 10 for n in order}:
        last = max(n % 10 for n in order if n // 10 == quadrant)
        row += [10 * quadrant + position for position in range(1, last + 1)]
    return sorted(row, key=_place)


def _spaced(row: Mapping[int, _Member], spacing: float) -> dict[int, float]:
    """Return arc lengths at a constant spacing, the midline half-way between the sides."""
    right = sum(_place(n) < 0 for n in row)
    return {n: spacing * (i - right + 0.5) for i, n in enumerate(row)}


def _touching(curve: Curve, row: Mapping[int, _Member], crowding: float) -> dict[int, float]:
    """Return arc lengths (mm) at which the contacts of neighbours are their mean width apart."""
    share = crowding / max(len(row) - 1, 1)
    stations: dict[int, float] = {}
    for way in (-1, 1):
        side = sorted((n for n in row if np.sign(_place(n)) == way), key=lambda n: n % 10)
        for inner, number in zip([None, *side], side, strict=False):
            here = row[number]
            if inner is None:
                # the first tooth touches its own mirror image on the midline
                gap, start, reach = _pair_distance(curve, way, here.contact), 0.0, here.tooth.width - share
            else:
                before = row[inner]
                gap = _distance(curve, _middle(curve, stations[inner], before.contact), way, here.contact)
                start, reach = abs(stations[inner]), 0.5 * (before.tooth.width + here.tooth.width) - share
            stations[number] = way * _solve(gap, start, reach, number)
    return stations


def _pair_distance(curve: Curve, way: int, contact: Array) -> Callable[[float], float]:
    image = contact * np.array([-1.0, 1.0])

    def gap(s: float) -> float:
        return float(np.linalg.norm(_middle(curve, way * s, contact) - _middle(curve, -way * s, image)))

    return gap


def _distance(curve: Curve, origin: Array, way: int, contact: Array) -> Callable[[float], float]:
    return lambda s: float(np.linalg.norm(_middle(curve, way * s, contact) - origin))


def _middle(curve: Curve, s: float, contact: Array) -> Array:
    """Return the point (2,) that lies at `contact` (along, outward) of the slot at `s`."""
    t = curve.tangent(s)
    return np.asarray(curve.point(s) + contact[0] * t + contact[1] * np.array([-t[1], t[0]]))


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


def _refuse_beyond(curve: Curve, order: tuple[int, ...], at: Mapping[int, float]) -> None:
    """Raise InputError when a tooth stands far out on the straight continuation of the curve."""
    for n in order:
        over = max(at[n] - curve.length_left, -at[n] - curve.length_right)
        if over > BEYOND:
            raise InputError(f"tooth {n} would stand {over:.1f} mm beyond the end of the bracket line; "
                             f"allowed: up to {BEYOND:g} mm. Give the arch more width or depth")  # fmt: skip


def _refuse_overlap(
    curve: Curve, order: tuple[int, ...], row: Mapping[int, _Member], at: Mapping[int, float], limit: float
) -> None:
    """Raise InputError when two neighbours overlap by more than `limit` mm."""
    middles = {n: _middle(curve, at[n], row[n].contact) for n in order}
    for a, b in pairwise(order):
        touching = 0.5 * (row[a].tooth.width + row[b].tooth.width)
        over = touching - float(np.linalg.norm(middles[a] - middles[b]))
        if over > limit or at[b] <= at[a]:
            raise InputError(f"teeth {a} and {b} overlap by {over:.2f} mm; allowed: up to {limit:g} mm. "
                             "Give the arch more width or depth, more spacing or less crowding")  # fmt: skip


def _placed(curve: Curve, member: _Member, s: float, height: float) -> Placement:
    """Return the placement of one tooth with its slot at `s`."""
    slot = Pose(*curve.frames(s, height))
    return Placement(member.tooth, s, slot @ member.in_slot, slot)


def _place(number: int) -> int:
    """Return the place along the arch: negative on the patient's right, no zero."""
    return -side_sign(check_number(number)) * (number % 10)


def _default_in_out(number: int) -> float:
    return IN_OUT.get(anatomy(number).kind, 0.0)


def _default_inclination(number: int) -> float:
    return float(np.radians(long_axis(number).inclination))


def _default_angulation(number: int) -> float:
    return float(np.radians(long_axis(number).angulation))


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


def _check_keys(order: tuple[int, ...], **given: Mapping[int, float] | None) -> None:
    for key, values in given.items():
        for number in values or {}:
            if number not in order:
                raise InputError(f"{key} of tooth {number}: no such tooth; allowed: {list(order)}")


def _check_room(spacing: float | None, crowding: float, stand_off: float, height: float) -> None:
    if not abs(height) <= 100.0:
        raise InputError(f"height = {height!r} mm cannot be used; allowed: -100 to 100 mm")
    if spacing is not None and not 1.0 <= spacing <= 30.0:
        raise InputError(f"spacing = {spacing!r} mm cannot be used; allowed: 1 to 30 mm")
    if not abs(crowding) <= 30.0:
        raise InputError(f"crowding = {crowding!r} mm cannot be used; allowed: -30 to 30 mm")
    if spacing is not None and crowding != 0.0:
        raise InputError(f"crowding = {crowding:g} mm cannot be used together with a constant spacing")
    if not 0.0 <= stand_off <= 5.0:
        raise InputError(f"stand_off = {stand_off!r} mm cannot be used; allowed: 0 to 5 mm")
