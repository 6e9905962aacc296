"""A wire with memory as beam elements: the strain of an element from its sections' response at two Gauss points.

Equilibrium is exact along the element: the force and moment m at its middle give those of the section at xi (place over
length, from the middle) as (1 + xi ad(rest)^T) m, just as in `rod.element_stiffness`. The sections' strains are sought
so that both Gauss points carry the same m while their mean is the element's strain: a minimum of the stored energy in
six unknowns an element, found by Newton's method with a line search. For an elastic section the element is that of
`rod.element_stiffness`. (Force-based element; Spacone, Filippou and Taucer 1996, Earthq. Eng. Struct. Dyn. 25:711, from
memory; the form as a minimum is derived here.)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar, NamedTuple, Protocol

import numpy as np

from biomech.mechanics.links import Law, Linear, Links, Response
from biomech.mechanics.poses import Array, Pose, ad, apply, pose_log
from biomech.mechanics.states import mapped
from biomech.wire.rod import element_stiffness

_XI = np.array([-0.5, 0.5]) / np.sqrt(3.0)
_EYE6 = np.eye(6)
_STEPS = 40
_TOLERANCE = 1e-12
"""Largest difference of the stresses at both Gauss points, over those of the largest strain in an elastic section."""
_LEAST_STRAIN = 1e-4
_STEADY = 1e-13
"""Elastic stiffness lent to sections that have none left, as a part of their own."""
_OVERSHOOT = 0.9
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


class Memory(NamedTuple):
    """What elements remember: the states of their sections (..., n, 2), and of the last converged step the strain
    (..., n, 6) from rest and half the difference (..., n, 6), per length, of what the Gauss points add to it.
    """

    sections: Any
    strain: Array
    half: Array


class _Found(NamedTuple):
    """Inner equilibrium of r elements.

    `half` (r, 6) and the strains of both points (r, 2, 6) it makes, their response, and whether equilibrium was found.
    """

    half: Array
    strain: Array
    stress: Array
    tangent: Array
    state: Any
    good: np.ndarray


@dataclass(frozen=True)
class FibreRod(Law):
    """Law of n elements of one section with memory; `rest` (..., n, 6) their stress-free strain, mm and rad.

    `begin` is the memory of a wire with a history, None for a new one. Where the sections' strains are not found the
    stress is NaN, which ends Newton's iteration there.
    """

    own_axes: ClassVar[Mapping[str, int]] = {"rest": 2}
    goes_by_path: ClassVar[bool] = True

    section: SectionResponse
    rest: Array
    begin: Memory | None = None

    def start(self) -> Memory:
        """See Law.start."""
        return self.begin if self.begin is not None else self._fresh(self.rest.shape[-2])

    def resting(self, state: Memory) -> Array:
        """See Law.resting: as the wire was left."""
        return self.rest + state.strain

    @property
    def weights(self) -> Array:
        """Length (..., n, 2) of wire that each Gauss point stands for, mm."""
        return np.stack([0.5 * self._length, 0.5 * self._length], axis=-1)

    def respond(self, strain: Array, state: Memory) -> Response:
        """See Law.respond."""
        shape = strain.shape[:-1]
        inner, before = self._inner(strain, state)
        found = inner.find(before)
        stress = apply(inner.back, found.stress).mean(axis=1)
        stress[~found.good] = np.nan
        length = np.broadcast_to(self._length, shape).reshape(-1)
        slopes = np.where(inner.still(before)[:, None, None, None], np.diag(self.section.elastic), found.tangent)
        series = _in_series(inner.back @ slopes @ inner.turn, self.section.elastic)
        tangent = 2 / length[:, None, None] * series
        sections = mapped(lambda a: a.reshape(*shape, *a.shape[1:]), found.state)
        memory = Memory(sections, strain - self.rest, found.half.reshape(*shape, 6))
        return Response(stress.reshape(*shape, 6), tangent.reshape(*shape, 6, 6), memory)

    def elastic_from(self, state: Memory) -> Linear:
        """See Law.elastic_from."""
        at = self.rest + state.strain
        stress = self.respond(at, state).stress
        return Linear(self._elastic, at - np.linalg.solve(self._elastic, stress[..., None])[..., 0])

    def respond_beside(self, strain: Array, expected: Array, state: Memory) -> Response:
        """See Law.respond_beside."""
        there = self.respond(expected, state)
        return there._replace(stress=there.stress + apply(self._elastic, strain - expected))

    def energy(self, strain: Array, state: Memory) -> Array:
        """See Law.energy: the work (..., n) done on the way from `state` to `strain`, N.mm."""
        inner, before = self._inner(strain, state)
        found = inner.find(before)
        work = np.where(found.good, self.section.energy(found.strain, before.sections).sum(axis=-1), np.nan)
        out: Array = 0.5 * self._length * work.reshape(strain.shape[:-1])
        return out

    def section_strains(self, state: Memory) -> Array:
        """Return the strains (..., n, 2, 6) of the sections at both Gauss points at the last converged step."""
        mean = state.strain / self._length[..., None]
        return apply(self._turn, np.stack([mean + state.half, mean - state.half], axis=-2))

    def _inner(self, strain: Array, state: Memory) -> tuple[_Inner, Memory]:
        """Return the inner equilibrium of all elements in one row, with their memory and where to begin in `half`."""
        shape = strain.shape[:-1]
        mean = ((strain - self.rest) / self._length[..., None]).reshape(-1, 6)
        rows = np.arange(len(mean))

        def in_row(array: Array, one: Array) -> Array:
            many = array.shape[: array.ndim - one.ndim + 1]
            flat = array.reshape(int(np.prod(many)), *one.shape[1:])
            return flat if len(flat) == len(rows) else flat[rows % len(flat)]

        memory = mapped(in_row, state, self._fresh(1))
        length = np.broadcast_to(self._length, shape).reshape(-1, 1)
        share = np.broadcast_to(self._share, (*shape, 6, 6)).reshape(-1, 6, 6)
        was = memory.strain / length
        half = memory.half + apply(share, mean - was)
        turn = np.broadcast_to(self._turn, (*shape, 2, 6, 6)).reshape(-1, 2, 6, 6)
        return _Inner(self.section, turn, mean), Memory(memory.sections, was, half)

    def _fresh(self, n: int) -> Memory:
        return Memory(self.section.start((n, 2)), np.zeros((n, 6)), np.zeros((n, 6)))

    @cached_property
    def _length(self) -> Array:
        out: Array = np.linalg.norm(self.rest[..., :3], axis=-1)
        return out

    @cached_property
    def _elastic(self) -> Array:
        return element_stiffness(self.section.elastic, self.rest)

    @cached_property
    def _turn(self) -> Array:
        """Matrices (..., n, 2, 6, 6) that make a section's strain of what it adds to that of its element."""
        return np.linalg.inv(_EYE6 + _XI[:, None, None] * ad(self.rest)[..., None, :, :])

    @cached_property
    def _share(self) -> Array:
        """Matrices (..., n, 6, 6) that make half the difference of both points of the mean strain, while elastic."""
        parts = np.swapaxes(self._turn, -1, -2) @ (np.asarray(self.section.elastic)[:, None] * self._turn)
        return np.linalg.solve(parts.sum(axis=-3), parts[..., 1, :, :] - parts[..., 0, :, :])


