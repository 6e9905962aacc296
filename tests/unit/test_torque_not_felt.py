"""Torque that makes no moment: lost in play, or more than play and yet without effect."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from biomech.scenario import load
from biomech.studies import solve
from biomech.studies.warnings import play_of

FOLDER = Path(__file__).resolve().parents[2] / "scenarios"


@pytest.mark.parametrize("angle", [3.0, 6.0])
def test_less_than_the_play_is_lost_in_it(angle: float) -> None:
    scenario = load(FOLDER / "upper-main-wire.toml").changed({"wire.main": {
        **load(FOLDER / "upper-main-wire.toml").document["wire"]["main"], "torque": {"16": f"{angle} deg buccal root"},
    }})  # fmt: skip
    found = solve(scenario)
    play = play_of(found.appliance, "main")
    assert play is not None and np.radians(angle) < play
    assert [w for w in found.warnings if f"not felt at tooth 16 ({angle:.0f} deg): lost in the slot's play" in w]


def test_more_than_the_play_is_not_said_to_be_lost_in_it() -> None:
    # equal twist along a block of teeth turns the wire there and twists it nowhere but at the block's ends
    found = solve(load(FOLDER / "upper-overlay-torque-20.toml"))
    texts = [w for w in found.warnings if "not felt" in w]
    assert texts and all("lost in" not in w for w in texts)
    assert any("though it is more than the slot's play" in w and "twisted alike" in w for w in texts)
