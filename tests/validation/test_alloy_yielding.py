"""Metals that yield, against closed forms (computed)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from laws import bilinear, plateau, walk

from biomech.alloys import REGISTRY
from biomech.errors import InputError

NAMES = [
    "stainless as drawn, yielding",
    "stainless stress-relieved, yielding",
    "beta-titanium, yielding",
    "cobalt-chromium, yielding",
]


@pytest.mark.parametrize("name", NAMES)
def test_proof_stress_leaves_a_fifth_of_a_percent(name):
    # by definition: unloaded from the elastic limit, 0.2 % of strain stay; and the elastic alloy has the same numbers
    law, elastic = REGISTRY.get(name), REGISTRY.get(name.removesuffix(", yielding"))
    assert (law.young, law.elastic_limit) == (elastic.young, elastic.elastic_limit)
    strain = law.elastic_limit / law.young + 0.002
    stress, _, _, state = walk(law, [strain])
    assert stress[0] == pytest.approx(law.elastic_limit, rel=1e-9)
    assert law.readings(state)["set"] == pytest.approx(0.002, rel=1e-9)
    assert walk(law, [0.002], state)[0][0] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_first_loading_follows_ramberg_and_osgood(name):
    # set = 0.002 (stress / proof stress)^n (Ramberg and Osgood 1943, NACA TN 902; from memory), by chords
    law = REGISTRY.get(name)
    exponent = 17 if "cobalt" in name else 10
    stress = np.linspace(0.5, 1.25, 60) * law.elastic_limit
    sets = 0.002 * (stress / law.elastic_limit) ** exponent
    inside = sets < 0.02
    strain = stress / law.young + sets
    got = [walk(law, [e])[0][0] for e in strain[inside]]
    np.testing.assert_allclose(got, stress[inside], rtol=0.02)


def test_unloading_is_the_first_loading_doubled():
    # Masing: the full Bauschinger effect of kinematic hardening
    law = REGISTRY.get("stainless as drawn, yielding")
    top = walk(law, [0.02])[0][0]
    for back in (0.004, 0.012, 0.02, 0.038):
        assert walk(law, [0.02, 0.02 - back])[0][-1] == pytest.approx(top - 2 * walk(law, [back / 2])[0][0], rel=1e-12)


def test_bilinear_metal_with_kinematic_hardening():
    law = bilinear()
    stress, tangent, work, _ = walk(law, [0.004, 0.01, 0.002, 0.0, -0.01])
    np.testing.assert_allclose(stress[:2], [800, 1000 + 0.005 * 10e3])
    assert tangent[1] == pytest.approx(10e3)
    # unloading stays elastic for twice the yield stress, then hardens
    np.testing.assert_allclose(stress[2:4], [1050 - 0.008 * 200e3, 1050 - 2000])
    assert stress[4] == pytest.approx(-950 - 0.01 * 10e3)
    assert work[0] == pytest.approx(0.5 * 800 * 0.004)
    assert work[1] == pytest.approx(0.5 * 1000 * 0.005 + 0.005 * 1025)


def test_ideal_plateau_loses_its_area():
    law = plateau()
    path = [0.03, -0.03, 0.03]
    work = walk(law, path)[2]
    assert work[2] - work[0] == pytest.approx(2 * 600 * (0.06 - 0.02))


def test_another_modulus_keeps_the_set_at_each_stress():
    law = REGISTRY.get("stainless as drawn, yielding").with_young(160e3)
    assert walk(law, [1400 / 160e3 + 0.002])[0][0] == pytest.approx(1400.0, rel=1e-9)


def test_shear_law():
    # von Mises: stress over sqrt 3, set times sqrt 3
    law = REGISTRY.get("stainless as drawn, yielding")
    g = law.young / 2.6
    tau = law.elastic_limit / math.sqrt(3)
    assert walk(law.in_shear(), [tau / g + 0.002 * math.sqrt(3)])[0][0] == pytest.approx(tau, rel=1e-9)
    # also past the last corner
    strain = 0.05
    stress = walk(law, [strain])[0][0]
    shear = stress / math.sqrt(3) / g + math.sqrt(3) * (strain - stress / law.young)
    assert walk(law.in_shear(), [shear])[0][0] == pytest.approx(stress / math.sqrt(3), rel=1e-9)


@pytest.mark.parametrize("curve", [(), ((0.005, 900.0),), ((0.005, 1000.0), (0.004, 1100.0)), ((0.005, 1000.0), (0.006, 1300.0)), ((0.005, math.nan),)])  # fmt: skip
def test_curves_that_are_none_are_refused(curve):
    from dataclasses import replace

    with pytest.raises(InputError, match="curve"):
        replace(bilinear(), curve=curve)


def test_hardening_must_not_be_negative():
    with pytest.raises(InputError, match="must fall and not be negative"):
        bilinear(hardening=-1.0)


@pytest.mark.parametrize("temperature", [-0.1, 60.1, math.nan])
def test_temperature_does_not_matter_within_what_a_mouth_meets(temperature):
    law = REGISTRY.get("stainless as drawn")
    assert law.at(5.0) == law
    assert "does not depend on temperature (0 to 60 C)" in law.about_temperature()
    with pytest.raises(InputError, match="must be within 0 and 60 C"):
        law.at(temperature)
