"""What courses under different prescriptions mean beside the play of the wire and the published finding."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from biomech.studies.compare_courses import CourseComparison
from biomech.studies.prescriptions import FINDING, KEY, resting
from biomech.studies.stops import name_of

SPREAD = 4.0
"""Standard deviation of the inclination of upper centrals between people, deg: 3.97 in 120 untreated arches of good
occlusion (Andrews 1989, from memory)."""
VISIBLE = 0.909 * SPREAD
"""Difference (deg) that 20 and 20 patients show with a chance of four in five: 0.909 standard deviations, two-sided t
test at 5 % (derived)."""
LEVELLED = 0.9
"""Share of the difference between slots from which on teeth count as levelled in them. A convention."""
NOTICED = 0.5
"""Tilt of the whole arch, deg, from which it is worth a sentence. A convention."""
WHY = (
    "Why that may be: the rate law is a mean of patients, whose speeds spread nine to one; slots are rigid and have "
    "the play of their stated sizes, while measured play is larger (0.019 x 0.025 in wires in 0.022 in slots: 7.5 to "
    "14 deg, review PMC8978750, abstract only); no opposing teeth, lips or tongue act; and one set of teeth stands for "
    "twenty patients"
)
"""What the model leaves out that would keep prescriptions apart from each other less than it does."""
ENDLESS = "; the rate law knows no least stress, so that in time the smallest moment levels a slot"
"""What adds to it where no least stress is given."""


@dataclass(frozen=True)
class Pair:
    """Two variants at the incisor where they differ most: by how much (deg) teeth and slots differ.

    `tilt` (deg) is the part of it by which the whole arch tilts more in one than in the other, None without teeth
    that show it.
    """

    one: str
    other: str
    tooth: int
    teeth: float
    slots: float
    tilt: float | None

    @property
    def share(self) -> float | None:
        """Share of the difference between the slots that has come about in the wire; None where they do not differ."""
        return (self.teeth - (self.tilt or 0.0)) / self.slots if self.slots else None


def prescription_sentences(found: CourseComparison) -> Iterator[str]:
    """Yield, where prescriptions are compared, what every pair differs by at the incisors, and what patients show."""
    incisors = [n for n in found.common if n % 10 in (1, 2)]
    if found.keys != (KEY,) or not incisors:
        return
    pairs = pairs_of(found, incisors)
    yield _slots(found, pairs[-1].tooth)
    yield _apart(found, pairs)
    yield from _tilted(found, pairs)
    yield from _play(found, pairs)
    yield from _patients(pairs, _least(found))


def pairs_of(found: CourseComparison, incisors: Sequence[int]) -> list[Pair]:
    """Return all pairs of variants, in order, at the incisor whose inclinations differ most on the last common day."""
    tilts = [tilt(found, i) for i in range(len(found.labels))]
    out = []
    for i, j in combinations(range(len(found.labels)), 2):
        # turned with the crown outward: torque counts the root, slots and tilt count the crown
        amounts = {n: -(found.final(f"teeth.{n}.turn_deg.torque").difference(j, i) or 0.0) for n in incisors}
        most = max(abs(a) for a in amounts.values())
        tooth = next(n for n in incisors if abs(amounts[n]) >= 0.99 * most)  # a fellow must not win by errors of steps
        way = -1.0 if amounts[tooth] < 0 else 1.0
        one, other = found.labels[i], found.labels[j]
        slots = resting(other, tooth, 0.0)[0] - resting(one, tooth, 0.0)[0]
        first, second = tilts[i], tilts[j]
        leans = None if first is None or second is None else way * (second - first)
        out.append(Pair(one, other, tooth, most, way * slots, leans))
    return out


def tilt(found: CourseComparison, i: int) -> float | None:
    """Return by how much the premolars and molars of a variant tip mesially on average, deg; None without any.

    An arch that tilts as a whole with its wire tips these and turns the incisors by about as much.
    """
    paths = [f"teeth.{n}.turn_deg.tip" for n in found.common if n % 10 > 3]
    tips = [v for path in paths if isinstance(v := found.final(path).values[i], float)]
    return sum(tips) / len(tips) if tips else None


def _slots(found: CourseComparison, tooth: int) -> str:
    texts = ", ".join(f"{resting(label, tooth, 0.0)[0]:+.0f} ({label})" for label in found.labels)
    return f"Torque of the slots at {tooth}, deg: {texts}."


def _apart(found: CourseComparison, pairs: Sequence[Pair]) -> str:
    texts = [f"{p.teeth:.1f} between {p.one} and {p.other} (at {p.tooth}, slots {abs(p.slots):g})" for p in pairs]
    return f"After {name_of(found.last)} the inclinations of the incisors differ at most, deg: {', '.join(texts)}."


def _tilted(found: CourseComparison, pairs: Sequence[Pair]) -> Iterator[str]:
    """Say how the arch as a whole has tilted, where that adds to the differences."""
    tilts = [tilt(found, i) for i in range(len(found.labels))]
    if all(p.tilt is None or abs(p.tilt) < NOTICED for p in pairs):
        return
    each = ", ".join(f"{t:+.1f} ({label})" for t, label in zip(tilts, found.labels, strict=True) if t is not None)
    rest = ", ".join(f"{p.teeth - (p.tilt or 0.0):.1f} between {p.one} and {p.other}" for p in pairs)
    yield (
        f"The wire has tilted, and the arch with it: premolars and molars tip on average, deg, + mesially: {each}. "
        f"Incisors turn with it; without it they differ by about {rest}."
    )


def _play(found: CourseComparison, pairs: Sequence[Pair]) -> Iterator[str]:
    """Say what became of the slots' play in this run."""
    plays = [play for course in found.courses for play in course.play.values()]
    shares = {p: p.share for p in pairs if p.share is not None}
    if not plays or not shares:
        return
    begin = f"A wire at rest may stand in these slots turned by up to {max(plays):.1f} deg each way"
    if min(shares.values()) >= LEVELLED:
        if _least(found):
            yield f"{begin}. Nothing of that is left: moments above the least stress have levelled the slots."
            return
        seats = ", such as that of ligatures that press the wire flat into its slot," if _seated(found) else ""
        yield (
            f"{begin}. Nothing of that is left: under this rate law even the smallest moment{seats} goes on turning a "
            "tooth until its slot is level with the wire."
        )
        return
    kept = [f"{max(0.0, abs(p.slots) * (1 - s)):.1f} of {abs(p.slots):g} between {p.one} and {p.other}"
            for p, s in shares.items()]  # fmt: skip
    yield f"{begin}; of the differences between slots that play still keeps, deg: {', '.join(kept)}."


