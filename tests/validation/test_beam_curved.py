"""Curved wires under small loads against closed forms: quarter circle, horseshoe, the MacNeal-Harder beam."""

import beams
import numpy as np
import pytest
from beams import Model, along, arc, cantilever, displacement, load, turn

from biomech.mechanics.loads import Loads
from biomech.mechanics.network import Network
from biomech.mechanics.poses import Pose
from biomech.section import Rectangular, Round

R, EI, GJ = 10.0, 100.0, 70.0
RIGID = 1e6  # stretch and shear stiffness; EI/(EA R^2) = 1e-6
SMALL = 1e-3  # load, N or N.mm: small against EI/R^2


def _quarter(elements, force=(0, 0, 0), moment=(0, 0, 0)):
    """Tip displacement and turn per unit load; mean of both signs, so that second-order terms cancel."""
    section = np.array([RIGID, RIGID, RIGID, GJ, EI, EI])
    found = []
    for p in (SMALL, -SMALL):
        loads = load(elements, *(p * np.array([force, moment])))
        model = cantilever(arc(R, np.pi / 2, elements), section, loads)
        e = model.solve(tolerance=1e-8)
        found.append(np.array([displacement(e, model, -1), turn(e, model, -1)]) / (2 * p))
    return found[0] + found[1]


QUARTER = {  # Castigliano's theorem, thin curved beam; derivation checked by computation
    "in plane, radial": ((0, 1, 0), 1, np.pi * R**3 / (4 * EI)),
    "in plane, tangential": ((1, 0, 0), 0, (3 * np.pi / 4 - 2) * R**3 / EI),
    "out of plane": ((0, 0, 1), 2, R**3 * (np.pi / (4 * EI) + (3 * np.pi / 4 - 2) / GJ)),
}


@pytest.mark.parametrize("name", QUARTER)
def test_quarter_circle(name):
    force, axis, closed = QUARTER[name]
    assert _quarter(8, force)[0][axis] == pytest.approx(closed, rel=1e-3)
    # without the curvature terms of the element's flexibility this would be 1.7 % or more
    assert _quarter(4, force)[0][axis] == pytest.approx(closed, rel=5e-3)


@pytest.mark.parametrize("name", QUARTER)
def test_the_error_falls_with_the_fourth_power_of_the_element(name):
    force, axis, closed = QUARTER[name]
    coarse, fine = (abs(_quarter(n, force)[0][axis] - closed) for n in (2, 4))
    assert 3.6 < np.log2(coarse / fine) < 4.6


def test_quarter_circle_under_an_end_couple():
    assert _quarter(3, moment=(0, 0, 1))[1][2] == pytest.approx(np.pi * R / (2 * EI), rel=1e-6)


@pytest.mark.parametrize(
    ("axis", "published"),
    # MacNeal and Harder 1985, Finite Elem. Anal. Des. 1:3; data seen in full in a public test
    [(1, 0.08734), (2, 0.5022)],
)
def test_macneal_harder_curved_beam(axis, published):
    section = Rectangular(height=0.1, depth=0.2).stiffness(1e7, 0.25, shear_factor=5 / 6)
    model = cantilever(arc(4.22, np.pi / 2, 12), section, load(12, np.eye(3)[axis]))
    assert displacement(model.solve(), model, -1)[axis] == pytest.approx(published, rel=0.015)


def _horseshoe(leg, radius=25.0, legs=6, half_turns=16):
    """Two straight legs joined by a semicircle, from the right end to the left end."""
    y = np.linspace(-leg, 0.0, legs + 1)[:-1] if leg else np.zeros(0)
    t = np.linspace(-np.pi / 2, np.pi / 2, half_turns + 1)
    bow = radius * np.stack([np.sin(t), np.cos(t)], axis=-1)
    left = np.stack([np.full(len(y), -radius), y], axis=-1)
    points = np.concatenate([left, bow, left[::-1] * [-1, 1]])
    down = np.tile([0.0, -1.0], (len(y), 1))
    tangents = np.concatenate([-down, np.stack([np.cos(t), -np.sin(t)], axis=-1), down])
    flat = np.zeros((len(points), 1))
    return along(np.hstack([points, flat]), np.hstack([tangents, flat]))


# force per mm of opening, N/mm, ends free to turn and held; closed form (derivation computed), E = 180 GPa
HORSESHOES = [
    (0.9, 0.0, 0.2362, 1.247), (0.9, 15.0, 0.0707, 0.339), (0.9, 25.0, 0.0396, 0.182),
    (1.0, 0.0, 0.3600, 1.900), (1.0, 15.0, 0.1078, 0.516), (1.0, 25.0, 0.0603, 0.277),
]  # fmt: skip


@pytest.mark.parametrize(("diameter", "leg", "free", "held"), HORSESHOES)
def test_horseshoe_arch(diameter, leg, free, held):
    poses = _horseshoe(leg)
    n = len(poses.position)
    section = Round(diameter).stiffness(180e3, 0.3)
    pull = 0.01
    ends = Loads(
        np.array([0, n - 1]), np.zeros((2, 3)), np.array([[-pull, 0, 0], [pull, 0, 0]]), np.zeros((2, 3)),
        np.array([False, False]),
    )  # fmt: skip
    model = cantilever(poses, section, ends, clamped=(n // 2,))
    u = displacement(model.solve(), model, [0, -1])[:, 0]
    assert pull / (u[1] - u[0]) == pytest.approx(free, rel=0.005)
    i, r, x = section[5], 25.0, leg
    opening = 2 * x**3 / 3 + r * (np.pi * x**2 + 4 * x * r + np.pi * r**2 / 2)
    assert pull / (u[1] - u[0]) == pytest.approx(i / opening, rel=2e-3)
    assert _held_rate(poses, section) == pytest.approx(held, rel=0.005)
    assert _held_rate(poses, section) == pytest.approx(
        i / (opening - (x**2 + r * (np.pi * x + 2 * r)) ** 2 / (2 * x + np.pi * r)), rel=3e-3
    )


def _held_rate(poses, section, opening=0.01):
    n = len(poses.position)
    wire = beams.wire("wire", poses, np.arange(n), section)
    model = Model(Network(n, beams.fixed(n, [0, n - 1]), [wire]), poses)
    move = np.zeros((n, 3))
    move[0, 0], move[-1, 0] = -opening / 2, opening / 2
    e = model.solve(target=Pose(poses.rotation, poses.position + move))
    force = poses.rotation[-1] @ e.frame_forces(0)[0, -1, 6:9]
    return force[0] / opening
