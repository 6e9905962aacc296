"""The elements of a wire as laid out: elastic or with memory, new or opened by hand before."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from biomech.alloys import Alloy
from biomech.appliance.stations import index_of
from biomech.appliance.wires import Layout
from biomech.errors import InputError, SolveError
from biomech.mechanics.links import Links
from biomech.mechanics.poses import Array, Pose, pose_log
from biomech.section import Section
from biomech.wire.fibre_rod import XI, FibreRod, Memory, fibre_rod
from biomech.wire.fibre_section import FibreSection
from biomech.wire.history import Opening, bent, laid_out, let_go, opened, outward
from biomech.wire.rod import rod
from biomech.wire.shape import StressFree

_CLOSE = 1e-6
_TRIES = 20


@dataclass(frozen=True)
class Past:
    """What a wire with memory was like before it was tied in.

    `law` of all its elements as they are tied in; `formed` (n, 6) the strains of its formed shape; `ends`, `middle`:
    the stations of its outermost holds and between them; `temperature`, C; `opening` by hand, None without;
    `relieved` after it.
    """

    law: FibreRod
    formed: Array
    ends: tuple[int, int]
    middle: int
    temperature: float
    opening: Opening | None = None
    relieved: bool = False

    @cached_property
    def left(self) -> tuple[float, float]:
        """How much further out than formed its right and left end stand when it lies free before tying in, mm."""
        return self._outward(self.law.resting(self.law.start()), self.formed)

    @cached_property
    def held(self) -> tuple[float, float] | None:
        """How far its ends were moved out by hand, mm; None without an opening, or where it was bent all along."""
        if self.opening is None or self.opening.force is None:
            return None
        return self._outward(self.opening.law.resting(self.opening.held), self.formed)

    @cached_property
    def strained(self) -> float:
        """The largest axial strain of any fibre in the hands; 0 without an opening."""
        if self.opening is None:
            return 0.0
        law = self.opening.law
        section = law.section
        assert isinstance(section, FibreSection)
        return float(section.peak_strain(law.section_strains(self.opening.held)).max(initial=0.0))

    def set_after(self, memory: Memory) -> tuple[float, float]:
        """Return how much further out its ends stand, taken out in state `memory`, than before tying in, mm."""
        strain, _ = let_go(self.law, memory)
        return self._outward(strain, self.law.resting(self.law.start()))

    def _outward(self, now: Array, before: Array) -> tuple[float, float]:
        return outward(laid_out(now, self.middle), laid_out(before, self.middle), self.ends, self.middle)


def rod_of(layout: Layout, frames: np.ndarray, offsets: Pose) -> tuple[Links, Past | None]:
    """Return the elements of a wire and, where they have a memory, its past. Raises InputError and SolveError."""
    free = layout.free.relative_poses(layout.line)
    if layout.alloy.is_linear:
        if layout.model.opening is not None:
            raise InputError(
                f"wire.{layout.name}.opening: needs an alloy that yields; '{layout.alloy.name}' keeps nothing"
            )
        stiffness = layout.section.stiffness(layout.alloy.young, layout.alloy.poisson)
        return rod(layout.name, frames, stiffness, free, offsets=offsets), None
    links = fibre_rod(layout.name, frames, section_of(layout.section, layout.alloy), free, offsets=offsets)
    law = links.law
    assert isinstance(law, FibreRod)
    past = _past(layout, law)
    return links.with_law(past.law), past


@lru_cache(maxsize=64)
def section_of(section: Section, alloy: Alloy) -> FibreSection:
    """Return the fibres of a section; the same for all wires alike, so that they can be solved in one batch."""
    return FibreSection(section, alloy)


def _past(layout: Layout, law: FibreRod) -> Past:
    line = layout.line
    ends = index_of(line, layout.grips[0].at[0]), index_of(line, layout.grips[-1].at[-1])
    low, high = line[ends[0]], line[ends[1]]
    middle = int(np.argmin(np.abs(line - (0.0 if low < 0.0 < high else 0.5 * (low + high)))))
    past = Past(law, law.rest, ends, middle, layout.temperature)
    model = layout.model.opening
    if model is None:
        return past
    try:
        if model.by == "pulling":
            found = opened(law, ends, middle, model.each_side)
        else:
            found = bent(law, _kept(layout, past, model.each_side))
    except (InputError, SolveError) as error:
        raise type(error)(f"wire.{layout.name}.opening: {error}") from None
    now = found.law if not model.relieved else FibreRod(law.section, found.law.resting(found.law.start()))
    return replace(past, law=now, opening=found, relieved=model.relieved)


def _kept(layout: Layout, past: Past, each_side: float) -> Array:
    """Return what the sections at the Gauss points (n, 2, 6) must keep for the ends to stand `each_side` mm outward."""
    assert layout.opened is not None

    def reach(by: float) -> float:
        assert layout.opened is not None
        strain = pose_log(layout.opened(by).relative_poses(layout.line))
        return float(np.mean(past._outward(strain, past.formed)))

    widened = _sought(reach, each_side)
    middle, half = 0.5 * (layout.line[1:] + layout.line[:-1]), np.diff(layout.line)
    at = middle[:, None] + half[:, None] * XI
    out = np.zeros((*at.shape, 6))
    out[..., 3:] = _rates(layout.opened(widened), at) - _rates(layout.free, at)
    return out


def _sought(reach: Callable[[float], float], each_side: float) -> float:
    """Return how far the line must be widened for the ends to stand `each_side` mm outward.

    Further than that: lengths stay, so that a wider wire is a flatter one. Raises InputError when no shape does.
    """
    a, b, miss_a = 0.0, each_side, -each_side
    try:
        for _ in range(_TRIES):
            miss_b = reach(b) - each_side
            if abs(miss_b) < _CLOSE:
                return b
            a, b, miss_a = b, b - miss_b * (b - a) / (miss_b - miss_a), miss_b
    except InputError:
        pass  # wider than a line can be
    raise InputError(f"each_side = {each_side:g} mm: a wire of this length has no shape that stands so far open")


def _rates(shape: StressFree, s: Array) -> Array:
    """Return twist rate and curvatures (..., 3) of a stress-free shape at s (...), rad/mm."""
    step = 1e-4
    there = shape.poses(s - step).inverse() @ shape.poses(s + step)
    rates: Array = pose_log(there)[..., 3:] / (2 * step)
    return rates
