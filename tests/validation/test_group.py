"""Splinted teeth: identities of a rigid group, and a published trend."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from springs import cloud

from biomech.archform import arch_form
from biomech.errors import InputError
from biomech.ligaments import make_ligament
from biomech.mechanics.poses import Pose, rotation_exp
from biomech.tooth import make_tooth
from biomech.tooth.group import group_support, moved_support, splint
from biomech.tooth.setup import set_up
from biomech.tooth.support import foundation_matrix, support_matrix

LAW = make_ligament("bilinear")
seeds = st.integers(0, 10_000)


def scene(seed, count=4):
    rng = np.random.default_rng(seed)
    poses = Pose(rotation_exp(rng.normal(size=(count, 3))), rng.uniform(-30, 30, (count, 3)))
    return [cloud(seed + i) for i in range(count)], poses


@settings(max_examples=30, deadline=None)
@given(seed=seeds)
def test_the_group_stores_the_energy_of_its_members_and_shares_add_up(seed):
    supports, poses = scene(seed)
    group = splint(supports, poses)
    q = np.random.default_rng(seed + 1).normal(size=6) * [1, 1, 1, 0.1, 0.1, 0.1]
    each = group.motions(q)
    energy = sum(m @ k @ m for m, k in zip(each, supports, strict=True))
    assert q @ group.stiffness @ q == pytest.approx(energy, rel=1e-9)
    force, moment = np.zeros(3), np.zeros(3)
    for share, r, x in zip(group.shares(q), *poses, strict=True):
        force += r @ share[:3]
        moment += r @ share[3:] + np.cross(x, r @ share[:3])
    whole = group.stiffness @ q
    assert np.allclose(np.concatenate([force, moment]), whole, rtol=1e-9, atol=1e-9 * np.abs(whole).max())


@settings(max_examples=30, deadline=None)
@given(seed=seeds, k=st.lists(st.floats(0.5, 20), min_size=3, max_size=8))
def test_centre_and_yaw_of_isotropic_teeth_are_those_of_weighted_points(seed, k):
    """r_CR = Sum K_i r_i / Sum K_i; yaw stiffness about it = Sum (K_i |r_i - r_CR|^2 + own) (exact)."""
    rng = np.random.default_rng(seed)
    at = rng.uniform(-30, 30, (len(k), 3))
    at[:, 2] = 4.0
    supports = [np.diag([s, s, s, 30.0, 30.0, 12.0]) for s in k]
    poses = Pose(np.broadcast_to(np.eye(3), (len(k), 3, 3)), at)
    found = splint(supports, poses).centre
    where = np.average(at, axis=0, weights=k)
    assert found.residual < 1e-9 and np.allclose(found.point, where, atol=1e-7)
    yaw = sum(s * np.sum((x - where)[:2] ** 2) + 12.0 for s, x in zip(k, at, strict=True))
    assert found.planar["occlusal"].rotational_stiffness == pytest.approx(yaw, rel=1e-9)


def test_a_splinted_group_is_one_root_with_all_surfaces():
    """The support of moved roots added up is that of the moved surfaces taken together."""
    placed = set_up(arch_form("beta", 60.0, 45.0), {n: make_tooth(n) for n in (12, 11, 21, 22, 23)})
    whole = np.zeros((6, 6))
    for place in placed.values():
        whole += foundation_matrix(place.tooth.surface.moved(*place.pose), 0.3, 0.05)
    supports = [foundation_matrix(p.tooth.surface, 0.3, 0.05) for p in placed.values()]
    rotations, positions = (np.array([p.pose[i] for p in placed.values()]) for i in (0, 1))
    assert np.allclose(group_support(supports, Pose(rotations, positions)), whole, atol=1e-9)


def test_one_tooth_is_a_group_of_one_and_twins_are_twice_as_stiff():
    k = cloud(1)
    pose = Pose(np.eye(3)[None], np.zeros((1, 3)))
    assert np.allclose(splint([k], pose).stiffness, k)
    twins = Pose(np.stack([np.eye(3)] * 2), np.zeros((2, 3)))
    assert np.allclose(splint([k, k], twins).stiffness, 2 * k)
    assert np.allclose(moved_support(k, Pose(np.eye(3), np.zeros(3))), k)


def test_adding_teeth_to_the_incisors_moves_the_centre_distally():
    """Laterals move it about 2 mm, canines about 7 mm back (Vanden Bulcke 1986 AJO 90:211, abstract only, the
    figures uncertain): a trend, not a check of values.
    """
    teeth = {n: make_tooth(n) for n in (13, 12, 11, 21, 22, 23)}
    placed = set_up(arch_form("beta", 60.0, 45.0), teeth)
    back = []
    for numbers in ((11, 21), (12, 11, 21, 22), tuple(teeth)):
        members = [placed[n] for n in numbers]
        poses = Pose(*(np.array([m.pose[i] for m in members]) for i in (0, 1)))
        centre = splint([support_matrix(m.tooth.surface, LAW) for m in members], poses).centre
        assert abs(centre.point[0]) < 1e-6
        back.append(-centre.planar["buccolingual"].point[1])
    assert 0.5 < back[1] - back[0] < 4.0 and 3.0 < back[2] - back[0] < 10.0


@pytest.mark.parametrize(
    ("supports", "poses", "text"),
    [
        ([], Pose(np.zeros((0, 3, 3)), np.zeros((0, 3))), "at least 1"),
        ([np.eye(6)] * 2, Pose(np.eye(3)[None], np.zeros((1, 3))), r"\(2, 6, 6\), rotations \(1, 3, 3\)"),
        ([np.eye(6)], Pose(np.eye(3)[None], np.full((1, 3), np.nan)), "finite"),
        ([np.eye(6)], Pose(-np.eye(3)[None], np.zeros((1, 3))), "rotation matrices"),
    ],
)
def test_groups_that_do_not_fit_are_refused(supports, poses, text):
    with pytest.raises(InputError, match=text):
        splint(supports, poses)
