"""Own earlier output (2026-11), to notice a change. Not validation: these numbers prove nothing but sameness."""

from pathlib import Path

import pytest

from biomech.scenario import load
from biomech.studies import solve

SCENARIOS = Path(__file__).parents[2] / "scenarios"
EARLIER = {  # crown and apex of 16 (mm, buccal), torque moment at its bracket (N.mm), buccal force (N)
    "upper-overlay.toml": (0.07935, -0.01971, -0.401, 0.829),
    "upper-overlay-molar-torque-18.toml": (0.04945, -0.00187, 14.99, 1.396),
    "upper-overlay-torque-shared.toml": (0.04084, -0.00504, 3.642, 0.6225),
}


@pytest.mark.parametrize("name", EARLIER)
def test_first_molar_as_before(name):
    tooth = solve(load(SCENARIOS / name)).tooth(16)
    now = (
        tooth["crown_mm"]["buccal"],
        tooth["apex_mm"]["buccal"],
        tooth["moment_at_bracket_N_mm"]["torque"],
        tooth["force_N"]["buccal"],
    )
    assert now == pytest.approx(EARLIER[name], rel=0.02, abs=3e-4)
