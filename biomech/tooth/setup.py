"""Teeth set up along the bracket line, slots level and passive on it.

The bracket line is a curve by arc length s (mm, from the midline, negative on the patient's right). Each slot
takes the curve's frame at its s; the tooth hangs on it by the bracket point of its crown, its long axis
inclined about the arch direction a1 and then angulated about its own facial axis a2.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array, Pose, apply, rotation_exp
from biomech.tooth.anatomy import anatomy, jaw_sign, side_sign
from biomech.tooth.axes import long_axis
from biomech.tooth.motion import turn_signs

STAND_OFF = 1.0
"""Usual distance of the slot's centre from the facial surface, mm (common practice, no source)."""
OVERLAP = 2.0
"""Overlap, mm, of two neighbours along the bracket line up to which they count as crowded; more is an error.
A convention: it lies between what crowding of 5 to 10 mm asks of each contact and half a small tooth.
"""
_LEAN = 60.0


class BracketLine(Protocol):
    """What is needed of a curve: `frames(s)` gives rotations (..., 3, 3), columns tangent, outward, up, and
    positions (..., 3) in mm; `tangent(s)` unit vectors (..., 2).
    """

    def frames(self, s: Array) -> tuple[Array, Array]: ...  # noqa: D102

    def tangent(self, s: Array) -> Array: ...  # noqa: D102


class PlacedTooth(Protocol):
    """What is needed of a tooth: its mesiodistal `width`, mm, and its landmark "bracket" (3,)."""

    @property
    def width(self) -> float: ...  # noqa: D102

    @property
    def landmarks(self) -> Mapping[str, Array]: ...  # noqa: D102


@dataclass(frozen=True, eq=False)
class Placement:
    """A tooth on the bracket line: `s` of its slot, mm, and the poses of `slot` and `tooth` in the head."""

    number: int
    s: float
    slot: Pose
    tooth: Pose

    @property
    def slot_in_tooth(self) -> Pose:
        """Pose of the slot in the tooth frame."""
        return self.tooth.inverse() @ self.slot


def arch_order(numbers: Sequence[int]) -> tuple[int, ...]:
    """Return the numbers from the patient's right to the left, as 17..11, 21..27 or 47..41, 31..37.

    Raises InputError for none, repeated ones, unknown ones or teeth of both jaws.
    """
    if not len(numbers):
        raise InputError("teeth: none given; allowed: one or more ISO 3950 numbers of one jaw")
    if len({jaw_sign(n) for n in numbers}) > 1:
        raise InputError(f"teeth {list(numbers)}: must all be of one jaw")
    ordered = tuple(sorted((int(n) for n in numbers), key=lambda n: -side_sign(n) * (n % 10)))
    twice = [a for a, b in pairwise(ordered) if a == b]
    if twice:
        raise InputError(f"tooth {twice[0]} is given twice; allowed: once")
    return ordered


def set_up(
    curve: BracketLine,
    numbers: Sequence[int],
    teeth: Mapping[int, PlacedTooth],
    *,
    spacing: float | None = None,
    crowding: float = 0.0,
    contact_depth: float = 0.0,
    inclinations: Mapping[int, float] | None = None,
    angulations: Mapping[int, float] | None = None,
    stand_off: float = STAND_OFF,
    overlap: float = OVERLAP,
) -> tuple[Placement, ...]:
    """Return the placements in arch order of the teeth `numbers`, each found in `teeth`. Lengths in mm.

    `spacing`: constant distance of neighbouring slots, centred on the midline, instead of tooth widths;
    otherwise see `stations`, also for `crowding` and `contact_depth`. `inclinations`, `angulations`: degrees
    by tooth, buccal and mesial crown positive, `long_axis` where absent. `stand_off`: slot centre to facial
    surface, along the slot's outward axis. `overlap`: how much of their widths neighbours may share.

    Raises InputError for bad numbers, a missing tooth, values out of range, and for neighbours that overlap
    more than `overlap`, naming both.
    """
    order = arch_order(numbers)
    missing = [n for n in order if n not in teeth]
    if missing:
        raise InputError(f"tooth {missing[0]} is in the arch but has no anatomy")
    _within("stand_off", stand_off, -5.0, 10.0)
    _within("overlap", overlap, 0.0, 20.0)
    widths = {n: float(teeth[n].width) for n in order}
    along = _even(order, spacing) if spacing is not None else _sequential(order, widths, crowding)
    _check_overlap(order, along, widths, overlap)
    s = _from_contacts(curve, along, contact_depth) if spacing is None else along
    rotation, position = curve.frames(s)
    turns = _turns(order, inclinations or {}, angulations or {})
    out = []
    for i, number in enumerate(order):
        slot = Pose(rotation[i], position[i])
        r = slot.rotation @ turns[i]
        bracket = apply(r, teeth[number].landmarks["bracket"])
        out.append(Placement(number, float(s[i]), slot,
                             Pose(r, slot.position - stand_off * slot.rotation[:, 1] - bracket)))  # fmt: skip
    return tuple(out)


