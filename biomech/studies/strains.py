"""Wires with memory strained so far that they break or may break: in one equilibrium, and over a course."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from biomech.appliance import Appliance, WirePart
from biomech.appliance.inside import inside
from biomech.bench.drive import UNKNOWN
from biomech.mechanics.poses import Array
from biomech.mechanics.states import mapped
from biomech.outputs._holds import nearest_tooth

if TYPE_CHECKING:
    from biomech.studies.course import Course, Leg


class Strained(NamedTuple):
    """The largest axial strain of any fibre of a wire; `tooth` near it, None in the hands, before it is tied in."""

    strain: float
    tooth: int | None


def strained_most(appliance: Appliance, part: WirePart, strain: Array) -> Strained:
    """Return the largest strain of a wire with memory: in the hands, or `strain` (n, 2) as tied in, by Gauss point."""
    assert part.past is not None
    worst = np.unravel_index(int(np.argmax(strain)), strain.shape)
    if part.past.strained > strain[worst]:
        return Strained(part.past.strained, None)
    return Strained(float(strain[worst]), nearest_tooth(appliance, float(part.s[worst[0] + worst[1]])))


def strain_words(name: str, limit: float, most: Strained, when: str = "") -> str | None:
    """Return what to tell of a wire whose alloy breaks at the strain `limit` (infinite: not known); None if nothing.

    Where no strain at break is known, it is doubted from the same strain on as on the bench. `when` in words.
    """
    if most.strain > limit:
        does, known = "would break", f", beyond the {100 * limit:.1f} % at which its alloy does"
    elif math.isinf(limit) and most.strain > UNKNOWN:
        does = "may kink or break"
        known = "; at which strain its alloy breaks is not known to the program, and its curve is assumed there"
    else:
        return None
    where, less = ("in the hands", "Open it less") if most.tooth is None else (
        f"near tooth {most.tooth}{when}", "Activate less at a time"
    )  # fmt: skip
    strain = f"a fibre is strained by {100 * most.strain:.1f} %"
    return f"wire '{name}' {does} {where}: {strain}{known}. {less}, or use a thinner wire"


def course_warnings(course: Course) -> tuple[str, ...]:
    """Return the warnings of a course, those of wires that break or may break first; each wire once, at its worst."""
    worst: dict[tuple[str, float], tuple[Strained, str]] = {}
    for visit, leg in zip(course.visits, course.legs, strict=True):
        for name, part in leg.appliance.wires.items():
            if part.past is not None:
                i, most = _worst(leg, part)
                key = name, part.alloy.strain_limit  # a visit may lay in another wire under the same name
                if key not in worst or most.strain > worst[key][0].strain:
                    worst[key] = most, _when(float(leg.track.times[i]), i, visit.number)
    found = (strain_words(name, limit, most, when) for (name, limit), (most, when) in worst.items())
    return tuple(dict.fromkeys([*(text for text in found if text is not None), *course.warnings]))


def _worst(leg: Leg, part: WirePart) -> tuple[int, Strained]:
    """Return at which moment of a leg a wire is strained most, and by how much."""
    found = [strained_most(leg.appliance, part, strain) for strain in _strains(leg, part)]
    i = max(range(len(found)), key=lambda k: found[k].strain)
    return i, found[i]


def _strains(leg: Leg, part: WirePart) -> Iterator[Array]:
    for i in range(len(leg.track)):
        yield inside(part, [mapped(lambda a, i=i: a[i], group) for group in leg.track.memory]).strain


def _when(day: float, i: int, visit: int) -> str:
    at = f" on day {day:.0f}"
    if i == 0:
        return f"{at}, as visit {visit} leaves it" if visit else " as it is tied in at the start"
    return f"{at}, after visit {visit}" if visit else at
