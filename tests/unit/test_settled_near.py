"""After a visit: the equilibrium found from the walls that pushed before it is that of a search from scratch."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from test_course import scenario

from biomech.movement import carry
from biomech.movement.carry import carried, settled
from biomech.movement.contacts import settled_near
from biomech.movement.leg import moment_at
from biomech.studies.course import Leg, run_course

CHANGES: list[dict[str, Any]] = [
    {"reactivate": {"overlay": "1 mm"}},
    {"torque": {"main": {"13": "8 deg buccal root", "23": "8 deg buccal root"}}},
    {"remove": ["overlay"]},
    {"wire": {"main": {"height": "0.018 in"}}},
]


def legs(change: dict[str, Any], **keys: Any) -> tuple[Leg, Leg]:
    model = scenario(visit=[{"after": "14 days", **change}], duration="15 days")
    first, second = run_course(model.changed(keys) if keys else model).legs
    return first, second


@pytest.mark.parametrize("change", CHANGES)
def test_it_is_the_equilibrium_of_a_search_from_scratch(change: dict[str, Any]) -> None:
    first, second = legs(change)
    now = moment_at(first.mover, first.track, len(first.track) - 1)
    poses, states = carried(first.appliance, now, second.appliance)
    settings, network = second.mover.settings, second.appliance.network
    near = settled_near(network, poses, states, settings)
    assert near is not None and near.converged.all() and near.negative[0] == 0
    scratch = settled(second.appliance, poses, states, settings)
    np.testing.assert_allclose(near.poses.position, scratch.poses.position, atol=1e-8)
    np.testing.assert_allclose(near.poses.rotation, scratch.poses.rotation, atol=1e-8)
    assert near.energy == pytest.approx(scratch.energy, rel=1e-8)
    assert near.steps[0] < scratch.steps[0]


def test_where_it_is_not_found_so_the_search_from_scratch_is(monkeypatch: pytest.MonkeyPatch) -> None:
    first, second = legs(CHANGES[0])
    now = moment_at(first.mover, first.track, len(first.track) - 1)
    poses, states = carried(first.appliance, now, second.appliance)
    monkeypatch.setattr(carry, "settled_near", lambda *_: None)
    found = settled(second.appliance, poses, states, replace(second.mover.settings), near=True)
    assert found.converged.all()


def test_friction_is_searched_from_scratch() -> None:
    hold = {"teeth": "all", "by": "slot", "ligature": "steel", "slides": "friction", "friction": 0.2}
    first, second = legs(CHANGES[0], **{"wire.main.hold": [hold]})
    now = moment_at(first.mover, first.track, len(first.track) - 1)
    poses, states = carried(first.appliance, now, second.appliance)
    assert settled_near(second.appliance.network, poses, states, second.mover.settings) is None
