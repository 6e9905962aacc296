"""Compare several scenarios, or one with a key varied, side by side."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from biomech.errors import InputError
from biomech.studies.batch import solve_all
from biomech.studies.record import record
from biomech.studies.rows import Row, rows
from biomech.studies.solve import Solution
from biomech.studies.still import told
from biomech.studies.variants import Variant

MIRRORED = 1e-6
"""Difference of displacements, mm, up to which a tooth and its fellow on the other side count as moving alike."""


@dataclass(frozen=True)
class Comparison:
    """Variants and their solutions, the first being the reference of all differences.

    `keys` that were varied (none for a comparison of files); `teeth` in the foreground: those asked for, else those the
    keys name, else the one whose movement (with prescriptions: whose torque) differs most; `seconds` of building and
    solving all.
    """

    variants: tuple[Variant, ...]
    solutions: tuple[Solution, ...]
    keys: tuple[str, ...]
    teeth: tuple[int, ...]
    seconds: float
    _cache: dict[str, Row] = field(default_factory=dict, repr=False, compare=False)

    @property
    def labels(self) -> tuple[str, ...]:
        """What the variants are called."""
        return tuple(v.label for v in self.variants)

    @cached_property
    def records(self) -> tuple[dict[str, Any], ...]:
        """Everything of each solution as data, see studies.record."""
        return tuple(record(s) for s in self.solutions)

    @cached_property
    def rows(self) -> list[Row]:
        """All results side by side; kinds of movement and ratios only of teeth that move, see studies.still."""
        return told(rows(self.records))

    def row(self, path: str) -> Row:
        """Return the row of a path in result.json, such as "teeth.16.crown_mm.buccal"; InputError if there is none."""
        if not self._cache:
            self._cache.update({r.path: r for r in self.rows})
        if path not in self._cache:
            raise InputError(f"{path} is no result of these variants; see the paths in comparison.csv")
        return self._cache[path]

    @property
    def common(self) -> list[int]:
        """Teeth that all variants have."""
        return common_teeth(self.solutions)


def compare(
    variants: Sequence[Variant],
    *,
    keys: Sequence[str] = (),
    teeth: Sequence[int] | None = None,
    progress: Callable[[str, float], None] | None = None,
) -> Comparison:
    """Return the comparison of at least two variants, the first being the reference.

    `keys` that `variants` differ in, if they come from `vary`; `teeth` to put in the foreground. Raises InputError for
    fewer than two variants, for labels that appear twice, teeth that not all variants have, and as `solve`.
    """
    labels = [v.label for v in variants]
    if len(labels) < 2:
        raise InputError(f"at least two scenarios are needed for a comparison, got {len(labels)}")
    if len(set(labels)) < len(labels):
        twice = next(label for label in labels if labels.count(label) > 1)
        raise InputError(f"two scenarios are called '{twice}'; give each a label of its own")
    begin = time.perf_counter()
    solutions = solve_all([v.scenario for v in variants], labels=labels, progress=progress)
    seconds = time.perf_counter() - begin
    return Comparison(tuple(variants), tuple(solutions), tuple(keys), _foreground(solutions, keys, teeth), seconds)


def common_teeth(solutions: Sequence[Solution]) -> list[int]:
    """Return the teeth that all solutions have, from the patient's right to the left."""
    return [n for n in solutions[0].teeth if all(n in s.teeth for s in solutions)]


def _foreground(solutions: Sequence[Solution], keys: Sequence[str], teeth: Sequence[int] | None) -> tuple[int, ...]:
    common = common_teeth(solutions)
    if not common:
        raise InputError("the scenarios have no tooth in common, so there is nothing to compare")
    if teeth:
        for number in teeth:
            if number not in common:
                raise InputError(f"tooth {number} is not in all scenarios; in all: {', '.join(map(str, common))}")
        return tuple(dict.fromkeys(teeth))
    named = [int(step) for key in keys for step in key.split(".") if re.fullmatch(r"[1-4][1-7]", step)]
    named = [n for n in dict.fromkeys(named) if n in common]
    if not named:
        differs = _torque_spread if tuple(keys) == ("bracket.prescription",) else movement_spread
        amount = {n: differs(solutions, n) for n in common}
        # a fellow that does the same up to rounding must not win by it
        named = [next(n for n in common if amount[n] >= (1 - 1e-4) * max(amount.values()) - MIRRORED)]
    return tuple(n for i, n in enumerate(named) if not any(_alike(solutions, n, m) for m in named[:i]))


def movement_spread(solutions: Sequence[Solution], number: int) -> float:
    """Return by how much, mm, crown or apex of a tooth end up in different places: the largest over all pairs."""
    places = np.array([_moved(s, number) for s in solutions])
    return float(np.linalg.norm(places[:, None] - places[None], axis=-1).max())


def _torque_spread(solutions: Sequence[Solution], number: int) -> float:
    """Return the largest less the smallest torque moment on a tooth, N.mm: what prescriptions are about."""
    views = [s.teeth[number] for s in solutions]
    return float(np.ptp([v.turns(v.moment_at(v.bracket))["torque"] for v in views]))


def _moved(solution: Solution, number: int) -> np.ndarray:
    """Return the displacements (2, 3) of crown and apex, + mesial, + buccal, + occlusal, mm."""
    view = solution.teeth[number]
    marks = view.part.tooth.landmarks
    return np.array([list(view.words(view.displacement(marks[at])).values()) for at in ("edge", "apex")])


def _alike(solutions: Sequence[Solution], one: int, other: int) -> bool:
    """Return whether two teeth are fellows on both sides of the arch that move as mirror images in every variant."""
    if one % 10 != other % 10:
        return False
    return all(float(np.abs(_moved(s, one) - _moved(s, other)).max()) < MIRRORED for s in solutions)
