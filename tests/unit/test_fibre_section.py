"""Section response by fibres: elastic limit, states, shapes, tangents, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.alloys import REGISTRY
from biomech.errors import InputError
from biomech.section import Rectangular, Round, fibres
from biomech.wire import fibre_section
from biomech.wire.fibre_section import FibreSection

SECTIONS = {"sharp": Rectangular(0.4826, 0.635), "bevelled": Rectangular(0.4064, 0.5588, 0.06), "round": Round(0.4064)}
ALLOYS = [name for name, _ in REGISTRY.items()]
SIZES = np.array([5e-3, 1e-3, 1e-3, 0.03, 0.06, 0.05])
ANY = st.tuples(st.sampled_from(sorted(SECTIONS)), st.sampled_from(ALLOYS), st.integers(0, 2**32 - 1))


def make(kind):
    section, alloy, seed = kind
    return FibreSection(SECTIONS[section], REGISTRY.get(alloy)), np.random.default_rng(seed)


def history(found, rng, shape, steps=3):
    state = found.start(shape)
    for _ in range(steps):
        state = found.respond(rng.normal(size=(*shape, 6)) * SIZES, state)[2]
    return state


@pytest.mark.parametrize("section", SECTIONS)
@pytest.mark.parametrize("alloy", ALLOYS)
def test_a_new_section_is_that_of_the_closed_forms(section, alloy):
    found = FibreSection(SECTIONS[section], REGISTRY.get(alloy))
    elastic = SECTIONS[section].stiffness(found.alloy.young, found.alloy.poisson)
    np.testing.assert_array_equal(found.elastic, elastic)
    forces, tangent, _ = found.respond(1e-5 * np.eye(6), found.start((6,)))
    scale = np.sqrt(np.outer(elastic, elastic))
    np.testing.assert_allclose(forces / scale, 1e-5 * np.diag(elastic) / scale, atol=1e-18)
    np.testing.assert_allclose(tangent / scale, np.broadcast_to(np.eye(6), (6, 6, 6)), atol=1e-12)


def test_signs_are_those_of_sections():
    found = FibreSection(SECTIONS["sharp"], REGISTRY.get("stainless as drawn, yielding"))
    x2, x3, _ = found.fibres
    np.testing.assert_allclose(
        found.fibre_strain(np.array([0.001, 9, 9, 9, 0.02, 0.03])), 0.001 + 0.02 * x3 - 0.03 * x2
    )


def test_linear_alloys_have_no_fibres():
    found = FibreSection(SECTIONS["sharp"], REGISTRY.get("stainless as drawn"))
    state = found.start((3, 4))
    assert state.axial.size == state.torsion.size == 0
    strain = np.ones((3, 4, 6))
    forces, tangent, state = found.respond(strain, state)
    np.testing.assert_allclose(forces, found.elastic * strain)
    assert tangent.shape == (3, 4, 6, 6)
    np.testing.assert_allclose(found.energy(2 * strain, state), 1.5 * found.elastic.sum())
    assert not hasattr(found, "fibres")
    assert found.readings(state) == {}


@given(ANY)
@settings(max_examples=40, deadline=None)
def test_tangent_is_symmetric_and_lies_between_the_slopes(kind):
    found, rng = make(kind)
    state = history(found, rng, (4,))
    strain, step = rng.normal(size=(4, 6)) * SIZES, 1e-7
    forces, tangent, _ = found.respond(strain, state)
    np.testing.assert_allclose(tangent, np.swapaxes(tangent, -1, -2), atol=1e-9 * found.elastic[0])
    way = rng.normal(size=(4, 6)) * SIZES
    slopes = []
    for sign in (-1, 1):
        moved = found.respond(strain + sign * step * way, state)[0]
        slopes.append(np.einsum("ni,ni->n", moved - forces, way) * sign / step)
    along = np.einsum("ni,nij,nj->n", way, tangent, way)
    slack = 2e-5 * np.einsum("ni,i,ni->n", way, found.elastic, way)
    assert np.all(along >= np.min(slopes, axis=0) - slack)
    assert np.all(along <= np.max(slopes, axis=0) + slack)


@given(ANY)
@settings(max_examples=40, deadline=None)
def test_forces_are_the_slope_of_the_energy(kind):
    found, rng = make(kind)
    state = history(found, rng, (4,))
    strain, step = rng.normal(size=(4, 6)) * SIZES, 1e-5
    way = rng.normal(size=(4, 6)) * SIZES
    slope = (found.energy(strain + step * way, state) - found.energy(strain - step * way, state)) / (2 * step)
    along = np.einsum("ni,ni->n", found.respond(strain, state)[0], way)
    slack = step * np.einsum("ni,i,ni->n", way, found.elastic, way)
    assert np.all(np.abs(slope - along) <= 1.01 * slack)


@given(ANY)
@settings(max_examples=40, deadline=None)
def test_no_closed_way_of_a_new_section_creates_energy(kind):
    found, rng = make(kind)
    state, work = found.start((3,)), 0.0
    for strain in [*(rng.normal(size=(6, 3, 6)) * SIZES), np.zeros((3, 6))]:
        work = work + found.energy(strain, state)
        state = found.respond(strain, state)[2]
    assert np.all(work >= -1e-10)


@given(ANY)
@settings(max_examples=30, deadline=None)
def test_a_straight_way_may_be_divided_at_will(kind):
    found, rng = make(kind)
    start = history(found, rng, (2,))
    end = rng.normal(size=(2, 6)) * SIZES
    once, work = found.respond(end, start), found.energy(end, start)
    state, parts = start, 0.0
    for share in (0.1, 0.35, 0.8, 1.0):
        strain = start.strain + share * (end - start.strain)
        parts = parts + found.energy(strain, state)
        forces, _, state = found.respond(strain, state)
    np.testing.assert_allclose(forces, once[0], atol=1e-8)
    np.testing.assert_allclose(parts, work, atol=1e-10)


@pytest.mark.parametrize("alloy", ["nickel-titanium, superelastic", "stainless as drawn, yielding"])
def test_any_leading_axes_and_blocks_give_the_same(alloy, monkeypatch):
    found, rng = FibreSection(SECTIONS["sharp"], REGISTRY.get(alloy)), np.random.default_rng(5)
    strain = rng.normal(size=(2, 7, 6)) * SIZES
    whole, work = found.respond(strain, found.start((7,))), found.energy(strain, found.start((7,)))
    monkeypatch.setattr(fibre_section, "_BLOCK", 3)
    parts, shares = found.respond(strain, found.start((7,))), found.energy(strain, found.start((7,)))
    for one, other in zip((*whole[:2], *whole[2], work), (*parts[:2], *parts[2], shares), strict=True):
        assert one.shape == other.shape
        np.testing.assert_allclose(one, other, rtol=1e-12, atol=1e-12)
    alone = found.respond(strain[1, 4], found.start())
    np.testing.assert_allclose(alone[0], whole[0][1, 4], rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(alone[2].axial, whole[2].axial[1, 4])


def test_asking_does_not_change_the_state():
    found, rng = (
        FibreSection(SECTIONS["round"], REGISTRY.get("nickel-titanium, superelastic")),
        np.random.default_rng(1),
    )
    state = history(found, rng, (3,))
    kept = [array.copy() for array in state]
    found.respond(rng.normal(size=(3, 6)) * SIZES, state)
    found.energy(rng.normal(size=(3, 6)) * SIZES, state)
    for array, before in zip(state, kept, strict=True):
        np.testing.assert_array_equal(array, before)


def test_readings_and_peak_strain():
    steel = FibreSection(SECTIONS["sharp"], REGISTRY.get("stainless as drawn, yielding"))
    strain = np.array([[0.001, 0, 0, 0, 0.02, 0], [0, 0, 0, 0, 0.1, 0.0]])
    state = steel.respond(strain, steel.start((2,)))[2]
    np.testing.assert_allclose(steel.peak_strain(strain), [0.001 + 0.02 * 0.2413, 0.1 * 0.2413])
    assert steel.readings(state)["set"][0] == pytest.approx(0.0, abs=1e-15)
    assert 0.01 < steel.readings(state)["set"][1] < 0.02
    niti = FibreSection(SECTIONS["sharp"], REGISTRY.get("nickel-titanium, superelastic"))
    share = niti.readings(niti.respond(10 * strain, niti.start((2,)))[2])["martensite"]
    assert np.all((share > 0) & (share <= 1))


def test_temperature():
    alloy = REGISTRY.get("nickel-titanium, superelastic")
    strain = np.array([0, 0, 0, 0.05, 0.1, 0.0])
    forces = [
        (found := FibreSection(SECTIONS["sharp"], alloy, temperature=t)).respond(strain, found.start())[0]
        for t in (25.0, 37.0, 45.0)
    ]
    assert forces[0][4] < forces[1][4] < forces[2][4]
    assert forces[0][3] < forces[1][3] < forces[2][3]
    with pytest.raises(InputError, match="temperature = -5"):
        FibreSection(SECTIONS["sharp"], alloy, temperature=-5.0)
    with pytest.raises(InputError, match="temperature = 80"):
        FibreSection(SECTIONS["sharp"], REGISTRY.get("stainless as drawn"), temperature=80.0)


def test_unknown_fineness_is_refused():
    with pytest.raises(InputError, match="fibres a quarter = 12: must be one of 16, 34, 55, 89"):
        fibres(SECTIONS["sharp"], 12)
