"""Arch forms against closed forms and derived planning figures."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ellipe

from biomech.archform import arch_form

# Perimeter at 55 x 40 mm, change per mm of width and of depth. Closed forms (beta: Braun et al. 1998, Angle
# Orthod 68:29-36, coefficients from memory, confirmed algebraically), evaluated independently ("derived").
TABLE = [
    ("beta", 103.018, 0.640, 1.696),
    ("parabola", 101.509, 0.615, 1.692),
    ("ellipse", 106.940, 0.706, 1.703),
    ("catenary", 103.265, 0.601, 1.755),
]


@pytest.mark.parametrize(("kind", "perimeter", "per_width", "per_depth"), TABLE)
def test_perimeter_and_its_slopes(kind, perimeter, per_width, per_depth):
    def length(width, depth):
        return arch_form(kind, width, depth).length

    h = 0.05
    assert length(55, 40) == pytest.approx(perimeter, abs=1.5e-3)
    assert (length(55 + h, 40) - length(55 - h, 40)) / (2 * h) == pytest.approx(per_width, abs=1e-3)
    assert (length(55, 40 + h) - length(55, 40 - h)) / (2 * h) == pytest.approx(per_depth, abs=1e-3)


@pytest.mark.parametrize(("width", "depth"), [(55.0, 40.0), (40.0, 30.0), (65.0, 28.0)])
def test_closed_form_perimeters(width, depth):
    u = 4 * depth / width
    parabola = width / 2 * (np.hypot(1, u) + np.arcsinh(u) / u)
    assert arch_form("parabola", width, depth).length == pytest.approx(parabola, rel=1e-8)
    long, short = max(width / 2, depth), min(width / 2, depth)
    ellipse = 2 * long * ellipe(1 - (short / long) ** 2)
    assert arch_form("ellipse", width, depth).length == pytest.approx(ellipse, rel=1e-8)


def test_catenary():
    # y = c (cosh(x/c) - 1), P = 2 c sinh(W/2c); c = 13.3236 at 55 x 40 ("derived")
    c = 13.3236
    curve = arch_form("catenary", 55, 40)
    assert curve.length == pytest.approx(2 * c * np.sinh(27.5 / c), abs=2e-3)
    assert curve.curvature(0.0) == pytest.approx(-1 / c, rel=1e-5)


@pytest.mark.parametrize("kind", ["parabola", "catenary"])
def test_perimeter_grows_less_than_twice_the_depth(kind):
    # dP/dD < 2 with fixed ends (for the catenary P - 2D = 2c(1 - exp(-W/2c)) falls monotonically; "derived")
    lengths = [arch_form(kind, 55, depth).length for depth in np.linspace(15, 60, 10)]
    assert np.all(np.diff(lengths) < 2 * 5.0)


@pytest.mark.parametrize("kind", ["beta", "parabola", "ellipse"])
def test_points_lie_on_the_formula(kind):
    curve = arch_form(kind, 55, 40)
    x, y = curve.point(np.linspace(-curve.length_right, curve.length_left, 801)).T
    t = np.clip(1 - (2 * x / 55) ** 2, 0, None)
    power = {"beta": 0.8, "parabola": 1.0, "ellipse": 0.5}[kind]
    near_end = 1.0 if kind == "beta" else 0.0
    keep = y > near_end
    # measured across the curve, so that steep parts count fairly
    slope = np.abs(curve.tangent(curve.nearest(np.stack([x, y], -1)))[:, 0])
    np.testing.assert_allclose((slope * (y - 40 * t**power))[keep], 0, atol=1e-4)


def test_front_curvature_of_the_beta_curve():
    # y'' at x = 0 of D (1 - (2x/W)^2)^0.8 is -6.4 D / W^2
    assert arch_form("beta", 55, 40).curvature(0.0) == pytest.approx(-6.4 * 40 / 55**2, rel=1e-5)


# Teeth laid on a beta curve 60 x 45 by mesiodistal widths (textbook means, from memory): width between the
# two sides' centres and depth behind the incisal edge, mm ("derived").
WIDTHS = [8.5, 6.5, 7.5, 7.0, 7.0, 10.0, 9.0]
CENTRES = [
    (8.35, 0.70),
    (21.14, 4.53),
    (30.63, 9.65),
    (38.65, 15.69),
    (45.11, 21.90),
    (51.66, 29.74),
    (57.42, 38.79),
]


def test_tooth_positions_on_a_beta_curve():
    curve = arch_form("beta", 60, 45)
    edges = np.concatenate([[0], np.cumsum(WIDTHS)])
    centres = curve.point(0.5 * (edges[1:] + edges[:-1]))
    np.testing.assert_allclose(np.stack([2 * centres[:, 0], 45 - centres[:, 1]], -1), CENTRES, atol=0.006)
    mesial = curve.point(36.5)  # mesial of the first molar: half the clinical perimeter of 73.0 mm
    np.testing.assert_allclose([2 * mesial[0], 45 - mesial[1]], (47.97, 25.09), atol=0.006)


def test_room_from_widening_and_from_depth():
    """dP = 0.662 dW6 (= 0.885 dW4 = 1.117 dW3) + 1.546 dD6 by uniform scaling ("derived").

    P runs between the mesials of the first molars, D6 from the incisors to there.
    """
    curve = arch_form("beta", 60, 45)
    mesial = curve.point(36.5)
    h = 0.02
    scale = 1 + h / 30
    wide = curve.widened(h, h)
    gained = 2 * float(wide.nearest(mesial * [scale, 1])) - 73.0
    for width, slope in ((51.66, 0.662), (38.65, 0.885), (30.63, 1.117)):
        assert gained / (width * h / 30) == pytest.approx(slope, abs=1.5e-3)
    deep = arch_form("beta", 60, 45 + h)
    longer = 2 * float(deep.nearest(mesial * [1, 1 + h / 45])) - 73.0
    per_depth = longer / ((45 - mesial[1]) * h / 45)
    assert per_depth == pytest.approx(1.546, abs=1.5e-3)
    # at constant perimeter the incisors come back: -0.434 mm for the first mm of molar width (band 0.35-0.50)
    assert 0.35 < gained / (51.66 * h / 30) / per_depth < 0.50
