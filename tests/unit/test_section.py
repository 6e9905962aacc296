"""Sections: labels, refusals, the limits between the shapes, stress superposition."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.errors import InputError
from biomech.section import Rectangular, Round
from biomech.section.torsion import rounded

SIZE = st.floats(0.2, 1.2)


def test_labels():
    assert Rectangular(0.4826, 0.635).label() == "0.019 x 0.025 in (0.4826 x 0.6350 mm)"
    assert Rectangular(0.5461, 0.7112).label() == "0.0215 x 0.028 in (0.5461 x 0.7112 mm)"
    assert Round(0.9144).label() == "0.036 in round (0.9144 mm)"
    assert Round(0.9).label() == "0.9000 mm round (0.0354 in)"
    assert "bevel" in Rectangular(0.4826, 0.635, 0.05).label()


@pytest.mark.parametrize("bad", [0.0, -0.5, np.nan, np.inf, 36.0, 0.001])
def test_implausible_sizes_are_refused(bad):
    with pytest.raises(InputError, match="diameter"):
        Round(bad)
    with pytest.raises(InputError, match="height"):
        Rectangular(bad, 0.635)
    with pytest.raises(InputError, match="depth"):
        Rectangular(0.4826, bad)


@pytest.mark.parametrize("bevel", [-0.01, 0.25, np.nan])
def test_bevel_must_fit(bevel):
    with pytest.raises(InputError, match="bevel"):
        Rectangular(0.4826, 0.635, bevel)


@pytest.mark.parametrize(("young", "poisson"), [(0, 0.3), (-1, 0.3), (np.nan, 0.3), (1e5, 0.51), (1e5, -0.1)])
def test_impossible_material_is_refused(young, poisson):
    with pytest.raises(InputError):
        Round(0.9).stiffness(young, poisson)


def test_stiffness_order_and_shear_override():
    section = Rectangular(0.4, 0.6)
    got = section.stiffness(200e3, 0.25)
    shear = 80e3
    area, i2, i3 = 0.24, 0.6 * 0.4**3 / 12, 0.4 * 0.6**3 / 12
    kappa = section.shear_2(0.25)
    want = [200e3 * area, kappa * shear * area, kappa * shear * area, shear * section.torsion]
    np.testing.assert_allclose(got, [*want, 200e3 * i2, 200e3 * i3], rtol=1e-12)
    assert section.stiffness(200e3, 0.25, shear_factor=0.9)[1] == pytest.approx(0.9 * shear * area)


@given(SIZE)
@settings(max_examples=20, deadline=None)
def test_full_bevel_makes_a_round_wire(size):
    square, circle = Rectangular(size, size, size / 2), Round(size)
    for key in ("area", "inertia_2", "inertia_3", "torsion"):
        assert getattr(square, key) == pytest.approx(getattr(circle, key), rel=1e-9)


@given(SIZE, SIZE, st.floats(0.02, 0.98))
@settings(max_examples=25, deadline=None)
def test_turning_the_wire_swaps_its_axes(height, depth, share):
    bevel = share * min(height, depth) / 2
    flat, edge = Rectangular(height, depth, bevel), Rectangular(depth, height, bevel)
    assert flat.inertia_2 == pytest.approx(edge.inertia_3, rel=1e-12)
    assert flat.torsion == pytest.approx(edge.torsion, rel=1e-5)
    turned = [3.0, -2.0, 1.0, 5.0, 4.0, -1.0]  # the same load after turning the section a quarter
    loads = [3.0, 1.0, 2.0, 5.0, -1.0, -4.0]
    assert flat.peak_stress(loads) == pytest.approx(float(edge.peak_stress(turned)), rel=2e-3)


@given(SIZE, SIZE, st.floats(0.02, 0.98))
@settings(max_examples=25, deadline=None)
def test_bevel_takes_away_stiffness(height, depth, share):
    sharp = Rectangular(height, depth)
    soft = Rectangular(height, depth, share * min(height, depth) / 2)
    for key in ("area", "inertia_2", "inertia_3", "torsion"):
        assert getattr(soft, key) < getattr(sharp, key)
    assert soft.torsion < soft.inertia_2 + soft.inertia_3  # Saint-Venant: J never exceeds the polar moment


def test_torsion_bound_is_honest():
    # the bound from the maximum principle, against a run with twice the degree
    import biomech.section.torsion as module

    coarse = rounded.__wrapped__(0.4826, 0.635, 0.05)
    kept, module._DEGREE = module._DEGREE, 90
    try:
        fine = rounded.__wrapped__(0.4826, 0.635, 0.05)
    finally:
        module._DEGREE = kept
    difference = abs(coarse.constant / fine.constant - 1)
    assert difference < coarse.bound < 1e-3
    assert difference < 1e-6
    assert fine.bound < coarse.bound


@pytest.mark.parametrize(
    "section", [Round(0.9), Rectangular(0.4826, 0.635), Rectangular(0.4826, 0.635, 0.05)]
)
def test_axial_and_bending_stress_superpose(section):
    top = 2.0 / section.area + 3.0 * section.height / 2 / section.inertia_2
    assert section.peak_stress([2.0, 0, 0, 0, 3.0, 0]) == pytest.approx(top, rel=1e-9)
    side = 4.0 * section.depth / 2 / section.inertia_3
    assert section.peak_stress([0, 0, 0, 0, 0, -4.0]) == pytest.approx(side, rel=1e-9)


@pytest.mark.parametrize(
    "section", [Rectangular(0.4826, 0.635), Rectangular(0.4826, 0.635, 0.05), Round(0.5)]
)
def test_shear_stress_is_in_balance_with_the_loads(section):
    # the unit torsion stress along the outline has the right sense; the shear stress carries no torque
    b = section.boundary()
    r2 = np.roll(b.x2, -1) - b.x2
    r3 = np.roll(b.x3, -1) - b.x3
    arm = b.x2 * r3 - b.x3 * r2  # twice the sector area, positive counter-clockwise
    assert np.all(arm >= -1e-12)
    assert np.sum(b.torsion * arm) > 0
    for unit in (b.shear_2, b.shear_3):
        mean = 0.5 * (unit + np.roll(unit, -1))
        assert abs(np.sum(mean * arm)) < 1e-9 * np.sum(np.abs(mean * arm))


def test_peak_stress_takes_leading_axes():
    section = Rectangular(0.4826, 0.635)
    loads = np.random.default_rng(1).normal(size=(3, 4, 6))
    got = section.peak_stress(loads)
    assert got.shape == (3, 4)
    assert got[1, 2] == pytest.approx(float(section.peak_stress(loads[1, 2])))


@given(st.floats(-0.1, 0.1), st.floats(-0.1, 0.1), st.floats(0.0, 0.24))
@settings(max_examples=40, deadline=None)
def test_bending_strain_agrees_with_the_outline(k2, k3, bevel):
    section = Rectangular(0.4826, 0.635, bevel)
    b = section.boundary()
    sampled = np.max(np.abs(k2 * b.x3 - k3 * b.x2))
    exact = float(section.max_bending_strain(k2, k3))
    assert sampled <= exact + 1e-12
    assert sampled >= exact * (1 - 5e-4)