def _seated(found: CourseComparison) -> bool:
    """Return whether ligatures press a wire into slots in every variant, as the courses begin."""
    return all(
        any(hold.by == "slot" and hold.ligature != "none" for wire in v.scenario.wire.values() for hold in wire.hold)
        for v in found.variants
    )


def _least(found: CourseComparison) -> bool:
    """Return whether the rate laws of all variants know a least stress."""
    courses = [v.scenario.course for v in found.variants]
    return all(course is not None and course.values.get("least", 0.0) > 0.0 for course in courses)


def _patients(pairs: Sequence[Pair], least: bool) -> Iterator[str]:
    """Set B against C beside the published finding; say plainly where the run disagrees with it, and why it may."""
    pair = next((p for p in pairs if {p.one, p.other} == {"B", "C"}), None)
    if pair is None:
        return
    yield f"Plausibility, not validation: {FINDING}."
    such = (
        f"so many cases show {VISIBLE:.1f} deg with a chance of four in five (derived; people differ by {SPREAD:g} "
        "deg, from memory)"
    )
    if pair.teeth <= VISIBLE:
        yield f"This run does not contradict it: B and C end {pair.teeth:.1f} deg apart, and {such}."
        return
    why = WHY if least else WHY + ENDLESS
    yield (
        f"This run disagrees with patients: B and C end {pair.teeth:.1f} deg apart, and {such}. {why}. Read the angles "
        "as upper limits."
    )
