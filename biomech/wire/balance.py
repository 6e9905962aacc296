"""Balance of the two Gauss points of elements with memory: both carry the same force and moment.

What differs between their strains makes the stored energy least: Newton's method with a line search, all elements at
once, each until it is found.
"""

from __future__ import annotations

from typing import Any, NamedTuple, Protocol

import numpy as np

from biomech.mechanics.poses import Array, apply
from biomech.mechanics.states import mapped

_STEPS = 40
_TOLERANCE = 1e-12
"""Largest difference of the stresses at both Gauss points, over those of the largest strain in an elastic section."""
_LEAST_STRAIN = 1e-4
STEADY = 1e-13
"""Elastic stiffness lent to sections that have none left, as a part of their own."""
_OVERSHOOT = 0.9
_WORTH = 0.3
"""Part of a step from which on the rest is only cut off."""
_FIRST_LENT, _LEAST_LENT = 0.05, 1e-3
"""Elastic stiffness lent, as a part of itself, when it is first needed, and below which no more."""
_STILL = 1e-10
"""Change of a fibre's strain that is none."""


class SectionResponse(Protocol):
    """A cross-section with memory: resultants (N, V2, V3, T, M2, M3), N and N.mm, from strains.

    Strains (..., 6) are (axial, shear 2, shear 3, twist rate, curvature 2, curvature 3), the last three in rad/mm. A
    state is an array, or a tuple, dict or dataclass of arrays, with the leading axes of the strain.
    """

    @property
    def elastic(self) -> Array:
        """(EA, k2 GA, k3 GA, GJ, EI2, EI3) (6,) of the section as it starts, N and N.mm^2."""

    def start(self, shape: tuple[int, ...]) -> Any:
        """Return the states of sections that have never been loaded."""

    def respond(self, strain: Array, state: Any) -> tuple[Array, Array, Any]:
        """Return resultants (..., 6), tangent (..., 6, 6) and new state at `strain`, coming from `state`."""

    def energy(self, strain: Array, state: Any) -> Array:
        """Return the work per length (...) done on the way from `state` to `strain`, N."""

    def same_wire(self, other: object) -> bool:
        """Return whether states of the section `other` go on in this one."""


class Memory(NamedTuple):
    """What elements remember: the states of their sections (..., n, 2), and of the last converged step the strain
    (..., n, 6) from rest and half the difference (..., n, 6), per length, of what the Gauss points add to it.
    """

    sections: Any
    strain: Array
    half: Array


class Found(NamedTuple):
    """Inner equilibrium of r elements.

    `half` (r, 6) and the strains of both points (r, 2, 6) it makes, their response, and whether equilibrium was found.
    """

    half: Array
    strain: Array
    stress: Array
    tangent: Array
    state: Any
    good: np.ndarray


