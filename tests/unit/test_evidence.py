"""How much of a movement lies outside what its rate law was measured at, and that the reader is told."""

from __future__ import annotations

from typing import Any

import pytest
from test_limits import ONE

from biomech.movement.evidence import Travel, outside
from biomech.rates import make_rate
from biomech.scenario import Scenario
from biomech.studies.course import Course, run_course


def pulled(force: str, **course: Any) -> Course:
    load = {"tooth": 13, "at": "centre of resistance", "force": {"buccal": force}, "follows": "tooth"}
    return run_course(Scenario.parse({**ONE, "force": [load], "course": {"duration": "20 days", **course}}))


@pytest.mark.parametrize(("force", "below", "above"), [("0.1 N", 1, 0), ("0.6 N", 0, 0), ("4 N", 0, 1)])
def test_a_steady_load_is_inside_or_outside_for_all_its_way(force: str, below: int, above: int) -> None:
    # 44.5 mm2 of effective area: 4 kPa are 0.18 N, 78 kPa 3.5 N
    gone = pulled(force).legs[0].travel
    assert gone.way > 0.3
    assert gone.below == pytest.approx(below * gone.way) and gone.above == pytest.approx(above * gone.way)
    assert gone.bounded == 0.0


def test_the_course_says_what_lies_outside() -> None:
    light, heavy = pulled("0.1 N"), pulled("4 N")
    assert any("100 % of the way" in w and "below 4 kPa" in w for w in light.warnings)
    assert any("above 78 kPa" in w for w in heavy.warnings)
    assert not any("% of the way" in w for w in pulled("0.6 N").warnings)


def test_the_bound_that_sets_the_pace_is_told() -> None:
    course = pulled("0.6 N", most="0.3 mm/month")
    assert course.legs[0].travel.bounded == pytest.approx(course.legs[0].travel.way)
    assert any("`most` set the speed on 100 % of the way" in w for w in course.warnings)


def test_a_form_without_data_and_a_little_outside_say_nothing() -> None:
    assert outside(make_rate("proportional"), Travel(10.0, 10.0, 0.0, 0.0)) == ()
    assert outside(make_rate("logarithmic"), Travel(10.0, 0.5, 0.5, 0.5)) == ()
    assert outside(make_rate("logarithmic"), Travel()) == ()
    assert len(outside(make_rate("power"), Travel(10.0, 3.0, 3.0, 3.0))) == 3


def test_travel_adds_up() -> None:
    assert Travel(1.0, 2.0, 3.0, 4.0) + Travel(0.5, 0.5, 0.5, 0.5) == Travel(1.5, 2.5, 3.5, 4.5)


def test_a_least_stress_that_holds_every_tooth_is_told_and_shares_of_the_bound_know_of_it() -> None:
    held = pulled("0.1 N", least="10 kPa")
    assert held.legs[0].travel.way < 1e-9
    assert any("no tooth has moved: every stress stayed below `least` = 10 kPa" in w for w in held.warnings)
    slow = pulled("0.1 N", least="2 kPa", most="0.3 mm/month")  # 2.2 kPa: the law has hardly come in
    bound = slow.law.most
    assert bound is not None and slow.legs[0].travel.way < 20 * 0.99 * bound
    assert slow.legs[0].travel.bounded == 0.0
