"""Every scenario in scenarios/ solves and meets what its header promises."""

from pathlib import Path

import pytest

from biomech.scenario import load
from biomech.studies import record, solve
from biomech.studies.record import expectations

FILES = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))


def test_there_are_scenarios():
    assert len(FILES) >= 20


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_meets_its_promises(file):
    header = file.read_text(encoding="utf-8").splitlines()[0]
    assert header.startswith("# ")
    scenario = load(file)
    assert scenario.expect
    assert "Invented case." in scenario.note or scenario.note == ""
    solution = solve(scenario)
    outcomes = expectations(scenario, record(solution))
    assert len(outcomes) == len(scenario.expect)
    assert [o for o in outcomes if not o.met] == []
