"""What a course says over time, without the appliances it was computed with: light enough to go between processes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from biomech.mechanics.poses import Array
from biomech.movement.limits import Flag
from biomech.movement.readings import Reading
from biomech.studies.course import Course, Visit
from biomech.studies.course_files import Measures, measures_before
from biomech.studies.strains import course_warnings
from biomech.studies.warnings import play_of


@dataclass(frozen=True)
class Curves:
    """Readings of a course, its visits and what it passed.

    `legs`: the readings from each visit (the start being the first) to the next; `before` the arch before the wires
    were laid in; `law` name and provenance of the rate law; `play` degrees of torque play each way of every
    rectangular wire in slots, as the course begins; `resumed`: legs that an earlier run had finished; `seconds` it
    took here.
    """

    legs: tuple[tuple[Reading, ...], ...]
    visits: tuple[Visit, ...]
    before: Measures
    law: tuple[str, str]
    play: Mapping[str, float]
    stopped: str | None
    warnings: tuple[str, ...]
    resumed: int
    seconds: float

    @property
    def readings(self) -> tuple[Reading, ...]:
        """Readings of all moments; a visit has two, as found and as left."""
        return tuple(r for leg in self.legs for r in leg)

    @property
    def times(self) -> Array:
        """Days (n,) of all readings."""
        return np.array([r.day for r in self.readings])

    @property
    def teeth(self) -> tuple[int, ...]:
        """The teeth, from the patient's right to the left."""
        return self.legs[0][0].teeth

    @property
    def end(self) -> float:
        """The last day that was reached."""
        return self.legs[-1][-1].day

    @property
    def flags(self) -> tuple[Flag, ...]:
        """All limits passed, in time."""
        return tuple(flag for visit in self.visits for flag in visit.flags)


def curves(course: Course) -> Curves:
    """Return what a course says over time."""
    first = course.legs[0].appliance
    plays = {name: play_of(first, name) for name in first.wires}
    return Curves(
        tuple(leg.readings for leg in course.legs),
        course.visits,
        measures_before(course),
        (course.law.name, course.law.provenance()),
        {name: float(np.degrees(play)) for name, play in plays.items() if play is not None},
        course.stopped,
        course_warnings(course),
        sum(leg.resumed for leg in course.legs),
        course.seconds,
    )