def stations(
    curve: BracketLine,
    numbers: Sequence[int],
    widths: Mapping[int, float],
    crowding: float = 0.0,
    contact_depth: float = 0.0,
) -> Array:
    """Return s (n,) of the slots, in arch order, of teeth with mesiodistal `widths`, mm.

    From the midline to either side, centres follow each other at half the sum of neighbouring widths. An
    absent tooth between those given keeps its place with its average width. `crowding`: overlap, mm, shared
    evenly among all contacts between the outermost teeth, negative for spaces. `contact_depth`: distance of
    the line on which these lengths are measured, the line of contacts, behind the bracket line; 0 measures
    them on the bracket line itself, though a slot lies 3 to 6 mm in front of the contacts.
    """
    order = arch_order(numbers)
    return _from_contacts(curve, _sequential(order, dict(widths), crowding), contact_depth)


def _sequential(order: tuple[int, ...], widths: dict[int, float], crowding: float) -> Array:
    """Return positions (n,), mm from the midline, on the line of contacts."""
    _within("crowding", crowding, -60.0, 60.0)
    row = _row(order)
    share = crowding / max(len(row) - 1, 1)
    at = {}
    for side in (1, -1):
        edge = -0.5 * share if len(row) > 1 and {side_sign(n) for n in row} == {1, -1} else 0.0
        for n in (n for n in sorted(row, key=lambda n: n % 10) if side_sign(n) == side):
            width = widths[n] if n in widths else anatomy(n).md_crown
            at[n] = -side * (edge + 0.5 * width)
            edge += width - share
    return np.array([at[n] for n in order])


def _row(order: tuple[int, ...]) -> tuple[int, ...]:
    """Return all numbers from the midline to the outermost tooth of each side."""
    out = []
    for side in (1, -1):
        here = [n for n in order if side_sign(n) == side]
        last = max(here, key=lambda n: n % 10, default=0)
        out += [last - last % 10 + i for i in range(1, last % 10 + 1)]
    return tuple(out)


def _even(order: tuple[int, ...], spacing: float) -> Array:
    _within("spacing", spacing, 0.5, 60.0)
    return np.asarray(spacing * (np.arange(len(order)) - 0.5 * (len(order) - 1)), dtype=np.float64)


def _from_contacts(curve: BracketLine, along: Array, depth: float) -> Array:
    """Return s on the bracket line of positions (n,) on the parallel line `depth` mm inside it."""
    _within("contact_depth", depth, 0.0, 12.0)
    if depth == 0.0:
        return along
    far = float(np.abs(along).max()) * 1.5 + 4.0 * depth
    s = np.linspace(-far, far, 2 * int(np.ceil(8.0 * far)) + 1)
    tangent = curve.tangent(s)
    turned = np.unwrap(np.arctan2(tangent[:, 1], tangent[:, 0]))
    inside = s + depth * (turned - turned[len(s) // 2])
    if np.diff(inside).min() <= 0.0:
        raise InputError(f"contact_depth = {depth:g} mm: must stay below the bracket line's smallest radius")
    from scipy.interpolate import PchipInterpolator

    return np.asarray(PchipInterpolator(inside, s)(along))


def _check_overlap(order: tuple[int, ...], along: Array, widths: dict[int, float], overlap: float) -> None:
    for (a, b), gap in zip(pairwise(order), np.diff(along), strict=True):
        shared = 0.5 * (widths[a] + widths[b]) - gap
        if shared > overlap + 1e-9:
            raise InputError(
                f"teeth {a} and {b} overlap by {shared:.2f} mm (centres {gap:.2f} mm apart, widths "
                f"{widths[a]:g} and {widths[b]:g} mm); allowed: up to {overlap:g} mm"
            )


def _turns(
    order: tuple[int, ...], inclinations: Mapping[int, float], angulations: Mapping[int, float]
) -> Array:
    """Return the rotations (n, 3, 3) of the teeth against their slots."""
    lean = np.zeros((2, len(order), 3))
    for i, n in enumerate(order):
        usual = long_axis(n)
        incline = inclinations.get(n, usual.inclination)
        angle = angulations.get(n, usual.angulation)
        _within(f"tooth {n}: inclination", incline, -_LEAN, _LEAN, "degrees")
        _within(f"tooth {n}: angulation", angle, -_LEAN, _LEAN, "degrees")
        signs = turn_signs(side_sign(n), jaw_sign(n))
        lean[0, i, 0] = -signs[0] * incline  # crown buccally is root lingually
        lean[1, i, 1] = signs[1] * angle
    first, second = rotation_exp(np.radians(lean))
    return np.asarray(first @ second)


def _within(key: str, value: float, low: float, high: float, unit: str = "mm") -> None:
    if not low <= value <= high:
        raise InputError(f"{key} = {value!r} {unit} cannot be used; allowed: {low:g} to {high:g} {unit}")
