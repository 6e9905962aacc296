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


def test_a_stand_in_says_so():
    text = " ".join(ALLOYS["nickel-titanium, elastic stand-in"].warnings())
    assert "stand-in" in text
    assert not ALLOYS["stainless as drawn"].warnings()


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
