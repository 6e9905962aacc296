"""What differs between courses, in plain sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from biomech.errors import InputError
from biomech.outputs._arch import PLACES
from biomech.outputs.limits import Band
from biomech.studies.compare_courses import CourseComparison, fellow, movement_spread
from biomech.studies.course_prescriptions import prescription_sentences
from biomech.studies.phrases import AS_FAR, REST, root
from biomech.studies.record import place_key
from biomech.studies.rows import Row
from biomech.studies.rules import acted
from biomech.studies.sentences import CANINE, named
from biomech.studies.stops import SAME_DAY, name_of

PACE = Band("gain in width between first molars", 0.5, 1.1, "mm/month",
            "straight rectangular beta-titanium wire, 20 patients: 0.8 with standard deviation 0.3 "
            "(doi 10.4103/apos.apos_70_18, abstract only)")  # fmt: skip
TIP = Band("buccal tip of a first molar while 1 to 4 mm are gained, torque in the wire", 1.0, 3.0, "deg",
           "2.1 with standard deviation 1.2, same study as the gain in width (abstract only)")  # fmt: skip
BANDS = {"arch.width_mm_per_month.first_molar": PACE, "teeth.{}6.buccal_tip_deg": TIP}
"""Published bands by the path of what they are about, {} being a quadrant. Plausibility, never a verdict."""
SAME_MOVE, SAME_FORCE = 0.02, 0.01
"""Differences (mm, N) below which courses count as alike: errors in time are some thousandths. A convention."""
STILL = 0.05
"""mm below which a crown and its apex count as not moving. A convention."""


def band_of(path: str) -> Band | None:
    """Return the published band of a result, None if there is none."""
    for known, band in BANDS.items():
        if path in (known, *(known.format(quadrant) for quadrant in range(1, 5))):
            return band
    return None


def course_sentences(found: CourseComparison) -> list[str]:
    """Return what differs on the last day all reach, the most important first: teeth, forces, widths, rules, limits."""
    out = [*_lengths(found)]
    alike = _alike(found)
    if alike:
        return [*out, alike, *_peaks(found), *_limits(found)]
    for tooth in found.teeth:
        for i in range(1, len(found.labels)):
            out += [*movement_sentences(found, tooth, i)]
        out += [*_forces(found, tooth)]
    out += [*_peaks(found), *_widths(found), *_pace(found)]
    return [*out, *_rules(found), *_limits(found), *prescription_sentences(found)]


def movement_sentences(found: CourseComparison, tooth: int, i: int) -> Iterator[str]:
    """Yield how a tooth (and its fellow, if it does the same) has moved in the variant `i` against the reference."""
    after, mine, first = f"After {name_of(found.last)}", named(found, i), named(found, 0)
    twin = fellow(found, tooth)
    who = f"{tooth} and {twin}" if twin else str(tooth)
    many = "s" if twin else ""
    if movement_spread([found.courses[0], found.courses[i]], tooth) < SAME_MOVE:
        yield f"{after} {mine}, {'teeth' if twin else 'tooth'} {who} stand{'' if twin else 's'} as {first}."
        return
    (crown, crown0), (apex, apex0) = (
        [_number(found, f"teeth.{tooth}.axis_{at}_mm.buccal", k) for k in (i, 0)] for at in ("crown", "apex")
    )
    now, then = kind(crown, apex), kind(crown0, apex0)
    ways = f"{now}, as in the reference" if now == then else f"{now}; in the reference {then}"
    stand = "stand" if twin else "stands"
    yield (
        f"{after} {mine}, the crown{many} of {who} {stand} {_farther(crown, crown0)} than {first} "
        f"({_places(crown, crown0)}), the root{many} at the ap{'ices' if twin else 'ex'} {_farther(apex, apex0)} "
        f"({_places(apex, apex0)}): {ways}."
    )
    yield from _tip(found, tooth, i, who, many)


def kind(crown: float, apex: float) -> str:
    """Return in words how the root goes with its crown (movements in mm, + buccal)."""
    if max(abs(crown), abs(apex)) < STILL:
        return "the tooth hardly moves"
    if abs(crown) <= REST * abs(apex):
        return "the root moves alone"
    share = apex / crown
    if abs(share) <= REST:
        return "the apex rests"
    if share < 0:
        return "the apex goes the other way"
    return "the root lags" if share < AS_FAR[0] else "the root leads" if share > AS_FAR[1] else "the root goes along"


def _farther(value: float, other: float) -> str:
    size = f"{abs(value - other):.2f} mm"
    if abs(value - other) < 0.005:
        return "no farther out"
    return f"{size} {'farther' if value > other else 'less far'} out"


def _places(value: float, other: float) -> str:
    """Return two buccal movements: "2.31 mm buccally, against 2.72"; the way again where it is another."""
    again = "" if value * other > 0 else _way(other)
    return f"{abs(value):.2f} mm{_way(value)}, against {abs(other):.2f}{again}"


def _way(value: float) -> str:
    return "" if abs(value) < 0.005 else " buccally" if value > 0 else " lingually"


def _tip(found: CourseComparison, tooth: int, i: int, who: str, many: str) -> Iterator[str]:
    """Say how far the crown tips, in degrees and for each mm, and what its palatal cusp does."""
    tips, per = (found.final(f"teeth.{tooth}.{key}").values for key in ("buccal_tip_deg", "tip_deg_per_mm"))
    texts = []
    for k in (i, 0):
        each = per[k]
        texts.append(_angle(tips[k]) + (f" ({each:.1f} deg/mm of crown)" if isinstance(each, float) else ""))
    text = f"The crown{many} of {who} tip{'' if many else 's'} {texts[0]}, against {texts[1]} in the reference"
    cusp = _row(found, f"teeth.{tooth}.inner_cusp_mm.occlusal")
    if cusp is not None and isinstance(cusp.values[i], float) and isinstance(cusp.values[0], float):
        word = "palatal" if tooth < 30 else "lingual"
        text += (
            f"; the {word} cusp{many} {'stand' if many else 'stands'} {_height(cusp.values[i])}, against "
            f"{_height(cusp.values[0])}"
        )
    yield f"{text}."


def _angle(value: object) -> str:
    assert isinstance(value, float)
    size = f"{abs(value):.1f}"
    return "0 deg" if float(size) == 0 else f"{size} deg {'buccally' if value > 0 else 'lingually'}"


def _height(value: object) -> str:
    assert isinstance(value, float)
    size = f"{abs(value):.2f}"
    return "0 mm" if float(size) == 0 else f"{size} mm {'more occlusal' if value > 0 else 'more apical'}"


def _forces(found: CourseComparison, tooth: int) -> Iterator[str]:
    force = found.final(f"teeth.{tooth}.force_N.buccal").values
    moment = found.final(f"teeth.{tooth}.moment_at_bracket_N_mm.torque").values
    pairs = [f"{_signed(f)} and {root(m)}" for f, m in zip(force, moment, strict=True) if isinstance(f, float)]
    yield f"Buccal force (N) and torque moment (N.mm) left on {tooth} then: {_each(found, pairs)}."


def _peaks(found: CourseComparison) -> Iterator[str]:
    """Say which force was the largest on any tooth, of all wires and loads together, and when."""
    peaks = []
    for course in found.courses:
        sizes = [np.linalg.norm(r.force, axis=1) for r in course.readings]
        i = int(np.argmax([size.max() for size in sizes]))
        at = int(np.argmax(sizes[i]))
        peaks.append((float(sizes[i][at]), course.teeth[at], course.readings[i].day))
    sizes_only = [size for size, _, _ in peaks]
    if max(sizes_only) - min(sizes_only) > SAME_FORCE:
        texts = [f"{size:.2f} at {tooth} on day {day:.0f}" for size, tooth, day in peaks]
        yield f"The largest force on a tooth (N, its size): {_each(found, texts)}."


def _signed(value: float) -> str:
    """Return a number to two decimals with its sign, nothing as 0.00."""
    return f"{value:+.2f}" if abs(value) >= 0.005 else "0.00"


def _widths(found: CourseComparison) -> Iterator[str]:
    places = dict.fromkeys([n % 10 for n in found.teeth if n % 10 >= CANINE] + [3, 4, 6])
    for place in sorted(places):
        rows = [_row(found, f"arch.width_change_mm.{place_key(place)}.{at}") for at in ("crown", "apex")]
        known = [r for r in rows if r is not None]
        if known and any(r.spread > SAME_MOVE for r in known):
            texts = [["-" if not isinstance(v, float) else _signed(v) for v in r.values] for r in known]
            pairs = [f"{a} and {b}" for a, b in zip(*texts, strict=True)]
            yield f"Width gained between the {PLACES[place]}s at crowns and apices, mm: {_each(found, pairs)}."


def _pace(found: CourseComparison) -> Iterator[str]:
    row = _row(found, "arch.width_mm_per_month.first_molar")
    if row is None or not all(isinstance(v, float) for v in row.values):
        return
    texts = [f"{v:.2f}" for v in row.values if isinstance(v, float)]
    yield (
        f"On average that is, between the first molars' crowns, mm a month: {_each(found, texts)}; published "
        f"{PACE.low:g} to {PACE.high:g} with a rectangular wire (abstract only), for orientation."
    )


def _rules(found: CourseComparison) -> Iterator[str]:
    at = [[str(v.number) for v in course.visits if any(map(acted, v.rules))] for course in found.courses]
    if any(at):
        texts = [
            f"{named(found, i)} at visit{'s' if len(a) > 1 else ''} {', '.join(a)}" if a else f"{named(found, i)} never"
            for i, a in enumerate(at)
        ]
        yield f"Rules acted {'; '.join(texts)}."


def _limits(found: CourseComparison) -> Iterator[str]:
    kinds = [sorted({flag.kind for flag in course.flags}) for course in found.courses]
    if any(kinds) and any(k != kinds[0] for k in kinds):
        texts = [f"{named(found, i)} {', '.join(k) or 'none'}" for i, k in enumerate(kinds)]
        yield f"Limits passed: {'; '.join(texts)}."


def _lengths(found: CourseComparison) -> Iterator[str]:
    """Say which courses were stopped by a limit, and that courses of different length are compared up to one day."""
    for label, course in zip(found.labels, found.courses, strict=True):
        if course.stopped is not None:
            yield f"The course of {label} was stopped by a limit: {course.stopped}."
    ends = [course.end for course in found.courses]
    if max(ends) - min(ends) > SAME_DAY:
        texts = [f"{name_of(end)} ({label})" for end, label in zip(ends, found.labels, strict=True)]
        yield (
            f"The courses differ in length: {', '.join(texts)}; what follows compares them after {name_of(min(ends))}."
        )


def _alike(found: CourseComparison) -> str | None:
    """Say that the courses do the same, if they do."""
    move = max(movement_spread(found.courses, n) for n in found.common)
    force = max(found.final(f"teeth.{n}.force_N.{way}").spread for n in found.common for way in ("buccal", "mesial"))
    if move > SAME_MOVE or force > SAME_FORCE:
        return None
    return (
        f"The courses do the same: after {name_of(found.last)} no crown or apex differs by more than {move:.1g} mm, no "
        f"force along or across the arch by more than {force:.1g} N."
    )


def _row(found: CourseComparison, path: str) -> Row | None:
    try:
        return found.final(path)
    except InputError:
        return None


def _each(found: CourseComparison, texts: Sequence[str]) -> str:
    return ", ".join(f"{text} ({label})" for text, label in zip(texts, found.labels, strict=True))


def _number(found: CourseComparison, path: str, i: int) -> float:
    value = found.final(path).values[i]
    assert isinstance(value, float)
    return value
