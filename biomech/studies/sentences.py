"""What differs between variants, in plain sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Protocol

from biomech.errors import InputError
from biomech.outputs._arch import PLACES
from biomech.outputs.limits import TORQUE
from biomech.studies.compare import Comparison, movement_spread
from biomech.studies.phrases import against, apex_phrase, capital, crown_phrase, root, toward
from biomech.studies.prescriptions import prescription_sentences
from biomech.studies.record import place_key
from biomech.studies.still import HARDLY, SAME_MOVE
from biomech.studies.variants import WAYS, key_words

SAME_FORCE, SAME_MOMENT = 0.01, 0.1
"""Differences (N, N.mm) below which variants count as alike. A convention."""
FELT = 1.0
"""Change of torque moment, N.mm, from which it is worth a sentence. A convention."""
CANINE = 3
"""Place from the midline where arch width begins to mean something."""
SHARE = 0.15
"""Share of a couple from which a tooth is named as taking its reaction. A convention."""


def sentences(found: Comparison) -> list[str]:
    """Return what differs, the most important first: movement, moments and who pays for them, widths, limits."""
    alike = _alike(found)
    if alike:
        return [alike]
    out = []
    for tooth in found.teeth:
        out += [s for i in range(1, len(found.variants)) if (s := movement_sentence(found, tooth, i))]
        out += [*_moments(found, tooth), *_reaction(found, tooth), *_widths(found, tooth)]
    return [*out, *_limits(found), *prescription_sentences(found)]


class Labelled(Protocol):
    """What is needed to name variants: their labels, and the keys that were varied."""

    @property
    def labels(self) -> tuple[str, ...]:
        """What the variants are called."""

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys that were varied, none for a comparison of files."""


def named(found: Labelled, i: int) -> str:
    """Return a variant in a sentence: "with 18 deg buccal root", "with diameter 0.9 mm", "in upper-overlay"."""
    label = found.labels[i]
    if not found.keys:
        return f"in {label}"
    if any(label.endswith(way) for ways in WAYS for way in ways):
        return f"with {label}"
    words = key_words(found.keys)
    key = " ".join(words[-2:]) if words[-1] in ("left", "right") else words[-1]
    return f"with {key} {label}"


def movement_sentence(found: Comparison, tooth: int, i: int) -> str | None:
    """Return how a tooth moves in the variant `i` against the reference; None for a tooth held rigidly.

    Crown and apex are those of the long axis, so that amounts and kind of movement speak of the same.
    """
    kind, before = (str(found.row(f"teeth.{tooth}.movement").values[k]) for k in (i, 0))
    if kind == "held" or before == "held":
        return None
    begin = f"{capital(named(found, i))}, tooth {tooth}"
    if movement_spread([found.solutions[0], found.solutions[i]], tooth) < SAME_MOVE:
        return f"{begin} moves as {named(found, 0)}."
    (crown, crown0), (apex, apex0) = (
        [_number(found, f"teeth.{tooth}.long_axis_mm.{at}", k) for k in (i, 0)] for at in ("crown", "apex")
    )
    if kind == HARDLY:
        also = f", nor does it {named(found, 0)}" if before == HARDLY else ""
        return f"{begin} hardly moves in the buccolingual plane, {against(crown, crown0)} at the crown{also}."
    if before == HARDLY:
        ways = f"crown {toward(crown)}, apex {toward(apex)}"
        return f"{begin} shows {kind} ({ways}); {named(found, 0)} it hardly moves."
    shows = f"still shows {kind}" if kind == before else f"shows {kind} instead of {before}"
    return f"{begin} {shows}: {apex_phrase(crown, apex, apex0)} while {crown_phrase(crown, crown0)}."


def _moments(found: Comparison, tooth: int) -> Iterator[str]:
    row = found.row(f"teeth.{tooth}.moment_at_bracket_N_mm.torque")
    if row.spread > FELT:
        yield (
            f"Torque moment on {tooth}, N.mm: {_each(found, [root(v) for v in row.values])}; published useful window "
            f"{TORQUE.low:g} to {TORQUE.high:g}."
        )


