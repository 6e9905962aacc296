"""One tooth through the whole chain, from the file to the outputs: where a force must act so that it translates.

Translation exactly at M/F = distance from bracket to centre of resistance: the definition of that centre (e.g. Burstone
and Pryputniewicz 1980 AJODO 77:396, abstract only); for a linear ligament it holds for any size of small force.
"""

import numpy as np
import pytest

from biomech.scenario import Scenario
from biomech.studies import solve
from biomech.tooth.model import make_tooth
from biomech.tooth.resistance import centre_of_resistance
from biomech.tooth.support import support_matrix

SMALL = 1e-3  # N: small, so that turning of the tooth itself does not matter
UPRIGHT = {"inclination": "0 deg", "angulation": "0 deg"}
LINEAR = {"law": "linear", "young": "0.2 MPa", "poisson": 0.45, "thickness": "0.2 mm"}


def tooth_under(number, load, ligament=LINEAR):
    upper = number < 30
    arch = {"jaw": "upper" if upper else "lower", "form": "beta", "width": "62 mm", "depth": "45 mm", "teeth": [number]}
    document = {"format": 1, "title": "one tooth", "arch": arch, "ligament": ligament}
    solution = solve(Scenario.parse(document | {"tooth": {str(number): UPRIGHT}, "force": [{"tooth": number, **load}]}))
    return solution.teeth[number]


def pushed(number, torque, at="bracket"):
    way = "buccal" if torque >= 0 else "lingual"
    couple = {"torque": f"{abs(torque):.15g} N.mm {way} root"} if torque else {}
    return tooth_under(number, {"at": at, "force": {"buccal": f"{SMALL} N"}, "moment": couple})


def tilt(view):
    """How far apart crown and apex move, over how far they move on average."""
    crown, apex = (view.displacement(view.part.tooth.landmarks[mark])[1] for mark in ("edge", "apex"))
    return (crown - apex) / (0.5 * (crown + apex))


def lever(number):
    """Distance from bracket to centre of resistance along the long axis, mm, from the support matrix alone."""
    tooth = make_tooth(number, ligament_thickness=0.2)
    from biomech.ligaments import make_ligament

    matrix = support_matrix(tooth.surface, make_ligament("linear", **{"young": 0.2, "poisson": 0.45, "thickness": 0.2}))
    centre = centre_of_resistance(matrix).planar["buccolingual"].point
    axis = 1 if number < 30 else -1
    return axis * (centre[2] - tooth.landmark("bracket")[2])


@pytest.mark.parametrize("number", [11, 13, 23, 33, 41])
def test_translation_exactly_at_bracket_to_centre_of_resistance(number):
    distance = lever(number)
    assert 8 < distance < 20
    assert abs(tilt(pushed(number, SMALL * distance))) < 1e-5
    # a hundredth more or less already tilts, one way and the other
    assert tilt(pushed(number, 1.01 * SMALL * distance)) < -1e-3
    assert tilt(pushed(number, 0.99 * SMALL * distance)) > 1e-3


@pytest.mark.parametrize("number", [11, 13, 41])
def test_a_couple_alone_turns_about_the_centre_of_resistance(number):
    view = tooth_under(number, {"moment": {"torque": f"{SMALL * 10} N.mm buccal root"}})
    marks = view.part.tooth.landmarks
    depth = [marks[m][2] for m in ("edge", "apex")]
    out = [view.displacement(marks[m])[1] for m in ("edge", "apex")]
    still = depth[0] - out[0] * (depth[1] - depth[0]) / (out[1] - out[0])
    assert abs(still - marks["bracket"][2]) == pytest.approx(lever(number), rel=1e-5)


def _turn(number, at, way):
    """The angle by which the tooth turns about the axis across force and long axis, rad."""
    view = tooth_under(number, {"at": at, "force": {way: f"{SMALL} N"}})
    return abs(view.motion[3 if way == "buccal" else 4])


@pytest.mark.parametrize("way", ["buccal", "distal"])
@pytest.mark.parametrize("number", [11, 13, 33, 41, 16, 24, 36, 46])
def test_a_force_through_the_centre_of_resistance_tilts_far_less_than_one_at_the_edge(number, way):
    """Not "nothing": one centre for all directions exists only nearly, and less so for two or three roots."""
    several = number in (16, 24, 36, 46)
    assert _turn(number, "centre of resistance", way) < (0.12 if several else 0.01) * _turn(number, "edge", way)


def test_a_linear_ligament_answers_in_proportion():
    small, ten = (
        tooth_under(13, {"force": {"buccal": f"{k * SMALL} N"}}).displacement(np.array([0.0, 0, -8])) for k in (1, 10)
    )
    assert np.allclose(ten, 10 * small, rtol=1e-3)
