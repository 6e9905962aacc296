"""Link kinematics: forces are the gradient of the energy, tangents the gradient of the forces."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.mechanics.links import Linear, Links
from biomech.mechanics.poses import Pose, pose_exp


def _system(seed, kinematics, turn, offsets=True, alike=False):
    rng = np.random.default_rng(seed)
    a = rng.normal(size=(6, 6))
    law = Linear((a @ a.T)[None], rng.normal(size=(1, 6)) * 0.2)
    off = [Pose(*(p[None] for p in pose_exp(rng.normal(size=6) * 0.5))) if offsets else None for _ in range(2)]
    if alike:
        off = [off[0], off[0]]
    links = Links("x", np.array([0]), np.array([1]), law, kinematics, *off)
    twist = rng.normal(size=(2, 6))
    twist[:, 3:] *= turn / np.linalg.norm(twist[:, 3:], axis=1).max()
    return links, pose_exp(twist[None])


def _moved(poses, q):
    step = pose_exp(np.concatenate([np.zeros((1, 2, 3)), q[..., 3:]], axis=-1)).rotation
    return poses @ Pose(step, q[..., :3])


def _gradient(f, n=12, eps=1e-5):
    cols = []
    for i in range(n):
        d = np.zeros(n)
        d[i] = eps
        cols.append((f(d.reshape(1, 2, 6)) - f(-d.reshape(1, 2, 6))) / (2 * eps))
    return np.stack(cols, axis=-1)


@pytest.mark.parametrize("kinematics", ["pose", "section"])
@pytest.mark.parametrize("offsets", [True, False])
@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), turn=st.floats(0.01, 1.2))
def test_forces_are_the_gradient_of_the_energy(kinematics, offsets, seed, turn):
    links, poses = _system(seed, kinematics, turn, offsets)

    def energy(q):
        return links.law.energy(links.strain(_moved(poses, q)), None)[0, 0]

    k = links.evaluate(poses)
    forces = k.to_frames(links.law.respond(k.strain, None).stress)[0, 0]
    numeric = _gradient(energy)
    assert np.allclose(forces, numeric, rtol=1e-6, atol=1e-6 * np.abs(numeric).max())


def _tangents(links, poses):
    """The tangents without and with the terms of third order, and the one from differences of the forces."""

    def forces(q):
        k = links.evaluate(_moved(poses, q))
        return k.to_frames(links.law.respond(k.strain, None).stress)[0, 0]

    k = links.evaluate(poses)
    r = links.law.respond(k.strain, None)
    short, exact = (k.tangent(r.tangent, r.stress, exact)[0, 0] for exact in (False, True))
    return short, exact, _gradient(forces)


@pytest.mark.parametrize("kinematics", ["pose", "section"])
@pytest.mark.parametrize("alike", [True, False])
@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), turn=st.floats(0.01, 1.2))
def test_the_exact_tangent_is_the_gradient_of_the_forces(kinematics, alike, seed, turn):
    links, poses = _system(seed, kinematics, turn, alike=alike)
    _, exact, numeric = _tangents(links, poses)
    assert np.allclose(exact, numeric, rtol=0, atol=1e-6 * np.abs(numeric).max())


@pytest.mark.parametrize("kinematics", ["pose", "section"])
@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), turn=st.floats(0.01, 0.15))
def test_newtons_tangent_leaves_out_little(kinematics, seed, turn):
    links, poses = _system(seed, kinematics, turn, alike=True)
    short, exact, _ = _tangents(links, poses)
    assert np.allclose(short, exact, atol=5e-3 * np.abs(exact).max())


def test_the_terms_of_third_order_would_be_missed():
    for kinematics in ("pose", "section"):
        links, poses = _system(3, kinematics, 1.0)
        short, exact, numeric = _tangents(links, poses)
        scale = np.abs(numeric).max()
        assert np.abs(short - numeric).max() > 1e-4 * scale > 100 * np.abs(exact - numeric).max()


def test_a_wrong_tangent_would_be_noticed():
    links, poses = _system(3, "pose", 0.1, alike=True)
    k = links.evaluate(poses)
    r = links.law.respond(k.strain, None)

    def forces(q):
        e = links.evaluate(_moved(poses, q))
        return e.to_frames(links.law.respond(e.strain, None).stress)[0, 0]

    material_only = (np.swapaxes(k.b, -1, -2) @ (r.tangent @ k.b))[0, 0]
    numeric = _gradient(forces)
    assert not np.allclose(material_only, numeric, atol=2e-2 * np.abs(numeric).max())


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), turn=st.floats(0.01, 2.5))
def test_strain_ignores_a_common_rigid_motion(seed, turn):
    rng = np.random.default_rng(seed)
    for kinematics in ("pose", "section"):
        links, poses = _system(seed, kinematics, turn)
        common = pose_exp(rng.normal(size=(1, 1, 6)))
        assert np.allclose(links.strain(common @ poses), links.strain(poses), atol=1e-10)
