"""A tooth against its bands: no force along the tooth or along the arch is passed over for a small buccal one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from biomech.outputs.limits import ALONG, AXIAL_IN, AXIAL_OUT, TIPPING, applied, bands, held_force
from biomech.report.html.card import card
from biomech.scenario import load
from biomech.studies import solve
from biomech.studies.solve import CAUTION
from biomech.studies.warnings import warnings_of

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@pytest.fixture(scope="module")
def solution():
    return solve(load(SCENARIOS / "one-tooth-at-bracket.toml"))


def pulled(solution, mesial=0.0, buccal=0.0, occlusal=0.0):
    """The tooth that tips buccally, under another force, N."""
    view = solution.teeth[13]
    force = np.array([0.0, buccal, -view.jaw * occlusal])
    force[0] = mesial if view.words(np.array([1.0, 0.0, 0.0]))["mesial"] > 0 else -mesial
    found = replace(view, wrench=np.concatenate([force, np.zeros(3)]))
    assert found.words(found.wrench[:3]) == pytest.approx({"mesial": mesial, "buccal": buccal, "occlusal": occlusal})
    return found


@pytest.mark.parametrize(
    ("force", "band", "value", "where"),
    [
        ({"buccal": 0.5}, TIPPING, 0.5, "within"),
        ({"buccal": 0.04, "occlusal": 7.2}, AXIAL_OUT, 7.2, "above"),
        ({"buccal": 0.5, "occlusal": -0.3}, AXIAL_IN, 0.3, "above"),
        ({"buccal": 0.5, "occlusal": -0.15}, TIPPING, 0.5, "within"),
        ({"buccal": 0.9, "occlusal": -0.25}, TIPPING, 0.9, "above"),
        ({"buccal": 0.1, "mesial": 2.4}, ALONG, 2.4, "above"),
        ({"buccal": 0.1, "mesial": -1.1}, TIPPING, 0.1, "below"),
    ],
)
def test_the_band_that_is_exceeded_most_decides(solution, force, band, value, where):
    view = pulled(solution, **force)
    found = held_force(applied(view))
    assert found is not None and found[0] is band and found[1] == pytest.approx(value)
    assert bands(view)["force"] == where


def test_card_and_warnings_name_a_tooth_that_is_pulled_out(solution):
    view = pulled(solution, buccal=0.04, occlusal=7.2)
    page = str(card(replace(solution, teeth={13: view}), "now", CAUTION))
    assert "extrusion" in page and "force for extrusion above its band of 0.35 to 0.6 N: tooth 13 (7.2)" in page
    told = warnings_of(solution.appliance, solution.equilibrium, {13: view}, solution.wires, solution.arch)
    assert any(w.startswith("force for extrusion above its published band") and "13 (7.2 N)" in w for w in told)
