"""Teeth on supports given by a stiffness and tractions, beside beds of springs."""

import numpy as np
import pytest

from biomech.errors import InputError
from biomech.ligaments import make_ligament
from biomech.tooth import make_tooth
from biomech.tooth.layer.supports import surface_support
from biomech.tooth.support import RootBed
from biomech.tooth.tractions import Support

NEARLY = make_ligament("linear", young=0.1, poisson=0.48)
TEETH = [make_tooth(number) for number in (16, 14, 11, 21, 26)]
SOFT = make_ligament("bilinear")
LAWS = [NEARLY, SOFT, NEARLY, SOFT, NEARLY]
GIVEN = [surface_support(TEETH[0], NEARLY).stiffness, None, None, None, surface_support(TEETH[4], NEARLY).stiffness]


def test_a_bed_takes_given_stiffnesses_beside_springs():
    surfaces = [t.surface for t in TEETH]
    mixed, springs = RootBed(surfaces, LAWS, GIVEN), RootBed(surfaces, LAWS)
    q = np.random.default_rng(3).normal(size=(4, 5, 6)) * [0.03, 0.03, 0.03, 0.003, 0.003, 0.003]
    got, plain = mixed.respond(q), springs.respond(q)
    for tooth in (0, 4):
        assert np.allclose(got.stress[:, tooth], q[:, tooth] @ GIVEN[tooth])
        assert np.allclose(got.tangent[:, tooth], GIVEN[tooth])
        assert np.allclose(mixed.energy(q)[:, tooth], 0.5 * np.einsum("bi,bi->b", q[:, tooth], got.stress[:, tooth]))
    for tooth in (1, 2, 3):
        assert np.allclose(got.stress[:, tooth], plain.stress[:, tooth])
        assert np.allclose(mixed.energy(q)[:, tooth], springs.energy(q)[:, tooth])
    share = np.full(q.shape[:-1], 0.3)
    work, slope = mixed.along(q).work(share)
    assert np.allclose(work, np.einsum("bti,bti->bt", 0.3 * q, mixed.respond(0.3 * q).stress))
    wrench, tangent = mixed.along(q).respond(share)
    assert np.allclose(wrench, mixed.respond(0.3 * q).stress, rtol=1e-12)
    assert np.allclose(tangent, mixed.respond(0.3 * q).tangent, rtol=1e-11, atol=1e-11)
    h = 1e-6
    up, down = (mixed.along(q).work(share + d)[0] for d in (h, -h))
    assert np.allclose(slope, (up - down) / (2 * h), rtol=1e-5)


def test_all_given_and_linear_is_one_constant_tangent():
    bed = RootBed([TEETH[0].surface, TEETH[4].surface], [NEARLY, NEARLY], [GIVEN[0], GIVEN[4]])
    assert bed.respond(np.zeros((7, 2, 6))).tangent.shape == (2, 6, 6)
    assert np.allclose(bed.stiffness, [GIVEN[0], GIVEN[4]], rtol=1e-14)


def test_a_given_stiffness_needs_a_linear_ligament():
    with pytest.raises(InputError, match="bilinear ligament"):
        RootBed([TEETH[0].surface], [SOFT], [GIVEN[0]])


def test_supports_refuse_wrong_shapes_and_a_body_that_drives():
    good = surface_support(TEETH[2], NEARLY)
    with pytest.raises(InputError, match="pressure"):
        Support.of_arrays(good.arrays() | {"pressure": good.pressure[:-1]}, "surface")
    with pytest.raises(InputError, match="positive definite"):
        Support.of_arrays(good.arrays() | {"stiffness": good.stiffness - 2 * np.diag(np.diag(good.stiffness)[:1].repeat(6)) * (np.arange(6) == 2)}, "surface")
    with pytest.raises(InputError, match="compliance"):
        good.with_body(-np.eye(6), np.zeros(3))


def test_pressure_between_the_points_is_between_their_pressures():
    support, q = surface_support(TEETH[2], NEARLY), np.array([0.0, 0.01, 0, 0, 0, 0])
    at = support.pressures(q).normal
    assert np.allclose(support.pressure_near(support.points[:20], q), at[:20], atol=1e-3 * at.max())
    between = support.pressure_near(support.points + 0.1, q)
    assert between.min() >= at.min() and between.max() <= at.max()
