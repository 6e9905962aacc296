"""Solve one scenario and look at what came out."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from biomech.appliance import Appliance, build
from biomech.mechanics.equilibrium import Equilibrium, Settings, equilibrium
from biomech.outputs import ToothView, Value, report, tooth_views
from biomech.outputs._arch import ArchView, arch_view
from biomech.outputs._wires import WireView, wire_views
from biomech.scenario import Scenario
from biomech.studies.warnings import warnings_of

CAUTION = (
    "For teaching, research and sanity checks. Not a medical device; treatment is the decision of a licensed "
    "clinician under local rules."
)


@dataclass(frozen=True)
class Refinement:
    """What changes when every element is halved: the largest change, relative to the largest value over all teeth."""

    displacement: float
    force: float
    moment: float


@dataclass(frozen=True)
class Solution:
    """A solved scenario: the equilibrium, every tooth, every wire, the arch, and what to warn of.

    `seconds` are those of building and solving; `refinement` is None unless it was asked for.
    """

    scenario: Scenario
    appliance: Appliance
    equilibrium: Equilibrium
    teeth: Mapping[int, ToothView]
    wires: Mapping[str, WireView]
    arch: ArchView
    warnings: tuple[str, ...]
    seconds: float
    refinement: Refinement | None = None
    _reports: dict[int, dict[str, Value]] = field(default_factory=dict, repr=False, compare=False)

    def tooth(self, number: int) -> dict[str, Value]:
        """Return all quantities of one tooth by key, such as "force_N" (see biomech.outputs)."""
        if number not in self._reports:
            if number not in self.teeth:
                from biomech.errors import InputError

                present = ", ".join(str(n) for n in self.teeth)
                raise InputError(f"tooth {number} is not in this arch; present: {present}")
            self._reports[number] = report(self.teeth[number])
        return self._reports[number]


def solve(scenario: Scenario, *, progress: Callable[[str, float], None] | None = None) -> Solution:
    """Return the solution of a scenario.

    `progress(what, share)` is called now and then. Raises InputError when the parts do not go together and SolveError
    when no trustworthy equilibrium was found.
    """
    begin = time.perf_counter()
    appliance, solved = _equilibrium(scenario, 1, progress)
    teeth = tooth_views(appliance, solved)
    refinement = None
    if scenario.solve.refinement:
        fine = tooth_views(*_equilibrium(scenario, 2, progress))
        refinement = compare_meshes(teeth, fine)
    return replace(assembled(appliance, solved, teeth, refinement), seconds=time.perf_counter() - begin)


def assembled(
    appliance: Appliance, solved: Equilibrium, teeth: Mapping[int, ToothView], refinement: Refinement | None = None
) -> Solution:
    """Return the solution that an equilibrium (one variant) of an appliance is; its `seconds` are 0."""
    wires, arch = wire_views(appliance, solved), arch_view(appliance, solved, teeth)
    found = warnings_of(appliance, solved, teeth, wires, arch)
    return Solution(appliance.scenario, appliance, solved, teeth, wires, arch, found, 0.0, refinement)


def settings_of(scenario: Scenario) -> Settings:
    """Return the solver settings of a scenario."""
    return Settings(
        tolerance=scenario.solve.tolerance,
        smallest_increment=2.0**-scenario.solve.max_halvings,
        largest_shift=0.08,
        largest_turn=0.5,
    )


def _equilibrium(
    scenario: Scenario, refine: int, progress: Callable[[str, float], None] | None
) -> tuple[Appliance, Equilibrium]:
    appliance = build(scenario, refine=refine)
    solved = equilibrium(
        appliance.network, appliance.start, settings=settings_of(scenario), progress=progress
    )
    return appliance, solved


def compare_meshes(coarse: Mapping[int, ToothView], fine: Mapping[int, ToothView]) -> Refinement:
    """Return the largest relative change between two meshes."""

    def change(value: Callable[[ToothView], np.ndarray]) -> float:
        a = np.array([value(coarse[n]) for n in coarse])
        b = np.array([value(fine[n]) for n in coarse])
        scale = np.abs(b).max(initial=0.0)
        return float(np.abs(a - b).max(initial=0.0) / scale) if scale > 0 else 0.0

    return Refinement(
        change(lambda v: v.displacement(v.part.tooth.landmarks["edge"])),
        change(lambda v: v.wrench[:3]),
        change(lambda v: v.moment_at(v.bracket)),
    )
