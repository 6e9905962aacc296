"""Crown tip per millimetre: 57.3 / R about a centre R below the edge, nothing where the crown does not move."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from biomech.outputs import REGISTRY
from biomech.scenario import load
from biomech.studies import solve

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@pytest.fixture(scope="module")
def view():
    return next(iter(solve(load(SCENARIOS / "one-tooth-at-bracket.toml")).teeth.values()))


def test_tipping_about_a_centre(view):
    # tip per mm = 1/R: definition of a rotation about a point at distance R from the edge
    small, distance = 1e-4, 20.0
    edge = view.part.tooth.landmarks["edge"]
    w = np.array([view.jaw * small, 0.0, 0.0])  # crown buccal
    centre = edge + np.array([0.0, 0.0, view.jaw * distance])
    turned = replace(view, motion=np.concatenate([-np.cross(w, centre), w]), pose=_pose(view, w, centre))
    assert REGISTRY.get("tip_deg_per_mm").compute(turned) == pytest.approx(math.degrees(1 / distance), rel=1e-3)


def test_translation_does_not_tip_and_rest_says_nothing(view):
    moved = _pose(view, np.zeros(3), np.zeros(3), shift=np.array([0.0, 0.1, 0.0]))
    assert REGISTRY.get("tip_deg_per_mm").compute(replace(view, motion=np.array([0, 0.1, 0, 0, 0, 0]), pose=moved)) == 0
    still = replace(view, motion=np.zeros(6), pose=view.part.pose)
    assert REGISTRY.get("tip_deg_per_mm").compute(still) is None


def _pose(view, w, centre, shift=(0.0, 0.0, 0.0)):
    from biomech.mechanics.poses import Pose, rotation_exp

    turn = rotation_exp(w)
    return view.part.pose @ Pose(turn, centre - turn @ centre + np.asarray(shift))
