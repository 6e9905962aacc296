"""What courses under different prescriptions mean beside the play of the wire and the published finding."""

from __future__ import annotations

from collections.abc import Iterator

from biomech.studies.compare_courses import CourseComparison
from biomech.studies.prescriptions import FINDING, KEY, resting
from biomech.studies.stops import name_of


def prescription_sentences(found: CourseComparison) -> Iterator[str]:
    """Yield, where prescriptions are compared, what the slots differ by and what has become of it at the incisors."""
    if found.keys != (KEY,):
        return
    incisors = [n for n in found.common if n % 10 in (1, 2)]
    if not incisors:
        return
    plays = [play for course in found.courses for play in course.play.values()]
    if plays:
        n = incisors[len(incisors) // 2]
        texts = ", ".join(f"{resting(label, n, 0.0)[0]:+.0f} ({label})" for label in found.labels)
        yield (
            f"Torque of the slots at {n}, deg: {texts}; the wire turns in them by {max(plays):.1f} deg each way before "
            "it acts."
        )
    yield from (_turned(found, incisors, i) for i in range(1, len(found.labels)))
    yield (
        "The rate laws know no least stress: in time even the moment of ligatures that seat the wire, below 1 N.mm, "
        "levels slots within their play. Read these angles as upper limits."
    )
    if {"B", "C"} <= set(found.labels):
        yield f"{FINDING}: plausibility, not validation."


def _turned(found: CourseComparison, incisors: list[int], i: int) -> str:
    """Return by how much the incisors' inclinations differ from the reference's."""
    amounts = {n: abs(found.final(f"teeth.{n}.turn_deg.torque").difference(i) or 0.0) for n in incisors}
    worst = max(amounts, key=lambda n: amounts[n])
    one, other = found.labels[i], found.labels[0]
    slots = abs(resting(one, worst, 0.0)[0] - resting(other, worst, 0.0)[0])
    return (
        f"After {name_of(found.last)} the inclinations of the incisors under {one} and {other} differ by up to "
        f"{amounts[worst]:.1f} deg (at {worst}, where the slots differ by {slots:g} deg)."
    )
