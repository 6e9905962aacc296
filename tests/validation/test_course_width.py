"""A course gives no more width than its wire was set to, and does not swing past it.

Computed: without friction the wire's energy only falls while the sockets follow their teeth, so the brackets come to
rest where the wire is passive, in the form it was given, and nothing carries them beyond. How much of that form is
reached within two years is a matter of the rate law (plausible, no check).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from biomech.scenario import load
from biomech.studies.course import run_course

SCENARIOS = Path(__file__).parents[2] / "scenarios"
SIDE = 2.0
"""Widening of the wire on each side at the first molars, mm."""


@pytest.fixture(scope="module", params=["stainless as drawn", "nickel-titanium, superelastic"])
def course(request):
    scenario = load(SCENARIOS / "upper-main-wire.toml").changed(
        {
            "wire.main": {
                "section": "round", "diameter": "0.018 in", "alloy": request.param, "elements_per_span": 1,
                "widen": {"each_side": f"{SIDE} mm"},
                "hold": [{"teeth": "all", "by": "slot", "ligature": "steel", "slides": "free"},
                         {"teeth": [11], "by": "slot", "ligature": "steel", "slides": "tied back"}],
            },
            "course": {"law": "logarithmic", "duration": "24 months", "tolerance": 1e-2},
        }
    )  # fmt: skip
    return run_course(scenario)


def between_slots(course, i, pair):
    """The distance between the slots of a tooth and its fellow at one moment, mm."""
    views = [course.solution_at(i).teeth[n] for n in pair]
    return float(np.linalg.norm(np.subtract(*(v.pose.point(v.part.slot_in_tooth.position) for v in views))))


def test_no_more_than_the_wires_own_set_width(course):
    passive = {n: p.pose.point(p.slot_in_tooth.position) for n, p in course.legs[0].appliance.teeth.items()}
    moments = range(len(course.times))
    for pair in ((13, 23), (14, 24), (15, 25), (16, 26)):
        before = float(np.linalg.norm(passive[pair[0]] - passive[pair[1]]))
        gains = np.array([between_slots(course, i, pair) - before for i in moments])
        assert gains.max() <= 2 * SIDE + 0.05, pair  # the wire's clearance in its slots, 0.05 mm a side
        assert gains[-1] >= gains.max() - 0.05, pair  # and no swinging back
        assert gains[-1] > (2.0 if pair == (16, 26) else 0.5), pair
    energies = [r.wires["main"].energy for r in course.readings]
    assert energies[-1] < 0.02 * energies[0]
