"""Root surfaces: area elements, normals, cuts. Gauss's theorem is the judge."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.errors import InputError
from biomech.tooth.roots import Paraboloid, Trunk, join

half_axes = st.floats(1.0, 5.0)
lengths = st.floats(6.0, 18.0)
slopes = st.tuples(st.floats(-0.4, 0.4), st.floats(-0.4, 0.4))
centres = st.tuples(st.floats(-3.0, 3.0), st.floats(-3.0, 3.0))


@settings(max_examples=40, deadline=None)
@given(a=half_axes, b=half_axes, length=lengths, slope=slopes, centre=centres)
def test_closed_with_its_rim_a_root_obeys_gauss(a, b, length, slope, centre):
    root = Paraboloid(a, b, length, 0.0, centre, slope)
    s = root.surface(6, 32)
    assert np.allclose(np.linalg.norm(s.normals, axis=1), 1.0)
    assert np.allclose(s.weights @ s.normals, [0, 0, np.pi * a * b], atol=1e-9)
    volume = 0.5 * np.pi * a * b * length
    assert s.weights @ (s.points * s.normals).sum(axis=1) == pytest.approx(3 * volume)


@settings(max_examples=40, deadline=None)
@given(a=half_axes, b=half_axes, length=lengths, slope=slopes, share=st.floats(0.05, 0.9))
def test_a_cut_root_is_the_apical_part_of_the_whole(a, b, length, slope, share):
    whole = Paraboloid(a, b, length, 1.0, (0.5, -0.5), slope)
    part = whole.cut(1.0 + share * length)
    p = part.position(np.array([0.3, 1.0]), np.array([0.7, 2.0]))
    down = p[:, 2] - 1.0
    x, y = p[:, 0] - 0.5 - slope[0] * down, p[:, 1] + 0.5 - slope[1] * down
    assert np.allclose((x / a) ** 2 + (y / b) ** 2, 1 - down / length)
    assert np.allclose(part.apex, whole.apex)
    assert part.top == pytest.approx(1.0 + share * length)


def test_the_trunk_of_constant_section_is_a_cylinder():
    s = Trunk((3.0, 3.0), (3.0, 3.0), 0.0, 4.0).surface()
    assert s.area == pytest.approx(2 * np.pi * 3 * 4)
    assert np.allclose(s.normals, s.points / 3 * [1, 1, 0])


def test_a_tapered_trunk_is_the_frustum_of_a_cone_and_its_cut_lies_on_it():
    trunk = Trunk((3.0, 3.0), (2.0, 2.0), 0.0, 4.0)
    assert trunk.surface().area == pytest.approx(np.pi * 5 * np.hypot(1, 4))
    lower = trunk.cut(2.0)
    assert lower.upper == (2.5, 2.5)
    assert lower.surface().area == pytest.approx(np.pi * 4.5 * np.hypot(0.5, 2))
    assert np.all(trunk.surface().normals[:, 2] > 0)


def test_mapping_and_moving_keep_the_area_and_turn_the_normals_along():
    s = Paraboloid(2.0, 3.0, 12.0).surface()
    mirrored = s.mapped(np.array([-1.0, 1.0, -1.0]))
    assert mirrored.area == s.area and np.allclose(mirrored.normals, s.normals * [-1, 1, -1])
    turn = np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 1]])
    moved = s.moved(turn, np.array([1.0, 2, 3]))
    assert np.allclose(moved.normals[:, 1], s.normals[:, 0])
    assert np.allclose(moved.points[:, 0], 1 - s.points[:, 1])
    assert join([s, moved]).area == pytest.approx(2 * s.area)


@pytest.mark.parametrize("sizes", [(0.0, 1.0, 1.0), (1.0, -1.0, 1.0), (1.0, 1.0, np.nan), (1.0, 1.0, np.inf)])
def test_impossible_roots_are_refused(sizes):
    with pytest.raises(InputError, match=r"root (a|b|length) = "):
        Paraboloid(*sizes)


def test_nothing_left_below_the_bone_is_refused():
    with pytest.raises(InputError, match="a root outside the bone"):
        Paraboloid(2.0, 2.0, 10.0).cut(10.0)


def test_a_rule_that_loses_symmetry_is_refused():
    with pytest.raises(InputError, match="quadrature"):
        Paraboloid(2.0, 2.0, 10.0).surface(4, 10)
