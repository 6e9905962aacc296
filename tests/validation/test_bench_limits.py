"""From where on an elastic wire on the bench is past its limit, against closed forms of beam theory (small deflections).

The peak stress is M c / I (c half the height) in bending and, under von Mises, sqrt 3 T / (0.208 a^3) in a square wire
of side a that is twisted (Saint-Venant; Timoshenko's table, from memory, three figures).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from biomech.alloys import REGISTRY
from biomech.bench import Curve, Specimen, drive
from biomech.bench.bending import cantilever, three_point
from biomech.bench.couples import two_brackets
from biomech.bench.opening import horseshoe
from biomech.bench.twisting import torsion
from biomech.section import Rectangular, Round, Section

STEEL = REGISTRY.get("stainless as drawn")
LIMIT = 60.0
"""MPa: so low that it is met where deflections are small."""


def weak(section: Section, limit: float = LIMIT) -> Specimen:
    return Specimen(section, replace(STEEL, elastic_limit=limit, elastic_limit_range=(limit, limit)))


@pytest.mark.parametrize("edgewise", [False, True])
def test_three_point(edgewise: bool) -> None:
    """M = F L / 4 in the middle; F over deflection from 48 E I / L^3 and the shear flexibility L / (4 k G A)."""
    specimen = weak(Rectangular(0.4, 0.55))
    e, c = specimen.elastic, 0.275 if edgewise else 0.2
    bending, shear = (e[5], e[1]) if edgewise else (e[4], e[2])
    curve = drive(three_point(specimen, nose=0.0, edgewise=edgewise), [0.1, 0.0], step=0.01)
    force = LIMIT * 4 * bending / (specimen.alloy.young * 10.0 * c)
    assert curve.past_from == pytest.approx(force * (1e3 / (48 * bending) + 10 / (4 * shear)), rel=2e-3)
    wanted = curve.reading * 10.0 * c * specimen.alloy.young / (4 * bending * LIMIT)
    np.testing.assert_allclose(curve.share, wanted, rtol=2e-3, atol=1e-6)


def test_cantilever() -> None:
    """M = F L at the clamp; F over deflection from 3 E I / L^3 and the shear flexibility L / (k G A)."""
    specimen = weak(Round(0.4))
    e = specimen.elastic
    curve = drive(cantilever(specimen, length=5.0, nose=0.0), [0.1], step=0.01)
    force = LIMIT * e[4] / (specimen.alloy.young * 5.0 * 0.2)
    assert curve.past_from == pytest.approx(force * (125 / (3 * e[4]) + 5 / e[2]), rel=2e-3)


def test_couples_that_bend_evenly() -> None:
    """Turned by angles of opposite sign the wire is bent to one curvature 2 angle / L: stress E c curvature."""
    specimen, angle = weak(Round(0.4)), np.radians(1.0)
    curve = drive(two_brackets(specimen, angle, -angle), [1.0], step=0.05)
    assert curve.past_from == pytest.approx(LIMIT / (specimen.alloy.young * 0.2 * 2 * angle / 7.0), rel=2e-3)


def test_opening() -> None:
    """Ends free: M = F times the depth in the middle, where F also pulls; Castigliano's rate is tested elsewhere."""
    specimen = weak(Round(0.9))
    curve = drive(horseshoe(specimen, legs=15.0), [2.0], step=0.25)
    inertia, area = np.pi * 0.9**4 / 64, np.pi * 0.9**2 / 4
    wanted = curve.reading * (40.0 * 0.45 / inertia + 1 / area) / LIMIT
    assert curve.is_past and wanted[-1] > 1
    # opened, the wire is less deep: by 1 % at the end
    np.testing.assert_allclose(curve.share, wanted, rtol=1.5e-2, atol=1e-9)
    assert curve.past_from == pytest.approx(np.interp(1.0, curve.share, curve.x), rel=1e-9)


def test_torsion_of_a_square_wire() -> None:
    """One span: the bracket's moment is the torque of the wire.

    Before it is caught, one corner lifts the wire in its slot by up to the play, which bends it to some 270 MPa; that
    is 1 % of the whole (root of squares) at the limit chosen here, 2 % are allowed.
    """
    limit = 1800.0
    curve = drive(torsion(weak(Rectangular(0.5, 0.5), limit), spans=1), [np.radians(20.0)], step=np.radians(0.5))
    assert curve.past_from is not None
    moment = float(np.interp(curve.past_from, curve.x, curve.reading))
    assert moment == pytest.approx(limit * 0.208 * 0.5**3 / np.sqrt(3), rel=2e-2)


def test_below_the_limit_and_with_memory_nothing_is_said() -> None:
    def test(name: str, far: float) -> Curve:
        return drive(three_point(Specimen(Round(0.4), REGISTRY.get(name))), [far], step=0.1)

    below = test("stainless as drawn", 0.2)
    assert below.past_from is None and not below.is_past and 0.3 < below.share.max() < 1 and not below.warnings
    beyond = test("stainless as drawn, yielding", 0.6)
    assert beyond.past_from is None and np.isnan(beyond.share).all()
    assert not any("past its elastic limit" in warning for warning in beyond.warnings)
