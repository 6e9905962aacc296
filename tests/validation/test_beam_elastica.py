"""Large bending of straight wires: elastica, roll-up by a tip moment, bending and twisting into space."""

import numpy as np
import pytest
from beams import cantilever, displacement, line, load, turn

L = 10.0
THIN = np.array([1e5, 1e5, 1e5, 100.0, 100.0, 100.0])  # stretch and shear hardly matter: EI/(EA L^2) = 1e-5

# P L^2/EI: transverse w/L, shortening u/L, tip angle. Mattiasson 1981, Int. J. Numer. Meth. Eng. 17:145 (values
# at 1, 2, 5, 10 seen in full in two public test suites, the paper itself second-hand); the whole table computed
# from elliptic integrals
ELASTICA = [
    (0.2, 0.06636, 0.00265, 0.09964), (0.4, 0.13098, 0.01035, 0.19715), (0.6, 0.19235, 0.02249, 0.29074),
    (0.8, 0.24945, 0.03817, 0.37906), (1, 0.30172, 0.05643, 0.46135), (1.5, 0.41098, 0.10794, 0.63954),
    (2, 0.49346, 0.16064, 0.78175), (3, 0.60325, 0.25442, 0.98602), (4, 0.66996, 0.32894, 1.12124),
    (5, 0.71379, 0.38763, 1.21537), (6, 0.74457, 0.43459, 1.28370), (7, 0.76737, 0.47293, 1.33496),
    (8, 0.78498, 0.50483, 1.37443), (9, 0.79906, 0.53182, 1.40547), (10, 0.81061, 0.55500, 1.43029),
]  # fmt: skip


@pytest.mark.parametrize("axis", [1, 2])
@pytest.mark.parametrize(("p", "w", "u", "angle"), ELASTICA)
def test_elastica(p, w, u, angle, axis):
    n = 24
    model = cantilever(line(L, n), THIN, load(n, p * np.eye(3)[axis] * THIN[5] / L**2))
    e = model.solve()
    d = displacement(e, model, -1) / L
    assert d[axis] == pytest.approx(w, rel=1e-3)
    assert -d[0] == pytest.approx(u, rel=2e-3)
    assert np.linalg.norm(turn(e, model, -1)) == pytest.approx(angle, rel=1e-3)


def _rolled_up(t, elements, **settings):
    # Euler: a pure moment bends to a circle; x/L = sin t / t, y/L = (1 - cos t)/t with t = M L / EI. The
    # element is exact for constant curvature while it turns by less than half a turn.
    model = cantilever(line(L, elements), THIN, load(elements, moment=(0, 0, t * THIN[5] / L)))
    e = model.solve(**settings)
    assert np.allclose(e.poses.position[0, -1] / L, [np.sin(t) / t, (1 - np.cos(t)) / t, 0.0], atol=1e-6)
    return e


@pytest.mark.parametrize("elements", [1, 2, 5])
@pytest.mark.parametrize("t", [0.3, np.pi / 2, np.pi * 0.99])
def test_a_tip_moment_rolls_the_wire_up_exactly(t, elements):
    _rolled_up(t, elements, first_increment=0.25)


@pytest.mark.parametrize("elements", [4, 10, 40])
@pytest.mark.parametrize("settings", [{}, {"first_increment": 0.1}])
def test_a_full_circle(elements, settings):
    # beyond half a turn the symmetric part of the tangent is indefinite, which says nothing: a moment fixed in space
    # has no potential
    e = _rolled_up(2 * np.pi, elements, **settings)
    assert e.negative[0] == -1 and not e.left[0]
    assert any("could not be judged" in line for line in e.history)


def test_bent_and_pushed_out_of_plane():
    # Ibrahimbegovic 1995, light version: M = 2 pi EI/(8 L) about e3 fixed in space, F = 1/16 along e3; tip
    # displacement computed by a Runge-Kutta shooting solution of the rod equations
    section = np.array([1e4, 1e4, 1e4, 100.0, 100.0, 100.0])
    n = 20
    model = cantilever(line(L, n), section, load(n, (0, 0, 1 / 16), (0, 0, 2 * np.pi * 100 / (8 * L))))
    u = displacement(model.solve(), model, -1)
    expected = np.array([-0.998508, 3.727561, 0.195751])
    assert np.abs(u - expected).max() < 1e-3 * np.linalg.norm(expected)
    assert u[2] == pytest.approx(expected[2], rel=2e-3)
