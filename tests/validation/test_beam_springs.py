"""Short straight wires under small bends: bending tests, two-bracket classes, V and step bends."""

import beams
import numpy as np
import pytest
from beams import Model, cantilever, displacement, line, load

from biomech.mechanics.network import Network
from biomech.mechanics.poses import Pose, pose_exp
from biomech.section import Rectangular, Round

IN, GF = 25.4, 9.80665e-3
WIRES = {
    ".016 rd": Round(0.016 * IN), ".018 rd": Round(0.018 * IN),
    ".016x.022 flat": Rectangular(height=0.016 * IN, depth=0.022 * IN),
    ".018x.025 flat": Rectangular(height=0.018 * IN, depth=0.025 * IN),
    ".019x.025 flat": Rectangular(height=0.019 * IN, depth=0.025 * IN),
    ".019x.025 edge": Rectangular(height=0.025 * IN, depth=0.019 * IN),
}  # fmt: skip
# 48 EI/L^3 at a span of 10 mm, N/mm, E = 180, 66, 40 GPa (computed; the span is that of ISO 15841)
RATES = {
    ".016 rd": (11.57, 4.24, 2.57), ".018 rd": (18.53, 6.80, 4.12), ".016x.022 flat": (27.0, 9.90, 6.00),
    ".018x.025 flat": (43.7, 16.0, 9.71), ".019x.025 flat": (51.4, 18.8, 11.4), ".019x.025 edge": (89.0, 32.6, 19.8),
}  # fmt: skip


def _shear_rigid(section, young):
    out = section.stiffness(young, 0.3)
    out[1:3] *= 1e3  # the closed forms are those of Euler and Bernoulli
    return out


