"""What a comparison of prescriptions means beside the play of the wire and the published finding."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from biomech.prescriptions import REGISTRY
from biomech.studies.compare import Comparison
from biomech.studies.warnings import play_of
from biomech.tooth.anatomy import anatomy

KEY = "bracket.prescription"
FINDING = (
    "cases finished with B and with C could not be told apart by the inclination of their front teeth (Mittal 2015 "
    "Angle Orthod 85:292, 20 and 20 cases, P = .132 over upper centrals, upper canines and lower incisors together) "
    "nor by judges (Moesi 2013 Eur J Orthod 35:236), though brackets of high and low torque did turn upper centrals in "
    "28 cases (Savoldi 2022 Korean J Orthod 52:387); abstracts only"
)
"""The published finding that a comparison of B and C is held against, as an order of magnitude."""


def prescription_sentences(found: Comparison) -> Iterator[str]:
    """Yield where the slots let a tooth rest under each prescription, and B against C beside what was published."""
    if found.keys != (KEY,):
        return
    play = slot_play(found)
    if play is None:
        return
    for tooth in found.teeth:
        ranges = [resting(label, tooth, play) for label in found.labels]
        texts = ", ".join(f"{a:.1f} to {b:.1f} ({label})" for (a, b), label in zip(ranges, found.labels, strict=True))
        yield (
            f"With {play:.1f} deg of play each way the wire lets the crown of {tooth} rest anywhere within these "
            f"torque angles, deg: {texts}."
        )
    if {"B", "C"} <= set(found.labels):
        yield _published(found, play)


def slot_play(found: Comparison) -> float | None:
    """Return the torque play of the first rectangular wire in slots, degrees each way (largest of the variants)."""
    for wire in found.solutions[0].wires:
        plays = [play_of(s.appliance, wire) for s in found.solutions if wire in s.wires]
        known = [p for p in plays if p is not None]
        if known:
            return float(np.degrees(max(known)))
    return None


def resting(prescription: str, tooth: int, play: float) -> tuple[float, float]:
    """Return the torque angles (of the crown's facial axis, deg) between which an engaged wire leaves a tooth alone."""
    torque = REGISTRY.get(prescription).teeth[anatomy(tooth).kind].torque
    return torque - play, torque + play


def largest(found: Comparison, labels: Sequence[str], key: str, teeth: Sequence[int]) -> tuple[int, float]:
    """Return the tooth (of `teeth`) and the amount by which `key` differs most between two variants."""
    i, j = (found.labels.index(label) for label in labels)
    amounts = {n: abs(found.row(f"teeth.{n}.{key}").difference(i, j) or 0.0) for n in teeth}
    most = max(amounts.values())
    tooth = next(n for n in amounts if amounts[n] >= (1 - 1e-4) * most)
    return tooth, amounts[tooth]


def _published(found: Comparison, play: float) -> str:
    """Return B against C on the incisors: what the slots differ by, what the teeth feel of it, what was published."""
    incisors = [n for n in found.common if n % 10 in (1, 2)] or found.common
    apart = max(abs(resting("B", n, 0.0)[0] - resting("C", n, 0.0)[0]) for n in incisors)
    shared = max(0.0, 1.0 - apart / (2.0 * play)) if play > 0 else 0.0
    moment = largest(found, "BC", "moment_at_bracket_N_mm.torque", incisors)
    turn = largest(found, "BC", "turn_deg.torque", incisors)
    return (
        f"B and C are up to {apart:g} deg apart at the incisors, and {100 * shared:.0f} % of the angles that the play "
        f"allows are common to both; in this case they differ by up to {moment[1]:.1f} N.mm ({moment[0]}) in torque "
        f"moment and {turn[1]:.1f} deg ({turn[0]}) in elastic turn. Plausibility, not validation: {FINDING}."
    )
