"""Every registered rate law: sourced, zero at rest, rising, with true slopes, and refusing what it cannot use."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from biomech import units
from biomech.errors import InputError
from biomech.rates import REGISTRY, make_rate

NAMES = REGISTRY.names()
U = np.array([1e-6, 1e-3, 0.02, 0.3])
STRESS = np.array([1e-3, 0.5, 9.0, 120.0])


def test_there_are_laws() -> None:
    assert {"proportional", "logarithmic", "power"} <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_source(name: str) -> None:
    law = make_rate(name)
    assert len(law.source) > 20 and len(law.seen) > 5
    assert law.source in law.provenance()
    assert "given by the user: lag" in make_rate(name, lag=3.0).provenance()


@pytest.mark.parametrize("name", NAMES)
def test_rises_from_zero(name: str) -> None:
    law = make_rate(name)
    assert law.speed(np.zeros(1), np.zeros(1)).value[0] == 0.0
    assert (np.diff(law.speed(U, STRESS).value) > 0).all()


@pytest.mark.parametrize("name", NAMES)
def test_slopes(name: str) -> None:
    law = make_rate(name)
    speed = law.speed(U, STRESS)
    for i, (base, slope) in enumerate(((U, speed.by_displacement), (STRESS, speed.by_stress))):
        up, down = ([U, STRESS] for _ in range(2))
        up[i], down[i] = base * (1 + 1e-6), base * (1 - 1e-6)
        found = (law.speed(*up).value - law.speed(*down).value) / (2e-6 * base)
        np.testing.assert_allclose(found, slope, rtol=1e-5, atol=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_bound(name: str) -> None:
    law = make_rate(name, most=0.03)
    speed = law.speed(U, STRESS)
    assert speed.value.max() == 0.03
    assert speed.by_displacement[-1] == speed.by_stress[-1] == 0.0


@pytest.mark.parametrize("name", NAMES)
@given(least=st.floats(0.05, 20.0), share=st.floats(0.0, 4.0), u=st.floats(1e-5, 0.3))
def test_least_stress(name: str, least: float, share: float, u: float) -> None:
    law, free = make_rate(name, least=least), make_rate(name)
    at, stress = np.array([u]), np.array([share * least])
    speed, without = law.speed(at, stress), free.speed(at, stress)
    if share <= 1.0:
        assert speed.value[0] == speed.by_stress[0] == speed.by_displacement[0] == 0.0
    if share >= 2.0 + 1e-9:
        assert speed == without
    assert 0.0 <= speed.value[0] <= without.value[0]
    d = 1e-6 * least
    up, down = law.speed(at, stress + d).value, law.speed(at, np.maximum(stress - d, 0.0)).value
    found = (up - down)[0] / (d + min(d, stress[0]))
    # a central difference errs by the jump of the second slope, 6 / least^2, at both ends of the way in
    assert abs(found - speed.by_stress[0]) <= 1e-5 * max(found, speed.by_stress[0]) + 6.1 * d / least**2 * without.value[0] + 1e-9
    assert up[0] >= speed.value[0]


@pytest.mark.parametrize("name", NAMES)
def test_parameters_are_described_and_checked(name: str) -> None:
    for one in fields(REGISTRY.get(name)):
        assert one.metadata["about"] and (one.metadata["kind"] in units.KINDS or one.metadata["kind"] in ("number", "stress"))
        for value in (np.nan, 2 * one.metadata["high"], -1.0):
            with pytest.raises(InputError, match=one.name):
                make_rate(name, **{one.name: value})


def test_unknown_names() -> None:
    with pytest.raises(InputError, match="logarithmic"):
        make_rate("logaritmic")
    with pytest.raises(InputError, match="slope"):
        make_rate("logarithmic", slop=1.0)
