"""What was checked in a course, with the figures found, and what was not."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from biomech.mechanics.banded import negative_pivots
from biomech.report.html.checks import (
    FIGURE,
    MISSING,
    Check,
    Checked,
    balance,
    expected,
    not_covered,
    residual,
    sides,
    verdict,
    walls,
)  # fmt: skip
from biomech.report.html.markup import number
from biomech.report.html.mesh_study import mesh
from biomech.report.moments import worst_balance
from biomech.studies import Solution
from biomech.studies.course import Course
from biomech.studies.solve import settings_of


def checked_course(course: Course, shown: Sequence[Solution], outcomes: Sequence[dict[str, Any]]) -> Checked:
    """Return what was checked in a course; `shown` are its moments on the page, `outcomes` of what it expects."""
    settings = settings_of(course.scenario)
    checks = [
        residual(shown, settings.tolerance, f"worst of {len(shown)} moments shown"),
        _stable(shown),
        *_balance(course),
        *walls(shown, settings.contact_tolerance),
        *_time(course),
        *mesh(shown[0], "on the first day"),
        *sides(shown[0]),
        *expected(outcomes, "the scenario expects of the course"),
    ]
    return Checked(checks, [*_left_out(course), *not_covered(shown[0])])


def _balance(course: Course) -> Iterator[Check]:
    """Yield the worst balance of the wires at any moment, nothing where there never is a wire."""
    if any(r.wires for r in course.readings):
        worst, note = worst_balance(course), f"worst of {len(course.times)} moments"
        yield balance(worst.unbalanced, worst.unbalanced_moment, worst.throughput, note)


def _stable(shown: Sequence[Solution]) -> Check:
    """Return whether every moment shown is a stable equilibrium of wires and teeth, sockets standing still."""
    what, against = "the equilibria are stable", "no negative pivot of the tangent, sockets standing still"
    good = judged = 0
    for solution in shown:
        network, evaluation = solution.equilibrium.network, solution.equilibrium.evaluation
        if network.has_potential(evaluation):
            judged += 1
            lower = network.tangent(evaluation, solution.equilibrium.poses, exact=True, coupled=True)[0]
            good += negative_pivots(lower) == 0
    if judged == 0:
        return Check(what, "cannot be judged: loads without a potential", against, MISSING)
    return Check(what, f"{good} of {judged} moments shown", against, verdict(good == judged))


def _time(course: Course) -> Iterator[Check]:
    """Yield the error in time: what a step may err, and what the steps together are estimated to have erred."""
    errors = np.concatenate([leg.track.errors for leg in course.legs])
    steps = int((errors > 0).sum())
    yield Check(
        "steps in time", f"{steps} steps, the largest estimated error {1e3 * errors.max(initial=0.0):.2g} µm",
        f"{course.tolerance:.0e} of the movement and 0.3 mm, in each step (of the worst tooth)", FIGURE,
    )  # fmt: skip
    last = course.readings[-1]
    largest = float(np.abs([last.crown, last.apex]).max(initial=0.0))
    total = f"{1e3 * errors.sum():.2g} µm if none of it were forgotten (worst tooth of each)"
    yield Check(
        "all steps together", total,
        f"largest movement of a crown or apex at the end: {number(largest, 2)} mm", FIGURE,
    )  # fmt: skip


def _left_out(course: Course) -> Iterator[str]:
    model = course.scenario.course
    assert model is not None
    yield "The mesh on later days: elements were halved for the first day only."
    yield f"Other rate laws and other speeds than “{course.law.name}” as given: the course would be another one."
    yield (
        "What other wires, play or ligaments would make of the whole course: sensitivity is that of its first day. "
        "biomech compare with --vary runs courses side by side."
    )
    bare = [n for n in course.readings[0].teeth if n not in model.bone]
    if bare:
        names = "any tooth" if len(bare) == len(course.readings[0].teeth) else f"tooth {', '.join(map(str, bare))}"
        yield f"Bone: no boundary was given for {names}; roots may have left it unnoticed."
    close = sorted({flag.tooth for flag in course.flags if flag.kind == "contact" and flag.tooth is not None})
    met = f"; at tooth {', '.join(map(str, close))} neighbours would have met, see the visits" if close else ""
    yield f"Contact between neighbouring teeth: the model has none, it only says when they come closer{met}."
    resumed = sum(leg.resumed for leg in course.legs)
    if resumed:
        whole = len(course.legs)
        yield f"{resumed} of {whole} stretches between visits were not computed again but read from an earlier run."
