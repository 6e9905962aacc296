"""What must not matter: orientation, numbering, the path; what must: whether a load turns with the wire."""

import beams
import numpy as np
import pytest
from beams import (
    Model,
    benchmark_a,
    benchmark_c,
    cantilever,
    displacement,
    line,
    load,
    passive_start,
    rotated,
)

from biomech.mechanics.links import Links
from biomech.mechanics.network import Network
from biomech.mechanics.poses import Pose, rotation_exp

L = 10.0
THIN = np.array([1e5, 1e5, 1e5, 80.0, 100.0, 150.0])


@pytest.mark.parametrize("w", [(0.3, -0.2, 0.9), (np.pi / 2, 0, 0), (1.0, 1.5, -2.0), (0, np.pi, 0)])
def test_orientation_of_the_model(w):
    model = benchmark_a(8, 600)
    turned = rotated(model, w)
    u, v = displacement(model.solve(), model, -1), displacement(turned.solve(), turned, -1)
    assert np.allclose(v, rotation_exp(np.array(w)) @ u, atol=1e-5)


def test_orientation_of_two_wires_and_twelve_teeth():
    model = benchmark_c(2)
    turned = rotated(model, (0.7, -1.1, 0.4))
    e, f = model.solve(), turned.solve()
    teeth = model.at["teeth"]
    r = rotation_exp(np.array([0.7, -1.1, 0.4]))
    assert np.allclose(displacement(f, turned, teeth), displacement(e, model, teeth) @ r.T, atol=1e-8)
    assert f.energy[0] == pytest.approx(e.energy[0], rel=1e-9)


def _renumbered(model, new):
    """The same model with frame i called new[i]."""
    old = np.argsort(new)
    groups = [
        Links(g.name, new[g.a], new[g.b], g.law, g.kinematics, g.offset_a, g.offset_b, g.shift)
        for g in model.network.groups
    ]
    network = Network(model.network.frames, model.network.fixed[old], groups)
    return Model(network, model.start.take(old), {k: new[v] for k, v in model.at.items()})


def test_numbering_of_the_frames():
    model = benchmark_c(2)
    shuffled = _renumbered(model, np.random.default_rng(4).permutation(model.network.frames))
    e, f = model.solve(), shuffled.solve()
    u = displacement(e, model, model.at["teeth"])
    assert np.allclose(displacement(f, shuffled, shuffled.at["teeth"]), u, atol=1e-9)
    assert shuffled.network.band < 2 * model.network.band  # and the numbering found for it is a good one


@pytest.mark.parametrize("increment", [0.5, 0.13])
def test_the_load_path(increment):
    for model in (benchmark_a(8, 600), passive_start(benchmark_c(2))):
        at_once, slowly = model.solve(), model.solve(first_increment=increment)
        assert np.allclose(at_once.poses.position, slowly.poses.position, atol=1e-6)


def test_mixed_and_plain_newton_agree():
    model = passive_start(benchmark_c(2))
    mixed, plain = model.solve(), model.solve(mixed=False, first_increment=0.25)
    assert np.allclose(mixed.poses.position, plain.poses.position, atol=1e-7)
    assert mixed.steps[0] < plain.steps[0]


def _bent(follows, force=3.0, n=12):
    model = cantilever(line(L, n), THIN, load(n, (0, force, 0), follows=follows))
    e = model.solve(tolerance=1e-8)
    clamp = e.frame_forces(0)[
        0, 0, :6
    ]  # what the clamp supplies, in its own axes, which stay the global ones
    return e.poses.rotation[0, -1], e.poses.position[0, -1], clamp


def test_a_dead_load_keeps_its_direction_and_a_following_load_turns():
    force = np.array([0.0, 3.0, 0.0])
    for follows in (False, True):
        rotation, tip, clamp = _bent(follows)
        f = rotation @ force if follows else force
        assert np.allclose(clamp[:3], -f, atol=1e-6)
        assert np.allclose(clamp[3:], -np.cross(tip, f), atol=1e-5)
    dead, following = _bent(False)[1], _bent(True)[1]
    assert following[1] - dead[1] > 0.5


def test_dead_and_following_loads_agree_when_small():
    dead, following = _bent(False, 1e-3)[1], _bent(True, 1e-3)[1]
    assert np.allclose(dead, following, atol=1e-6)


@pytest.mark.parametrize("turn", [0.5, 1.5, 2.9])
def test_a_moved_clamp_carries_an_unloaded_wire_along(turn):
    poses = line(L, 6)
    model = cantilever(poses, THIN, beams.Loads.none())
    motion = Pose(rotation_exp(turn * np.array([0.48, 0.6, 0.64])), np.array([3.0, -2.0, 5.0]))
    e = model.solve(target=motion @ poses)
    assert np.allclose(e.poses.position[0], motion.point(poses.position), atol=1e-6)
    assert np.allclose(e.poses.rotation[0], motion.rotation @ poses.rotation, atol=1e-6)
    assert np.abs(e.stress(0)).max() < 1e-6


def test_moving_a_clamp_or_the_rest_of_the_world_is_the_same():
    # both ends held: bringing B towards A bends the wire as bringing A towards B does
    poses = beams.arc(L, 1.2, 8)
    frames = len(poses.position)
    wire = beams.wire("wire", poses, np.arange(frames), THIN)
    model = Model(Network(frames, beams.fixed(frames, [0, frames - 1]), [wire]), poses)
    forces = []
    for end, sign in ((0, -1.0), (-1, 1.0)):
        move = np.zeros((frames, 3))
        move[end] = sign * np.array([0.4, 0.3, 0.6])
        e = model.solve(target=Pose(poses.rotation, poses.position + move))
        forces.append(e.frame_forces(0)[0, -1, 6:])
    assert np.allclose(*forces, atol=1e-6)
