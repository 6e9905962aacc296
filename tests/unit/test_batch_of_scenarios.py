"""Scenarios solved together give what they give alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from biomech.errors import InputError
from biomech.scenario import load
from biomech.studies import batch as batch_module
from biomech.studies import record, solve
from biomech.studies.batch import solve_all

SCENARIOS = Path(__file__).parents[2] / "scenarios"


def torque(scenario, *degrees):
    return [
        scenario.changed({f"wire.main.torque.{n}": f"{d} deg buccal root" for n in (16, 26)}) for d in degrees
    ]


def numbers(value, path=""):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from numbers(inner, f"{path}.{key}")
    elif isinstance(value, float):
        yield path, value


def test_a_batch_equals_single_solutions(monkeypatch):
    scenarios = torque(load(SCENARIOS / "upper-overlay.toml"), 10, 21)
    alone = [solve(s) for s in scenarios]
    monkeypatch.setattr(batch_module, "solve", None)  # nothing may be solved by itself now
    together = solve_all(scenarios)
    for one, other in zip(alone, together, strict=True):
        a, b = (dict(numbers({k: record(s)[k] for k in ("teeth", "wires", "arch")})) for s in (one, other))
        assert a.keys() == b.keys()
        for key, value in a.items():
            assert b[key] == pytest.approx(value, rel=1e-5, abs=1e-7), key
        assert one.warnings == other.warnings
        assert other.seconds > 0


def test_unlike_scenarios_are_solved_one_by_one():
    scenarios = [load(SCENARIOS / f"{name}.toml") for name in ("one-tooth-at-bracket", "step-bend")]
    for one, other in zip([solve(s) for s in scenarios], solve_all(scenarios), strict=True):
        number = next(iter(one.teeth))
        np.testing.assert_array_equal(one.teeth[number].motion, other.teeth[number].motion)


def test_variants_with_other_roots_are_not_mixed_up():
    base = load(SCENARIOS / "one-tooth-at-bracket.toml")
    number = base.arch.teeth[0]
    other = base.changed({f"tooth.{number}.bone_level": "5 mm"})
    for one, together in zip([solve(base), solve(other)], solve_all([base, other]), strict=True):
        np.testing.assert_allclose(together.teeth[number].motion, one.teeth[number].motion, rtol=1e-9)


def test_a_variant_that_fails_in_the_batch_is_solved_alone(monkeypatch):
    scenarios = torque(load(SCENARIOS / "upper-overlay.toml"), 0, 18)
    real = batch_module.equilibrium

    def failing(*args, **kwargs):
        solved = real(*args, **kwargs)
        return replace(solved, converged=np.array([True, False]))

    monkeypatch.setattr(batch_module, "equilibrium", failing)
    seen = []
    monkeypatch.setattr(batch_module, "solve", lambda s: seen.append(s) or solve(s))
    found = solve_all(scenarios)
    assert seen == [scenarios[1]]
    assert found[1].tooth(16)["moment_at_bracket_N_mm"]["torque"] > 10


@pytest.mark.parametrize("teeth", [(11, 12), (11, 11, 12)])
def test_loads_on_other_teeth_are_not_mixed_up(teeth):
    base = load(SCENARIOS / "upper-main-wire.toml")

    def loaded(*numbers):
        return base.changed({"force": [{"tooth": n, "at": "edge", "force": {"buccal": "0.5 N"}} for n in numbers]})

    scenarios = [loaded(13), loaded(*teeth)]
    for one, other in zip([solve(s) for s in scenarios], solve_all(scenarios), strict=True):
        for number in (11, 12, 13):
            np.testing.assert_allclose(other.teeth[number].motion, one.teeth[number].motion, rtol=1e-5, atol=1e-8)


def test_loads_of_other_size_are_solved_together(monkeypatch):
    base = load(SCENARIOS / "one-tooth-at-bracket.toml")
    tooth = base.arch.teeth[0]
    scenarios = [
        base.changed({"force": [{"tooth": tooth, "at": "edge", "force": {"buccal": f"{f} N"}}]}) for f in (0.2, 0.4)
    ]
    alone = [solve(s) for s in scenarios]
    monkeypatch.setattr(batch_module, "solve", None)
    for one, other in zip(alone, solve_all(scenarios), strict=True):
        np.testing.assert_allclose(other.teeth[tooth].motion, one.teeth[tooth].motion, rtol=1e-6, atol=1e-10)
        assert other.arch.force == pytest.approx(one.arch.force, abs=1e-8)


def test_errors_name_the_variant():
    base = load(SCENARIOS / "upper-overlay.toml")
    with pytest.raises(InputError, match=r"^narrow: tooth 17 would stand"):
        solve_all([base, base.changed({"arch.width": "40 mm", "arch.depth": "30 mm"})], labels=["base", "narrow"])


def test_nothing_gives_nothing():
    assert solve_all([]) == []