def _reaction(found: Comparison, tooth: int) -> Iterator[str]:
    """Say which teeth of the quadrant take the reaction of the largest change of couple put in on a tooth."""
    if not any("torque" in key for key in found.keys):
        return
    changes = {n: _changes(found, n) for n in found.common if n // 10 == tooth // 10}
    own = changes[tooth]
    worst = max(range(len(own)), key=lambda i: abs(own[i]))
    payers = {n: c[worst] for n, c in changes.items() if c[worst] * own[worst] < 0}
    payers = {n: c for n, c in payers.items() if abs(c) > SHARE * abs(own[worst])}
    if payers and abs(own[worst]) > FELT:
        texts = [f"{n} ({root(c)} N.mm)" for n, c in sorted(payers.items(), key=lambda p: -abs(p[1]))]
        yield f"The reaction {named(found, worst)} falls on {' and '.join(texts)}."


def _changes(found: Comparison, tooth: int) -> list[float]:
    """Return how each variant changes the torque moment on a tooth, N.mm."""
    row = found.row(f"teeth.{tooth}.moment_at_bracket_N_mm.torque")
    return [row.difference(i) or 0.0 for i in range(len(found.labels))]


def _widths(found: Comparison, tooth: int) -> Iterator[str]:
    place = tooth % 10
    if place < CANINE:
        return
    crown, apex = (f"arch.width_change_mm.{place_key(place)}.{at}" for at in ("crown", "apex"))
    try:
        rows = found.row(crown), found.row(apex)
    except InputError:  # the tooth's fellow is missing
        return
    if any(r.spread > SAME_MOVE for r in rows):
        texts = [["-" if v is None else f"{v:+.3f}" for v in r.values] for r in rows]
        pairs = [f"{a} and {b}" for a, b in zip(*texts, strict=True)]
        yield f"Width between the {PLACES[place]}s at crowns and apices, mm: {_each(found, pairs)}."


def _limits(found: Comparison) -> Iterator[str]:
    """Say which variants pass a wire's elastic limit or lose torque in the play."""
    for name in dict.fromkeys(n for s in found.solutions for n in s.wires):
        views = [(i, s.wires[name]) for i, s in enumerate(found.solutions) if name in s.wires]
        used = [(i, v.utilisation) for i, v in views if v.inner is None]
        past = [f"{named(found, i)} (peak stress {100 * u:.0f} % of it)" for i, u in used if u > 1]
        if past:
            yield f"Wire '{name}' is past its elastic limit {', '.join(past)}; it would deliver less than computed."
        left = [(i, v.inner.force_left) for i, v in views if v.inner is not None and v.inner.has_yielded]
        kept = [f"{100 * share:.0f} % {named(found, i)}" for i, share in left if share is not None]
        if kept:
            yield f"Wire '{name}' has yielded and keeps of the force of one that does not: {', '.join(kept)}."
    lost = [i for i, s in enumerate(found.solutions) if any("lost in the slot's play" in w for w in s.warnings)]
    if lost:
        yield f"Torque is lost in the play of the slot {', '.join(named(found, i) for i in lost)}."


def _alike(found: Comparison) -> str | None:
    """Say that the variants do the same, if they do."""
    move = max(movement_spread(found.solutions, n) for n in found.common)
    force = max((r.spread for r in found.rows if ".force_N." in r.path), default=0.0)
    moment = max((r.spread for r in found.rows if ".moment_at_bracket_N_mm." in r.path), default=0.0)
    if move > SAME_MOVE or force > SAME_FORCE or moment > SAME_MOMENT:
        return None
    return (
        f"The variants do the same: no crown or apex differs by more than {1e3 * move:.1g} um, no force by more than "
        f"{force:.1g} N, no moment by more than {moment:.1g} N.mm."
    )


def _each(found: Comparison, texts: Sequence[str]) -> str:
    return ", ".join(f"{text} ({label})" for text, label in zip(texts, found.labels, strict=True))


def _number(found: Comparison, path: str, i: int) -> float:
    value = found.row(path).values[i]
    assert isinstance(value, float)
    return value
