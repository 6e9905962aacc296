"""What is read off an arch at a moment of a course."""

from __future__ import annotations

import numpy as np
import pytest

from biomech.appliance import build
from biomech.mechanics.newton import Settings
from biomech.mechanics.poses import Pose, rotation_exp
from biomech.movement.march import Mover
from biomech.movement.readings import Reader, Reading
from biomech.rates import make_rate
from biomech.scenario import Scenario

MOLAR = build(Scenario.parse({
    "format": 1, "title": "one", "ligament": {"law": "linear"},
    "arch": {"jaw": "upper", "form": "beta", "width": "62 mm", "depth": "45 mm", "teeth": [16]},
    "force": [{"tooth": 16, "force": {"buccal": "1 N"}}],
}))  # fmt: skip


def read(turn: list[float]) -> Reading:
    """Read the molar turned (rad) about the origin of its frame."""
    start, part = MOLAR.start, MOLAR.teeth[16]
    turned = start.rotation.copy()
    turned[0, part.frame] = turned[0, part.frame] @ rotation_exp(np.array(turn))
    mover = Mover(MOLAR, make_rate("logarithmic"), Settings())
    moment = mover.moment(0.0, Pose(turned, start.position), MOLAR.network.start_states())
    return Reader(MOLAR, Pose(part.pose.rotation[None], part.pose.position[None])).read(moment)


@pytest.mark.parametrize("angle", [0.2, -0.2])
def test_a_turn_about_the_long_axis_is_no_lead_of_the_crown(angle: float) -> None:
    reading = read([0.0, 0.0, angle])
    assert abs(reading.turn[0, 2]) == pytest.approx(np.degrees(0.2))
    assert np.linalg.norm(reading.edge[0]) > 0.1  # the buccal cusp goes
    assert np.abs([reading.crown, reading.apex]).max() < 1e-9 and abs(reading.lead[0]) < 1e-9  # the axis does not


@pytest.mark.parametrize("angle", [0.01, 0.1])
def test_a_tip_is_a_lead_by_the_length_between_both_points(angle: float) -> None:
    marks = MOLAR.teeth[16].tooth.landmarks
    reading = read([angle, 0.0, 0.0])
    length = abs(marks["edge"][2] - marks["apex"][2])
    assert abs(reading.lead[0]) == pytest.approx(length * np.sin(angle))
    assert np.sign(reading.lead[0]) == -np.sign(reading.turn[0, 0])  # a crown that leads has a root that lags
