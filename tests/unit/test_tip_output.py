"""Ratios to a crown's movement: tip per mm is 57.3 / R about a centre R below the edge; none where the crown rests."""

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


@pytest.mark.parametrize(("share", "told"), [(0.05, False), (-0.09, False), (0.11, True), (-0.2, True), (1.0, True)])
def test_a_crown_that_rests_beside_its_apex_has_no_ratios_but_its_movement_a_name(view, share, told):
    # a turn about the point at which the long axis goes `share` at the edge of what it goes at the apex
    edge, apex = (view.part.tooth.landmarks[k] for k in ("edge", "apex"))
    up, root = view.jaw * (apex[2] - edge[2]), 0.05
    crown = share * root
    w = np.array([view.jaw * (crown - root) / up, 0.0, 0.0])
    motion = np.concatenate([[0.0, crown, 0.0] - np.cross(w, edge), w])
    moved = replace(view, motion=motion, pose=_pose(view, w, np.zeros(3), motion[:3]))
    found = {key: one.compute(moved) for key, one in REGISTRY.items()}
    axis = found["long_axis_mm"]
    assert (axis["crown"], axis["apex"]) == pytest.approx((crown, root), rel=1e-3)
    assert found["movement"] == ("bodily movement" if share == 1.0 else "root movement")
    if told:
        assert found["apex_to_crown"] == pytest.approx(1 / share)
        tip = np.degrees((crown - root) / up) / crown
        assert found["tip_deg_per_mm"] == pytest.approx(tip, rel=1e-3, abs=1e-9)
    else:
        assert found["apex_to_crown"] is None and found["tip_deg_per_mm"] is None


def _pose(view, w, centre, shift=(0.0, 0.0, 0.0)):
    from biomech.mechanics.poses import Pose, rotation_exp

    turn = rotation_exp(w)
    return view.part.pose @ Pose(turn, centre - turn @ centre + np.asarray(shift))
