"""A wire opened by hand and let go, against closed forms (derived, handbook theory; see test_fibre_rod for the beams)."""

import numpy as np
import pytest
from beams import along
from fibres import ElasticSection, PlasticRectangle

from biomech.errors import InputError
from biomech.mechanics.poses import pose_log
from biomech.section import Rectangular
from biomech.wire.fibre_rod import FibreRod
from biomech.wire.history import bent, hold_open, laid_out, let_go, opened, outward

SECTION = Rectangular(0.4826, 0.635)
YOUNG, YIELD = 180e3, 1400.0
ELASTIC = SECTION.stiffness(YOUNG, 0.3)
FIRST = YIELD / YOUNG / (SECTION.depth / 2)
"""Curvature in the plane of the arch at first yield, 1/mm."""
RADIUS, LEG = 25.0, 25.0


def plastic(yields: float = YIELD) -> PlasticRectangle:
    return PlasticRectangle(ELASTIC, SECTION.height, SECTION.depth, YOUNG, yields, layers=(2, 60))


def horseshoe(each: int = 8):
    """A semicircle with two straight legs, from one end to the other; the middle station points across."""
    leg = np.linspace(-LEG, 0.0, each, endpoint=False)
    turn = np.linspace(-np.pi / 2, np.pi / 2, 2 * each + 1)
    x = np.concatenate([np.full(each, -RADIUS), RADIUS * np.sin(turn), np.full(each, RADIUS)])
    y = np.concatenate([leg, RADIUS * np.cos(turn), leg[::-1]])
    way = np.concatenate([np.full(each, np.pi / 2), -turn, np.full(each, -np.pi / 2)])
    tangent = np.stack([np.cos(way), np.sin(way), 0 * way], axis=-1)
    poses = along(np.stack([x, y, 0 * x], axis=-1), tangent)
    return pose_log(poses.take(slice(0, -1)).inverse() @ poses.take(slice(1, None)))


ENDS, MIDDLE = (0, 32), 16


def test_the_horseshoe_is_laid_out_as_it_was() -> None:
    poses = laid_out(horseshoe(), MIDDLE)
    ends = poses.position[np.array(ENDS)]
    assert ends[1] - ends[0] == pytest.approx([2 * RADIUS, 0, 0], abs=1e-9)
    assert ends[0, 1] == pytest.approx(-RADIUS - LEG, abs=1e-9)


def test_force_of_the_hands_is_that_of_the_open_horseshoe() -> None:
    # ends free to turn: Delta / F = [2 l^3 / 3 + R (pi l^2 + 4 l R + pi R^2 / 2)] / EI (Castigliano, derived)
    r, leg = RADIUS, LEG
    flexibility = (2 * leg**3 / 3 + r * (np.pi * leg**2 + 4 * leg * r + np.pi * r**2 / 2)) / ELASTIC[5]
    held = hold_open(FibreRod(ElasticSection(ELASTIC), horseshoe()), ENDS, MIDDLE, 0.05)
    opening = sum(held.outward)
    assert opening == pytest.approx(0.1, rel=1e-3)
    assert held.force == pytest.approx(opening / flexibility, rel=5e-3)


def test_what_stays_elastic_comes_back() -> None:
    law = FibreRod(plastic(), horseshoe())
    done = opened(law, ENDS, MIDDLE, 6.0)
    strain, _ = let_go(law, done.held)
    assert outward(laid_out(strain, MIDDLE), laid_out(law.rest, MIDDLE), ENDS, MIDDLE) == pytest.approx((0, 0), abs=1e-9)
    assert np.abs(done.law.respond(strain, done.law.start()).stress).max() < 1e-8


def test_pulled_far_it_keeps_a_set_however_it_is_pulled() -> None:
    law = FibreRod(plastic(700.0), horseshoe())
    sets = []
    for step in (5.0, 1.5):
        held = hold_open(law, ENDS, MIDDLE, 20.0, step)
        strain, _ = let_go(law, held.memory)
        sets.append(outward(laid_out(strain, MIDDLE), laid_out(law.rest, MIDDLE), ENDS, MIDDLE))
    assert sets[0][0] > 0.1
    assert sets[0] == pytest.approx(sets[1], rel=1e-6)
    assert sets[0][0] == pytest.approx(sets[0][1], rel=1e-6)


@pytest.mark.parametrize("kept", [0.02, 0.5, 2.0])
def test_bending_by_hand_overshoots_by_the_springback(kept: float) -> None:
    # an ideal plastic rectangle bent to x times the curvature of first yield keeps x - 1.5 + 0.5 / x^2 of it
    law = FibreRod(plastic(), horseshoe())
    wanted = np.zeros((32, 2, 6))
    wanted[..., 5] = kept * FIRST
    done = bent(law, wanted)
    held = law.section_strains(done.held)[..., 5] / FIRST
    assert held - 1.5 + 0.5 / held**2 == pytest.approx(np.full((32, 2), kept), rel=2e-2, abs=2e-3)
    left = done.law.section_strains(done.law.start())
    assert left[..., 5] == pytest.approx(wanted[..., 5], rel=1e-4)
    assert np.abs(done.law.respond(done.law.resting(done.law.start()), done.law.start()).stress).max() < 1e-6


def test_closing_an_opened_wire_yields_sooner_than_closing_a_new_one() -> None:
    """Bent to keep the curvature of first yield, let go, and bent back by half of it: a new wire stays elastic."""
    law = FibreRod(plastic(), horseshoe())
    wanted = np.zeros((32, 2, 6))
    wanted[..., 5] = FIRST
    worked = bent(law, wanted).law
    back = np.zeros((32, 6))
    back[:, 5] = -0.9 * FIRST * np.linalg.norm(law.rest[:, :3], axis=-1)
    moment = []
    for one in (law, worked):
        start = one.start()
        moment.append(one.respond(one.resting(start) + back, start).stress[:, 5])
    assert np.abs(moment[1]).max() < 0.95 * np.abs(moment[0]).max()


def test_an_elastic_wire_keeps_nothing() -> None:
    wanted = np.zeros((32, 2, 6))
    wanted[..., 5] = FIRST
    with pytest.raises(InputError, match="comes back however far"):
        bent(FibreRod(ElasticSection(ELASTIC), horseshoe()), wanted)
