"""Every registered alloy says where its values come from and answers a strain as its law demands."""

from __future__ import annotations

import numpy as np
import pytest

from biomech.alloys import REGISTRY, Elastic
from biomech.errors import InputError

ALLOYS = dict(REGISTRY.items())


def test_the_family_is_complete():
    assert {
        "stainless as drawn",
        "stainless stress-relieved",
        "beta-titanium",
        "cobalt-chromium",
        "nickel-titanium, elastic stand-in",
        "nickel-titanium, superelastic",
        "nickel-titanium, heat-activated",
        "stainless as drawn, yielding",
        "stainless as drawn, low modulus",
        "stainless stress-relieved, yielding",
        "beta-titanium, yielding",
        "cobalt-chromium, yielding",
    } <= set(ALLOYS)


@pytest.mark.parametrize("name", sorted(ALLOYS))
def test_names_its_sources(name):
    alloy = ALLOYS[name]
    assert alloy.name == name
    assert len(alloy.source.strip()) > 20
    assert any(word in alloy.seen for word in ("seen in full", "abstract", "secondary", "memory"))


@pytest.mark.parametrize("name", sorted(ALLOYS))
def test_values_lie_in_their_own_ranges(name):
    alloy = ALLOYS[name]
    assert alloy.young_range[0] < alloy.young < alloy.young_range[1]
    assert alloy.elastic_limit_range[0] < alloy.elastic_limit < alloy.elastic_limit_range[1]
    assert 0.2 < alloy.poisson < 0.45


@pytest.mark.parametrize("name", sorted(ALLOYS))
def test_tangent_lies_between_the_one_sided_slopes(name):
    alloy = ALLOYS[name]
    strain = np.linspace(-0.02, 0.02, 41)
    step = 1e-7

    def stress(e):
        return alloy.respond(e, alloy.start()).stress

    left = (stress(strain) - stress(strain - step)) / step
    right = (stress(strain + step) - stress(strain)) / step
    tangent = alloy.respond(strain, alloy.start()).tangent
    slack = 1e-6 * alloy.young
    assert np.all(tangent <= np.maximum(left, right) + slack)
    assert np.all(tangent >= np.minimum(left, right) - slack)
    assert not np.all(1.01 * tangent <= np.maximum(left, right) + slack)  # a wrong tangent is noticed


@pytest.mark.parametrize("name", sorted(ALLOYS))
def test_starts_with_its_young_modulus(name):
    alloy = ALLOYS[name]
    answer = alloy.respond(np.array([1e-6]), alloy.start())
    np.testing.assert_allclose(answer.stress, alloy.young * 1e-6, rtol=1e-6)


@pytest.mark.parametrize("name", sorted(ALLOYS))
def test_answers_are_finite_and_keep_their_shape(name):
    alloy = ALLOYS[name]
    strain = np.linspace(-0.15, 0.15, 24).reshape(2, 3, 4)
    state = alloy.start(strain.shape)
    assert state.shape == (alloy.memory, 2, 3, 4)
    for factor in (1.0, 0.3, -1.0, 0.0):
        work = alloy.work(factor * strain, state)
        answer = alloy.respond(factor * strain, state)
        assert answer.stress.shape == answer.tangent.shape == work.shape == strain.shape
        assert answer.state.shape == state.shape
        assert all(np.isfinite(x).all() for x in (*answer, work, alloy.stored(answer.state)))
        assert np.all((answer.tangent >= 0) & (answer.tangent <= alloy.young * (1 + 1e-12)))
        np.testing.assert_array_equal(answer.state[0], factor * strain)
        assert all(values.shape == strain.shape for values in alloy.readings(answer.state).values())
        state = answer.state


@pytest.mark.parametrize("name", sorted(ALLOYS))
def test_asking_changes_nothing(name):
    alloy = ALLOYS[name]
    strain, state = np.array([0.03, -0.02]), alloy.start((2,))
    first = alloy.respond(strain, state)
    kept = first.state.copy()
    alloy.respond(-strain, first.state)
    alloy.work(-strain, first.state)
    np.testing.assert_array_equal(first.state, kept)
    np.testing.assert_array_equal(state, alloy.start((2,)))


@pytest.mark.parametrize("name", sorted(ALLOYS))
@pytest.mark.parametrize("law", ["axial", "shear"])
def test_closed_loops_lose_energy_where_the_law_is_not_linear(name, law):
    alloy = ALLOYS[name] if law == "axial" else ALLOYS[name].in_shear()
    reach = 0.06 if law == "axial" else 0.1
    state, total = alloy.start(), 0.0
    for strain in (reach, 0.0, -reach, 0.0):
        total += float(alloy.work(np.array(strain), state))
        state = alloy.respond(np.array(strain), state).state
    assert total > 1.0 if not alloy.is_linear else abs(total) < 1e-12


@pytest.mark.parametrize("name", sorted(ALLOYS))
def test_shear_starts_with_the_shear_modulus(name):
    alloy = ALLOYS[name]
    shear = alloy.in_shear()
    assert shear.young == pytest.approx(alloy.young / (2 * (1 + alloy.poisson)), rel=1e-12)
    assert shear.respond(np.array(1e-6), shear.start()).stress == pytest.approx(shear.young * 1e-6, rel=1e-9)


@pytest.mark.parametrize("name", sorted(ALLOYS))
def test_temperature_of_the_mouth_is_allowed_and_explained(name):
    alloy = ALLOYS[name].at(37.0)
    assert alloy == ALLOYS[name]
    assert name in alloy.about_temperature()
    for wrong in (-300.0, 100.0, np.nan):
        with pytest.raises(InputError, match=f"temperature = .* of alloy '{name}'"):
            ALLOYS[name].at(wrong)


@pytest.mark.parametrize("name", sorted(name for name, alloy in ALLOYS.items() if not alloy.is_linear))
def test_a_law_with_memory_warns_of_what_is_from_memory_and_what_is_left_out(name):
    text = " ".join(ALLOYS[name].warnings())
    assert "from memory" in text
    assert "bending and torsion" in text


def test_a_stand_in_says_so():
    text = " ".join(ALLOYS["nickel-titanium, elastic stand-in"].warnings())
    assert "stand-in" in text
    assert not ALLOYS["stainless as drawn"].warnings()
    assert ALLOYS["stainless as drawn"].is_linear


def test_modulus_outside_the_published_range_warns():
    assert "outside the published" in ALLOYS["beta-titanium"].with_young(90e3).warnings()[0]


@pytest.mark.parametrize("young", [0.0, -1.0, np.nan, np.inf])
def test_impossible_modulus_is_refused(young):
    with pytest.raises(InputError, match="young"):
        ALLOYS["beta-titanium"].with_young(young)


def test_unknown_alloy_names_the_nearest():
    with pytest.raises(InputError, match="Did you mean 'beta-titanium'"):
        REGISTRY.get("beta titanium")


def test_impossible_poisson_ratio_is_refused():
    with pytest.raises(InputError, match="poisson"):
        Elastic("x", 1e5, 0.6, 1e3, (1, 2), (1, 2), "s", "s")
