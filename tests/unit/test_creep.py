"""The ligament that yields in time: what it promises about its socket, and its tangent."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.ligaments import make_ligament
from biomech.mechanics.poses import jacobian_inverse, pose_exp, pose_log
from biomech.movement.creep import Creep, rate_of
from biomech.movement.levers import Levers
from biomech.movement.scheme import scheme
from biomech.rates import make_rate
from biomech.tooth.model import make_tooth
from biomech.tooth.support import RootBed

RNG = np.random.default_rng(7)
STRAIN = RNG.normal(size=(1, 3, 6)) * np.array([0.1, 0.1, 0.05, 0.01, 0.01, 0.01])


def bed(ligament: str) -> tuple[RootBed, Levers]:
    law = make_ligament(ligament)
    out = RootBed([make_tooth(n).surface for n in (16, 13, 11)], [law] * 3)
    return out, Levers.of(out.stiffness, [law.normal_modulus] * 3)


@pytest.mark.parametrize("ligament", ["linear", "bilinear"])
@pytest.mark.parametrize("rate", ["proportional", "logarithmic", "power"])
@pytest.mark.parametrize("weight", [0.0, 0.05, 20.0])
def test_the_socket_follows_and_the_tooth_feels_the_ligament(ligament: str, rate: str, weight: float) -> None:
    springs, levers = bed(ligament)
    law = make_rate(rate)
    creep = Creep(springs, law, levers, weight)
    response = creep.respond(STRAIN, None)
    q = creep.motion(STRAIN)
    wrench, stiffness, *_ = springs.respond(q)
    flow = rate_of(law, levers, q, wrench, np.broadcast_to(stiffness, (*q.shape, 6)))
    np.testing.assert_allclose((1 + weight * flow.rate)[..., None] * q, STRAIN, rtol=1e-8)
    # socket at exp(weight rate q) from B, tooth at exp(e): the tooth stands at exp(q) from the socket
    socket = pose_exp(weight * flow.rate[..., None] * q)
    np.testing.assert_allclose(pose_log(socket.inverse() @ pose_exp(STRAIN)), q, atol=1e-9)
    from_e = np.einsum("...ji,...j", jacobian_inverse(STRAIN)[0], response.stress)
    from_q = np.einsum("...ji,...j", jacobian_inverse(q)[0], wrench)
    np.testing.assert_allclose(from_e, from_q, atol=1e-9)


@pytest.mark.parametrize("ligament", ["linear", "bilinear"])
@given(
    rate=st.sampled_from(["proportional", "logarithmic", "power"]), least=st.floats(0.1, 10.0),
    size=st.floats(-4.0, 0.5), weight=st.floats(-2.0, 2.5),
)  # fmt: skip
@settings(max_examples=300, deadline=None)
def test_a_law_with_a_least_stress_has_its_share(ligament: str, rate: str, least: float, size: float, weight: float) -> None:
    springs, levers = bed(ligament)
    law, strain = make_rate(rate, least=least), 10.0**size * STRAIN
    q = Creep(springs, law, levers, 10.0**weight).motion(strain)
    wrench, stiffness, *_ = springs.respond(q)
    flow = rate_of(law, levers, q, wrench, np.broadcast_to(stiffness, (*q.shape, 6)))
    np.testing.assert_allclose((1 + 10.0**weight * flow.rate)[..., None] * q, strain, rtol=1e-6)


@pytest.mark.parametrize("ligament", ["linear", "bilinear"])
def test_tangent(ligament: str) -> None:
    springs, levers = bed(ligament)
    creep = Creep(springs, make_rate("logarithmic"), levers, 0.7)
    strain = STRAIN * np.array([1, 1, 1, 0, 0, 0.0])  # the change of the dual between e and q is left out
    tangent = creep.respond(strain, None).tangent
    for i in range(3):
        d = np.zeros(6)
        d[i] = 1e-6
        slope = (creep.respond(strain + d, None).stress - creep.respond(strain - d, None).stress) / 2e-6
        np.testing.assert_allclose(tangent[..., :3, i], slope[..., :3], rtol=2e-4, atol=2e-3)


def test_the_law_of_an_unmoved_tooth_is_finite() -> None:
    springs, levers = bed("bilinear")
    response = Creep(springs, make_rate(), levers, 5.0).respond(np.zeros((1, 3, 6)), None)
    assert np.isfinite(response.tangent).all() and not response.stress.any()
    assert np.linalg.eigvalsh(response.tangent).min() > 0


def test_order_conditions() -> None:
    # Hairer and Wanner 1996, Solving ODEs II, ch. IV (from memory): order 4, and order 3 of the embedded rule
    s = scheme()
    a, c = s.stages, s.nodes
    b, other = a[-1], a[-1] - s.error
    np.testing.assert_allclose(a.sum(axis=1), c, atol=1e-14)
    for w in (b, other):
        np.testing.assert_allclose([w.sum(), w @ c, w @ c**2, w @ a @ c], [1, 1 / 2, 1 / 3, 1 / 6], atol=1e-13)
    fourth = [b @ c**3, (b * c) @ a @ c, b @ a @ c**2, b @ a @ a @ c]
    np.testing.assert_allclose(fourth, [1 / 4, 1 / 8, 1 / 12, 1 / 24], atol=1e-13)
    assert abs(other @ c**3 - 1 / 4) > 1e-5
    z = -1e8
    assert abs(1 + z * b @ np.linalg.solve(np.eye(6) - z * a, np.ones(6))) < 1e-6  # L-stable