class _Inner:
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

    def find(self, before: Memory) -> _Found:
        """Return the strains at which both points carry the same stress, coming from `before`.

        All elements in one row; the strains in `before` are per length, and `half` is where to begin.
        """
        half, state = before.half.copy(), before.sections
        r = len(half)
        todo = np.arange(r)
        base, step, slope = half.copy(), np.zeros_like(half), np.zeros(r)
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
            ahead = np.einsum("ri,ri->r", miss, step[todo])
            far = ~small & (ahead > _OVERSHOOT * -slope[todo]) & (slope[todo] < 0)
            self._shorten(half, base, step, slope, ahead, todo, far)
            near = ~small & ~far
            self._go_on(half, base, step, slope, miss, tangent, todo, near)
            todo = todo[~small & np.isfinite(miss).all(axis=-1)]
            if not len(todo):
                break
        assert whole is not None
        return _Found(half, whole[0], whole[1], whole[2], whole[3], good)

    def _shorten(
        self, half: Array, base: Array, step: Array, slope: Array, ahead: Array, todo: np.ndarray, far: np.ndarray
    ) -> None:
        """Take back part of the steps that went too far up the other side (secant along the step)."""
        which = todo[far]
        part = np.clip(-slope[which] / (ahead[far] - slope[which]), 0.05, 0.7)
        step[which] *= part[:, None]
        slope[which] *= part
        half[which] = base[which] + step[which]

    def _go_on(
        self, half: Array, base: Array, step: Array, slope: Array, miss: Array, tangent: Array, todo: np.ndarray,
        near: np.ndarray,
    ) -> None:  # fmt: skip
        """Take the next Newton step of the elements `near` among `todo`."""
        which = todo[near]
        if not len(which):
            return
        parts = self.back[which] @ tangent[near] @ self.turn[which]
        both = parts.sum(axis=1) + _STEADY * np.diag(self.section.elastic)
        base[which] = half[which]
        step[which] = -np.linalg.solve(both, miss[near][..., None])[..., 0]
        slope[which] = np.einsum("ri,ri->r", miss[near], step[which])
        half[which] = base[which] + step[which]


def _in_series(parts: Array, elastic: Array) -> Array:
    """Return A (A + B)^-1 B (r, 6, 6) of the stiffnesses `parts` (r, 2, 6, 6) of both points."""
    first, second = parts[:, 0], parts[:, 1]
    out: Array = first @ np.linalg.solve(first + second + _STEADY * np.diag(elastic), second)
    return 0.5 * (out + np.swapaxes(out, -1, -2))


def fibre_rod(
    name: str,
    frames: np.ndarray,
    section: SectionResponse,
    free: Pose,
    *,
    offsets: Pose | None = None,
    begin: Memory | None = None,
    labels: tuple[str, ...] = (),
) -> Links:
    """Return the links of one wire with memory; arguments as for `rod.rod`, with the section's response.

    `begin` is the memory of a wire that has a history.
    """
    start = offsets.take(slice(0, -1)) if offsets is not None else None
    end = offsets.take(slice(1, None)) if offsets is not None else None
    law = FibreRod(section, pose_log(free), begin)
    return Links(name, frames[:-1], frames[1:], law, "pose", start, end, labels=labels)


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
