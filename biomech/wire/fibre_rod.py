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
from typing import Any, ClassVar

import numpy as np

from biomech.mechanics.links import Law, Linear, Links, Response
from biomech.mechanics.poses import Array, Pose, ad, apply, pose_log
from biomech.mechanics.states import mapped
from biomech.wire.balance import STEADY, Balance, Memory, SectionResponse
from biomech.wire.rod import element_stiffness

XI = np.array([-0.5, 0.5]) / np.sqrt(3.0)
"""Places of the Gauss points over an element's length, from its middle."""
_EYE6 = np.eye(6)


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

    def take(self, rows: np.ndarray) -> FibreRod:
        """Return the law of some of the elements; their memory must be without a batch."""
        begin = None if self.begin is None else mapped(lambda array: array[rows], self.begin)
        return FibreRod(self.section, self.rest[..., rows, :], begin)

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

    def keeps_memory_of(self, other: Law) -> bool:
        """See Law.keeps_memory_of: not when another wire was put in."""
        return isinstance(other, FibreRod) and self.section.same_wire(other.section)

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

    def remembering(self, strain: Array, sections: Any) -> Memory:
        """Return the memory of elements whose sections are at strains (..., n, 2, 6), both Gauss points in balance."""
        back = np.asarray(np.linalg.inv(self._turn), dtype=np.float64)
        parts = apply(back, strain)
        mean, half = 0.5 * (parts[..., 0, :] + parts[..., 1, :]), 0.5 * (parts[..., 0, :] - parts[..., 1, :])
        return Memory(sections, mean * self._length[..., None], half)

    def section_strains(self, state: Memory) -> Array:
        """Return the strains (..., n, 2, 6) of the sections at both Gauss points at the last converged step."""
        mean = state.strain / self._length[..., None]
        return apply(self._turn, np.stack([mean + state.half, mean - state.half], axis=-2))

    def _inner(self, strain: Array, state: Memory) -> tuple[Balance, Memory]:
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
        return Balance(self.section, turn, mean), Memory(memory.sections, was, half)

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
        return np.linalg.inv(_EYE6 + XI[:, None, None] * ad(self.rest)[..., None, :, :])

    @cached_property
    def _share(self) -> Array:
        """Matrices (..., n, 6, 6) that make half the difference of both points of the mean strain, while elastic."""
        parts = np.swapaxes(self._turn, -1, -2) @ (np.asarray(self.section.elastic)[:, None] * self._turn)
        return np.linalg.solve(parts.sum(axis=-3), parts[..., 1, :, :] - parts[..., 0, :, :])


def _in_series(parts: Array, elastic: Array) -> Array:
    """Return A (A + B)^-1 B (r, 6, 6) of the stiffnesses `parts` (r, 2, 6, 6) of both points."""
    first, second = parts[:, 0], parts[:, 1]
    out: Array = first @ np.linalg.solve(first + second + STEADY * np.diag(elastic), second)
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


__all__ = ["XI", "FibreRod", "Memory", "SectionResponse", "fibre_rod"]
