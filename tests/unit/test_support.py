"""Support of teeth: kinematics, energy, pressures, and many teeth at once."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.errors import InputError
from biomech.ligaments import make_ligament
from biomech.tooth import make_tooth
from biomech.tooth.roots import Paraboloid
from biomech.tooth.support import (
    RootBed,
    displacements,
    energy,
    foundation_matrix,
    pressures,
    respond,
    support_matrix,
)

TEETH = [make_tooth(number) for number in (16, 14, 11, 21, 26)]
SOFT, STIFF = make_ligament("bilinear"), make_ligament("bilinear", young=0.1, transition_strain=0.03)
STRAIGHT = make_ligament("linear", young=0.08)
MIXED = [SOFT, STRAIGHT, SOFT, STIFF, STRAIGHT]
SCALE = np.array([0.03, 0.03, 0.03, 0.003, 0.003, 0.003])
motions = st.lists(st.floats(-1, 1), min_size=6, max_size=6).map(lambda v: SCALE * v)


def loads(count, seed=0):
    return np.random.default_rng(seed).normal(size=(count, 6)) * SCALE


def test_displacement_is_translation_plus_rotation_times_arm():
    s = TEETH[0].surface
    q = loads(1)[0]
    assert np.allclose(displacements(s, q), q[:3] + np.cross(q[3:], s.points))


@settings(max_examples=30, deadline=None)
@given(q=motions)
def test_wrench_is_the_slope_of_the_energy_and_balances_the_tractions(q):
    s = TEETH[0].surface
    here = respond(s, SOFT, q)
    h = 1e-7
    slope = [(energy(s, SOFT, q + h * d) - energy(s, SOFT, q - h * d)) / (2 * h) for d in np.eye(6)]
    assert np.allclose(here.stress, slope, rtol=1e-5, atol=1e-5)
    traction = SOFT.respond(displacements(s, q), s.normals).traction * s.weights[:, None]
    assert np.allclose(here.stress[:3] + traction.sum(axis=0), 0, atol=1e-12)
    assert np.allclose(here.stress[3:] + np.cross(s.points, traction).sum(axis=0), 0, atol=1e-11)


def test_the_tangent_at_rest_is_the_support_matrix():
    for tooth in TEETH:
        k = support_matrix(tooth.surface, SOFT)
        assert np.allclose(respond(tooth.surface, SOFT, np.zeros(6)).tangent, k, atol=1e-10)
        assert np.allclose(k, k.T, atol=1e-10) and np.linalg.eigvalsh(k).min() > 0


def test_pressure_is_positive_on_the_side_towards_which_the_tooth_moves():
    tooth = TEETH[2]
    q = np.array([0.0, 0.01, 0, 0, 0, 0])
    p = pressures(tooth.surface, STRAIGHT, q)
    n = tooth.surface.normals[:, 1]
    assert np.all(p.normal[n > 0.1] > 0) and np.all(p.normal[n < -0.1] < 0)
    assert np.allclose(p.normal, STRAIGHT.normal_modulus * 0.01 * tooth.surface.normals[:, 1])
    assert np.allclose(p.shear, STRAIGHT.shear_modulus * 0.01 * np.sqrt(1 - tooth.surface.normals[:, 1] ** 2))


@pytest.mark.parametrize("laws", [[SOFT] * 5, [STRAIGHT] * 5, MIXED], ids=["bilinear", "linear", "mixed"])
def test_many_teeth_at_once_are_the_same_as_one_by_one(laws):
    bed = RootBed([t.surface for t in TEETH], laws)
    q = np.array([loads(5, seed) for seed in range(3)])
    many = bed.respond(q)
    stored = bed.energy(q)
    for i in range(3):
        for j, (tooth, law) in enumerate(zip(TEETH, laws, strict=True)):
            one = respond(tooth.surface, law, q[i, j])
            assert np.allclose(many.stress[i, j], one.stress, atol=1e-12)
            assert np.allclose(np.broadcast_to(many.tangent, (3, 5, 6, 6))[i, j], one.tangent, atol=1e-9)
            assert stored[i, j] == pytest.approx(energy(tooth.surface, law, q[i, j]))
    assert np.allclose(bed.stiffness[1], support_matrix(TEETH[1].surface, laws[1]))


@pytest.mark.parametrize("shape", [(), (1,), (19,), (3, 7), (0,)])
def test_any_leading_axes_give_what_single_calls_give(shape):
    bed = RootBed([t.surface for t in TEETH], MIXED)
    q = np.random.default_rng(2).normal(size=(*shape, 5, 6)) * SCALE
    many, stored = bed.respond(q), bed.energy(q)
    assert (
        many.stress.shape == q.shape and many.tangent.shape == (*q.shape, 6) and stored.shape == q.shape[:-1]
    )
    for index in np.ndindex(shape):
        one = bed.respond(q[index])
        assert np.allclose(many.stress[index], one.stress, rtol=1e-12, atol=1e-13)
        assert np.allclose(many.tangent[index], one.tangent, rtol=1e-12, atol=1e-10)
        assert np.allclose(stored[index], bed.energy(q[index]))


def test_a_linear_tooth_is_a_bilinear_one_with_equal_moduli():
    surfaces = [t.surface for t in TEETH]
    equal = make_ligament("bilinear", young=0.08, second_young=0.08)
    q = loads(5)
    assert np.allclose(
        RootBed(surfaces, [equal] * 5).respond(q).stress, RootBed(surfaces, [STRAIGHT] * 5).respond(q).stress
    )


def slopes_enclose(bed, q, tangent):
    """Whether every column of the tangents (T, 6, 6) lies between the slopes to its left and right."""
    h = 1e-8
    here = bed.respond(q).stress
    for i in range(6):
        d = np.zeros_like(q)
        d[:, i] = h
        right, left = (bed.respond(q + d).stress - here) / h, (here - bed.respond(q - d).stress) / h
        slack = 1e-5 * np.abs(tangent).max()
        low, high = np.minimum(left, right) - slack, np.maximum(left, right) + slack
        if not np.all((tangent[..., i] >= low) & (tangent[..., i] <= high)):
            return False
    return True


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 1000))
def test_tangents_of_many_teeth_lie_between_the_one_sided_slopes(seed):
    bed = RootBed([t.surface for t in TEETH], MIXED)
    q = loads(5, seed)
    tangent = bed.respond(q).tangent
    assert np.allclose(tangent, np.swapaxes(tangent, -1, -2), atol=1e-9)
    assert slopes_enclose(bed, q, tangent)


def test_a_wrong_tangent_of_many_teeth_is_noticed():
    bed = RootBed([t.surface for t in TEETH], MIXED)
    q = loads(5)
    assert slopes_enclose(bed, q, bed.respond(q).tangent)
    assert not slopes_enclose(bed, q, 1.001 * bed.respond(q).tangent)
    assert not slopes_enclose(bed, q, bed.stiffness), "the bilinear stiffening would go unnoticed"


def test_a_closed_path_of_a_tooth_costs_no_energy():
    bed = RootBed([TEETH[0].surface], [SOFT])
    t = np.linspace(0, 2 * np.pi, 3001)[:, None, None]
    path = SCALE * np.concatenate(
        [np.cos(t), np.sin(t), np.sin(2 * t), np.sin(t), np.cos(3 * t), 1 + np.cos(t)], 2
    )
    work = (bed.respond(0.5 * (path[1:] + path[:-1])).stress * np.diff(path, axis=0)).sum(axis=-1)
    assert abs(work.sum()) < 1e-5 * np.abs(work).sum()


def test_teeth_at_rest_have_finite_tangents():
    rest = RootBed([t.surface for t in TEETH], MIXED).respond(np.zeros((5, 6)))
    assert not rest.stress.any() and np.isfinite(rest.tangent).all()


def test_counts_must_agree():
    with pytest.raises(InputError, match="5 root surfaces, 2 ligaments"):
        RootBed([t.surface for t in TEETH], [SOFT, SOFT])


@settings(max_examples=25, deadline=None)
@given(angles=st.tuples(*[st.floats(-3, 3)] * 3), shift=st.tuples(*[st.floats(-20, 20)] * 3))
def test_stiffness_follows_a_moved_root(angles, shift):
    """K about the new origin is Ad^-T K Ad^-1: the same root elsewhere takes the same energy."""
    a, b, c = angles
    rz = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
    rx = np.array([[1, 0, 0], [0, np.cos(b), -np.sin(b)], [0, np.sin(b), np.cos(b)]])
    r = rz @ rx
    x = np.array(shift)
    s = Paraboloid(2.5, 3.5, 13.0).surface()
    q = loads(1, 5)[0] * (1 + c)
    w = r @ q[3:]
    moved = np.concatenate([r @ q[:3] - np.cross(w, x), w])
    k0, k1 = foundation_matrix(s, 0.3, 0.1), foundation_matrix(s.moved(r, x), 0.3, 0.1)
    assert moved @ k1 @ moved == pytest.approx(q @ k0 @ q, rel=1e-9, abs=1e-12)
