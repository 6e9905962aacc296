"""The example courses, run: what their headers say."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from biomech.scenario import load
from biomech.studies.course import Course, run_course

FOLDER = Path(__file__).parents[2] / "scenarios"


@cache
def course(name: str) -> Course:
    return run_course(load(FOLDER / f"course-{name}.toml"))


def test_overlay_alone_tips_the_molars_at_first() -> None:
    found = course("overlay").visits[1].before
    assert found is not None
    row = found.of(16)
    assert found.crown[row, 1] > 0.5 and found.apex[row, 1] < 0.5 * found.crown[row, 1]
    assert found.turn[row, 0] < -2.0  # degrees, root lingual against the crown
    assert found.cusp[row] > 0.2  # the palatal cusp has come down


def test_torque_takes_the_root_along_and_keeps_the_cusp_at_some_price_of_width() -> None:
    alone, torque = (course(name).visits[4].before for name in ("overlay", "overlay-torque"))
    assert alone is not None and torque is not None
    row = alone.of(16)
    assert torque.lead[row] < alone.lead[row] - 1.0
    assert abs(torque.cusp[row]) < 0.5 * alone.cusp[row]
    assert torque.widths[6] < alone.widths[6] and torque.apex_widths[6] > alone.apex_widths[6] + 1.0


def test_the_rule_acts_and_says_so() -> None:
    ruled = course("overlay-rule")
    assert any("crown leads root at 16" in line and "6 deg buccal root torque added" in line for line in ruled.visits[1].rules)
    assert any("'overlay' eased by 0.5 mm" in line for line in ruled.visits[1].rules)
    assert ruled.readings[-1].lead[1] < course("overlay").readings[-1].lead[1]


def test_rates_of_widening_are_plausible_and_the_wire_is_never_overtaken() -> None:
    # plausibility only: 0.8 +- 0.3 mm a month between molars (doi 10.4103/apos.apos_70_18, abstract), 0.5 to 1.1 taken
    # as the band; with less activation after the first visits the mean of a year lies lower
    alone = course("overlay")
    start, month = alone.readings[0], alone.readings[alone.index_at(30.4)]
    assert 0.3 < month.widths[6] - start.widths[6] < 2.5
    assert max(r.widths[6] for r in alone.readings) < start.widths[6] + 2 * 4.0  # the overlay was set 4 mm a side at most


def test_forces_balance_at_all_times() -> None:
    for name in ("overlay", "overlay-torque"):
        for reading in course(name).readings:
            assert reading.unbalanced < 1e-6 and reading.unbalanced_moment < 1e-5
            assert np.isfinite(reading.force).all()