@pytest.mark.parametrize("name", RATES)
def test_three_point_bending(name):
    span, deflection, n = 10.0, 0.01, 4
    for young, rate in zip((180e3, 66e3, 40e3), RATES[name], strict=True):
        poses = line(span, n)
        free = beams.wire("wire", poses, np.arange(n + 1), _shear_rigid(WIRES[name], young))
        supports = _supports(n)
        frames = n + 3
        model = Model(
            Network(frames, beams.fixed(frames, [n + 1, n + 2, n // 2]), [free, supports]),
            beams.join(poses, poses.take(np.array([0, n]))),
        )
        down = np.zeros((frames, 3))
        down[n // 2, 2] = -deflection
        e = model.solve(target=Pose(model.start.rotation, model.start.position + down), tolerance=1e-8)
        force = -e.frame_forces(0)[0, n // 2 - 1, 8] - e.frame_forces(0)[0, n // 2, 2]
        assert force / deflection == pytest.approx(rate, rel=3e-3)  # printed to three figures
        assert force / deflection == pytest.approx(48 * young * WIRES[name].inertia_2 / span**3, rel=1e-3)


def _supports(n):
    """Knife edges: stiff upwards and sideways, free to turn and to slide."""
    g = beams.springs("supports", [n + 1, n + 2], [0, n], 0.0)
    k = np.array(g.law.stiffness)
    k[:, [1, 2, 3], [1, 2, 3]] = 1e6
    return g.with_law(type(g.law)(k))


@pytest.mark.parametrize("name", RATES)
def test_cantilever_rate(name):
    section, length, force = _shear_rigid(WIRES[name], 180e3), 10.0, 0.01
    for axis, inertia in ((1, 5), (2, 4)):
        model = cantilever(line(length, 2), section, load(2, force * np.eye(3)[axis]))
        u = displacement(model.solve(tolerance=1e-8), model, -1)[axis]
        assert force / u == pytest.approx(3 * section[inertia] / length**3, rel=1e-3)


LENGTH, MOMENT = 7.0, 1860 * GF
# Burstone and Koenig 1974, AJO 65:270 (page abstract only), reproduced from M_A/M_B = (2 r + 1)/(2 + r):
# class, angle ratio A/B, M_A/M_B, F L/M_B, printed M_A (gf.mm) and F (gf) for M_B = 1860 gf.mm (from memory)
CLASSES = [
    ("I", 1.0, 1.0, 2.0, 1860, 531.4), ("II", 0.5, 0.8, 1.8, 1488, 478.3), ("III", 0.0, 0.5, 1.5, 930, 398.6),
    ("IV", -0.5, 0.0, 1.0, 0, 265.7), ("V", -0.75, -0.4, 0.6, -744, 159.4), ("VI", -1.0, -1.0, 0.0, -1860, 0),
]  # fmt: skip


def _end_actions(poses, section, target=None, offsets=None):
    """Moments about the outward axis (A, B) and vertical force at B that hold both ends of a wire."""
    n = len(poses.position)
    wire = beams.wire("wire", poses, np.arange(n), section, offsets)
    model = Model(Network(n, beams.fixed(n, [0, n - 1]), [wire]), poses)
    e = model.solve(target=target, tolerance=1e-8)
    f = e.frame_forces(0)[0]
    return f[0, 4], f[-1, 10], f[-1, 8], e


@pytest.mark.parametrize(("name", "ratio", "moments", "force", "printed", "printed_force"), CLASSES)
def test_two_bracket_classes(name, ratio, moments, force, printed, printed_force):
    section = _shear_rigid(Round(0.018 * IN), 180e3)
    ei = section[4]
    theta_b = 1e-4  # the pull of the held length grows with its square
    turns = np.zeros((5, 6))
    turns[0, 4], turns[-1, 4] = ratio * theta_b, theta_b
    poses = line(LENGTH, 4)
    ma, mb, f, _ = _end_actions(poses, section, target=poses @ pose_exp(turns))
    assert mb == pytest.approx(2 * ei / LENGTH * (2 + ratio) * theta_b, rel=2e-5)
    assert ma / mb == pytest.approx(moments, abs=2e-5)
    assert abs(f) * LENGTH / abs(mb) == pytest.approx(force, abs=2e-5)
    assert ma / mb * 1860 == pytest.approx(printed, abs=1.0)
    assert abs(f) / abs(mb) * MOMENT / GF == pytest.approx(printed_force, abs=0.15)


@pytest.mark.parametrize(
    ("r", "published"),  # Burstone and Koenig 1988, AJODO 93:59, table seen in full in a fragment; L = 7 mm
    [(0.1, 0.4), (0.2, 0.3), (2.3 / 7, 0.0), (0.4, -0.3), (0.5, -1.0)],
)
def test_v_bend(r, published):
    # kink theta at a distance r L from bracket 1: M1 = (2 EI theta/L)(2 - 3 r), M2 = (2 EI theta/L)(1 - 3 r)
    section = _shear_rigid(Round(0.016 * IN), 200e3)
    theta = 1e-3
    m1, m2 = _kinked(section, r, theta)
    factor = 2 * section[4] * theta / LENGTH
    assert abs(m1) == pytest.approx(factor * (2 - 3 * r), rel=1e-4)
    assert m2 / m1 == pytest.approx((1 - 3 * r) / (2 - 3 * r), abs=1e-4)
    assert m2 / m1 == pytest.approx(published, abs=0.05)


def _kinked(section, r, theta):
    """Moments about the outward axis that hold both ends of a wire kinked by theta at r L."""
    x = np.unique(np.concatenate([np.linspace(0, r, 3), np.linspace(r, 1, 3)])) * LENGTH
    poses = beams.along(x[:, None] * [1.0, 0, 0], np.tile([1.0, 0, 0], (len(x), 1)))
    n = len(x)
    kink = 2
    # the station at the kink looks straight on to its left and turned by theta to its right: two rods meet in it
    left = beams.wire("left", poses.take(slice(0, kink + 1)), np.arange(kink + 1), section)
    turned = np.zeros((n - kink, 6))
    turned[0, 4] = theta
    right = beams.wire("right", poses.take(slice(kink, n)), np.arange(kink, n), section, pose_exp(turned))
    model = Model(Network(n, beams.fixed(n, [0, n - 1]), [left, right]), poses)
    e = model.solve(tolerance=1e-8)
    return e.frame_forces(0)[0, 0, 4], e.frame_forces(1)[0, -1, 10]


def test_central_step():
    # same source: step .35 mm, L = 7 mm: couples 1210 gf.mm, forces 347 gf; 6 EI step/L^2 with a .016 in round wire
    # at 30e6 psi gives 1210.4 gf.mm and 345.8 gf (computed)
    section = _shear_rigid(Round(0.016 * IN), 30e6 * 6.894757e-3)
    ma, mb, f, _ = _end_actions(line(LENGTH, 4), section, target=_raised(0.35))
    assert abs(ma) / GF == pytest.approx(1210.4, rel=5e-3)
    assert abs(mb) / GF == pytest.approx(1210, rel=5e-3)
    assert abs(f) / GF == pytest.approx(345.8, rel=5e-3)
    assert abs(f) / GF == pytest.approx(347, rel=0.01)


def _raised(step):
    # the far end also comes in by the shortening 3 step^2/(5 L), so that the wire is not pulled tight
    poses = line(LENGTH, 4)
    move = np.zeros((5, 3))
    move[-1] = (-0.6 * step**2 / LENGTH, 0.0, step)
    return Pose(poses.rotation, poses.position + move)