class Balance:
    """Newton's method for the difference `half` (r, 6) of what both Gauss points add to the mean strain (r, 6)."""

    def __init__(self, section: SectionResponse, turn: Array, mean: Array) -> None:
        self.section, self.turn, self.mean = section, turn, mean
        self.back = np.swapaxes(turn, -1, -2)
        elastic = section.elastic
        self.size = np.sqrt(elastic / elastic[0])  # turns strains into those of fibres
        self.unit = self.size / elastic
        self.level = np.maximum(np.abs(mean * self.size).max(axis=-1, initial=0.0), _LEAST_STRAIN)

    def still(self, before: Memory) -> np.ndarray:
        """Return which elements (r,) are strained as they were: which way they will go is not known yet.

        A step that begins with the slope of further yielding would overshoot wherever the wire turns out to be let go;
        begun with the elastic slope it approaches from the stiff side either way.
        """
        out: np.ndarray = (np.abs(self.mean - before.strain) * self.size).max(axis=-1) <= _STILL
        return out

    def find(self, before: Memory) -> Found:
        """Return the strains at which both points carry the same stress, coming from `before`.

        All elements in one row; the strains in `before` are per length, and `half` is where to begin.
        """
        half, state = before.half.copy(), before.sections
        r = len(half)
        todo, search = np.arange(r), Search(half, self.section.elastic)
        whole, good = None, np.zeros(r, dtype=bool)
        for _ in range(_STEPS):
            mean, some, theirs = self.mean[todo], half[todo], _taken(state, todo, r)
            strain = apply(self.turn[todo], np.stack([mean + some, mean - some], axis=1))
            stress, tangent, new = self.section.respond(strain, theirs)
            whole = _merged(whole, (strain, stress, tangent, new), todo, r)
            forces = apply(self.back[todo], stress)
            miss = forces[:, 0] - forces[:, 1]
            small = (np.abs(miss) * self.unit).max(axis=-1) <= _TOLERANCE * self.level[todo]
            good[todo] = small
            left = ~small & np.isfinite(miss).all(axis=-1)
            if not left.any():
                break
            which = todo[left]
            parts = (self.back[which] @ tangent[left] @ self.turn[which]).sum(axis=1)
            half[which] = search.next(which, half[which], miss[left], parts)
            todo = which
        assert whole is not None
        return Found(half, whole[0], whole[1], whole[2], whole[3], good)


class Search:
    """Newton steps (r, 6) towards the least energy, kept from going far up the other side.

    Where a step overshoots, the slope along it tells where the least lies; where that is near its start, the tangent
    there was too soft, and a part of the elastic stiffness is lent to it (Levenberg and Marquardt).
    """

    def __init__(self, start: Array, elastic: Array) -> None:
        r = len(start)
        self.elastic = np.diag(elastic)
        self.base, self.step, self.slope = start.copy(), np.zeros_like(start), np.zeros(r)
        self.miss, self.parts, self.lent = np.zeros_like(start), np.zeros((r, 6, 6)), np.full(r, STEADY)

    def next(self, which: np.ndarray, at: Array, miss: Array, parts: Array) -> Array:
        """Return where to look next for the elements `which`, now `at`, with that imbalance and stiffness."""
        ahead, slope = np.einsum("ri,ri->r", miss, self.step[which]), self.slope[which]
        far = (ahead > -_OVERSHOOT * slope) & (slope < 0)
        part = np.clip(-slope / np.where(far, ahead - slope, 1.0), 0.0, 1.0)
        cut, soft = which[far & (part >= _WORTH)], which[far & (part < _WORTH)]
        on = which[~far]
        self.step[cut] *= part[far & (part >= _WORTH)][:, None]
        self.slope[cut] *= part[far & (part >= _WORTH)]
        self.base[on], self.miss[on], self.parts[on] = at[~far], miss[~far], parts[~far]
        self.lent[on] = np.where(self.lent[on] > _LEAST_LENT, 0.25 * self.lent[on], STEADY)
        self.lent[soft] = np.maximum(4 * self.lent[soft], _FIRST_LENT)
        anew = which[~(far & (part >= _WORTH))]
        if len(anew):
            stiffness = self.parts[anew] + self.lent[anew, None, None] * self.elastic
            self.step[anew] = -np.linalg.solve(stiffness, self.miss[anew][..., None])[..., 0]
            self.slope[anew] = np.einsum("ri,ri->r", self.miss[anew], self.step[anew])
        out: Array = self.base[which] + self.step[which]
        return out


def _taken(tree: Any, which: np.ndarray, of: int) -> Any:
    """Return the states of some of `of` elements; those of all as they are."""
    return tree if len(which) == of else mapped(lambda array: array[which], tree)


def _merged(whole: Any, parts: Any, which: np.ndarray, of: int) -> Any:
    """Return the arrays of all elements with those of some replaced."""

    def put(array: Array, some: Array) -> Array:
        out = array.copy()  # a response may share memory with the state it came from
        out[which] = some
        return out

    return parts if len(which) == of else mapped(put, whole, parts)
