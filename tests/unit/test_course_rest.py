"""Rest of teeth after wires are changed: how long it lasts, whatever is looked at meanwhile."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from test_course import scenario

from biomech.studies.course import run_course


@pytest.mark.parametrize("visits", [[], [{"after": "10 days"}], [{"after": "4 days"}, {"after": "25 days"}]])
def test_a_visit_to_look_neither_cuts_the_rest_of_teeth_short_nor_begins_it_anew(visits: list[dict[str, Any]]) -> None:
    course = run_course(scenario(visit=visits, lag="20 days", duration="30 days"))
    rest = [r for r in course.readings if r.day <= 20.0]
    assert max(r.day for r in rest) == 20.0 and all(np.array_equal(r.crown, rest[0].crown) for r in rest)
    assert np.abs(course.readings[-1].crown - rest[0].crown).max() > 0.1


def test_a_change_of_wires_begins_the_rest_of_teeth_anew() -> None:
    visit = [{"after": "10 days", "reactivate": {"overlay": "0.5 mm"}}]
    course = run_course(scenario(visit=visit, lag="15 days", duration="30 days"))
    assert [leg.track.times[1] for leg in course.legs] == [10.0, 25.0]
