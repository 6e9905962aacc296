"""What was checked in the run a report shows, with the figures found, and what was not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from biomech.mechanics.contact import ContactLaw
from biomech.mechanics.newton import relative_error
from biomech.report.html.markup import Raw, table
from biomech.studies import Solution
from biomech.studies.solve import settings_of

MET, FAILED, FIGURE, MISSING = "met", "NOT met", "a figure, no limit", "not computed"
ROUNDING = 10.0
"""Times the tolerance that still counts as found; as in movement.leg."""
BALANCE = 1e-6
"""Sum of the wires' forces on all teeth, relative to the sum of their sizes (at least 1 N), that is allowed."""


@dataclass(frozen=True)
class Check:
    """One check of a run: what, the figure `found`, what it is held `against`, and the `verdict`."""

    what: str
    found: str
    against: str
    verdict: str


@dataclass(frozen=True)
class Checked:
    """All checks of a run, and sentences on what none of them covers."""

    checks: Sequence[Check]
    missing: Sequence[str]


def verdict(good: bool) -> str:
    """Return the word for a check that has a limit."""
    return MET if good else FAILED


def checked(solution: Solution, record: Mapping[str, Any], refined: Sequence[Check]) -> Checked:
    """Return what was checked in a solution of one moment; `refined` are the checks of its mesh."""
    solved = record["convergence"]
    checks = [
        residual([solution], solved["tolerance_relative"], "after "
                 f"{solved['newton_steps']} Newton steps, {solution.seconds:.1f} s"),
        _stable(solved),
        *([balance(*(record["balance"][key] for key in ("force_N", "moment_N_mm", "throughput_N")))]
          if solution.wires else []),
        *walls([solution], settings_of(solution.scenario).contact_tolerance),
        *refined,
        *sides(solution),
        *expected(record["expectations"], "the scenario expects"),
    ]  # fmt: skip
    return Checked(checks, list(not_covered(solution)))


def sides(solution: Solution) -> list[Check]:
    """Return how differently crowns of fellow teeth, right and left, move: not at all in a case alike on both sides."""
    teeth = solution.teeth
    fellows = {n: 10 * {1: 2, 4: 3}[n // 10] + n % 10 for n in teeth if n // 10 in (1, 4)}
    words = {n: v.words(v.displacement(v.part.tooth.landmarks["edge"])) for n, v in teeth.items()}
    moved = {n: np.array(list(by_way.values())) for n, by_way in words.items()}
    pairs = [(moved[n], moved[m]) for n, m in fellows.items() if m in moved]
    if not pairs:
        return []
    apart = max(float(np.abs(a - b).max()) for a, b in pairs)
    largest = max(float(np.abs(value).max()) for value in moved.values())
    share = f", {100 * apart / largest:.2g} % of the largest" if largest > 0 else ""
    return [Check("left against right", f"crowns of fellow teeth move up to {1e3 * apart:.2g} µm differently{share}",
                  "nothing in a case that is alike on both sides", FIGURE)]  # fmt: skip


def residual(solutions: Sequence[Solution], allowed: float, note: str) -> Check:
    """Return the check of the forces left over at frames, the worst of some moments."""
    every = [s.equilibrium for s in solutions]
    worst = max(float(relative_error(e.network.residual(e.evaluation, e.poses), e.evaluation)[0]) for e in every)
    good = all(e.residual[0] <= ROUNDING * allowed for e in every)  # what rounding leaves is taken off there
    against = f"{allowed:.0e}, or what the rounding of coordinates leaves of stiff wires; {note}"
    return Check("forces in equilibrium", f"{worst:.1e} of the largest left over", against, verdict(good))


def balance(force: float, moment: float, through: float, note: str = "") -> Check:
    """Return the check that the wires' forces on all teeth add up to nothing, as action and reaction must."""
    told = f"; {note}" if note else ""
    return Check("wires push and pull alike", f"{force:.1e} N and {moment:.1e} N·mm left over",
                 f"{BALANCE:.0e} of {through:.3g} N, the forces on all teeth added up by size{told}",
                 verdict(force <= BALANCE * max(through, 1.0)))  # fmt: skip


def _stable(solved: Mapping[str, Any]) -> Check:
    left = "; an unstable equilibrium was found first and left" if solved["unstable_state_left"] else ""
    what, against = "the equilibrium is stable", "no negative pivot of the tangent"
    if solved["stable"] is None:
        return Check(what, "cannot be judged: loads without a potential", against, MISSING)
    pivots = solved["negative_pivots"]
    return Check(what, f"{pivots} negative pivots{left}", against, verdict(pivots == 0))


def walls(solutions: Sequence[Solution], tolerance: float) -> list[Check]:
    """Return how far wires press into the walls of slots, tubes and ties, which stand for stiff contacts."""
    deepest, pushing, count = 0.0, 0, 0
    for solution in solutions:
        evaluation = solution.equilibrium.evaluation
        for group, kinematics in zip(solution.equilibrium.network.groups, evaluation.kinematics, strict=True):
            if isinstance(group.law, ContactLaw):
                depth = group.law.walls(kinematics.strain)[0]
                deepest = max(deepest, float(depth.max(initial=0.0)))
                pushing, count = pushing + int((depth > 0).sum()), count + depth.size
    if count == 0:
        return []
    return [Check("contacts of wires with slots, tubes and ties", f"{pushing} of {count} push, {1e3 * deepest:.2g} µm "
                  "deep at most", f"none pulls; the search for them ends at {tolerance:.0e} N·mm of force times gap",
                  FIGURE)]  # fmt: skip


def expected(outcomes: Sequence[Mapping[str, Any]], who: str) -> list[Check]:
    """Return the check of a file's own claims, none when it makes none."""
    if not outcomes:
        return []
    met = sum(bool(outcome["met"]) for outcome in outcomes)
    good = verdict(met == len(outcomes))
    return [Check(f"what {who}", f"{met} of {len(outcomes)} met", "the file's own claims", good)]


def not_covered(solution: Solution) -> Iterator[str]:
    """Yield what no check of a run covers, from what its scenario holds."""
    wires = solution.scenario.wire
    if any(getattr(hold, "slides", None) == "free" for wire in wires.values() for hold in wire.hold):
        yield "Friction: wires held with slides = free were taken to slide without any."
    rigid = [str(n) for n, view in solution.teeth.items() if view.part.ligament is None]
    if rigid:
        yield f"Movement of teeth held rigidly: {', '.join(rigid)}."
    if wires:
        yield (
            "How much bracket position, bends and the stiffness of ties and ligatures matter: only what stands in the "
            "table of sensitivity was varied."
        )
    yield "Whether crowns, roots and ligaments are those of a patient."


def checks_table(found: Checked) -> Raw:
    """Return the checks as a table."""
    rows: list[list[object]] = [[c.what, c.found, c.against, c.verdict] for c in found.checks]
    head = [[("check", 1), ("found", 1), ("allowed, or with what", 1), ("", 1)]]
    return table("What was checked in this run.", head, rows, words=(1, 2, 3))
