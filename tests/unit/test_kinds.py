"""Names of movements: each end of each range, and the sequence under rising moment."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from biomech.errors import InputError
from biomech.ligaments import make_ligament
from biomech.tooth import make_tooth
from biomech.tooth.kinds import (
    KINDS,
    Levels,
    Sideways,
    apex_to_crown,
    centre_depth,
    classify,
    levels,
    sideways,
)
from biomech.tooth.ratios import moment_to_force
from biomech.tooth.support import support_matrix

AT = Levels(-10.0, 6.0, 13.0)
small = st.floats(-0.5, 0.5)


def about(depth, turn=0.01):
    """The movement that turns about the point at `depth`."""
    return Sideways(turn * (AT.edge - depth), turn * (AT.apex - depth))


@pytest.mark.parametrize(
    ("depth", "kind"),
    [
        (6.0, "rotation about the centre of resistance"),
        (6.25, "rotation about the centre of resistance"),
        (6.3, "uncontrolled tipping"),
        (12.3, "uncontrolled tipping"),
        (12.4, "controlled tipping"),
        (13.0, "controlled tipping"),
        (25.9, "controlled tipping"),
        (26.1, "bodily movement with tipping"),
        (104.0, "bodily movement with tipping"),
        (106.0, "bodily movement"),
        (-101.0, "root movement"),
        (-103.0, "bodily movement"),
        (-10.0, "root movement"),
        (-5.0, "root movement"),
        (1.4, "root movement"),  # half-way between edge and apex: 1.5
        (1.6, "uncontrolled tipping"),
        (5.7, "uncontrolled tipping"),
    ],
)
@pytest.mark.parametrize("turn", [0.01, -0.01])
def test_the_place_of_the_rotation_centre_names_the_movement(depth, kind, turn):
    assert classify(about(depth, turn), AT) == kind
    assert centre_depth(about(depth, turn), AT) == pytest.approx(depth)


@pytest.mark.parametrize(
    ("move", "kind"),
    [
        (Sideways(0, 0), "no movement"),
        (Sideways(0.1, 0.1), "bodily movement"),
        (Sideways(1e-3, 1e-3, 0.1), "intrusion"),
        (Sideways(0, 0, -0.1), "extrusion"),
        (Sideways(0.1, 0.1, 0.1), "bodily movement"),
        (Sideways(0, 0.1), "root movement"),
    ],
)
def test_movements_without_a_finite_centre_have_names_too(move, kind):
    assert classify(move, AT) == kind


def test_apex_over_crown():
    assert apex_to_crown(Sideways(2.0, 1.0)) == 0.5
    assert apex_to_crown(Sideways(0.0, -1.0)) == -np.inf and apex_to_crown(Sideways(0, 0)) == 0
    assert centre_depth(Sideways(1.0, 1.0), AT) == np.inf


@given(small, small, small)
def test_every_movement_has_a_known_name_that_does_not_depend_on_its_sense(crown, apex, apical):
    kind = classify(Sideways(crown, apex, apical), AT)
    other = {"intrusion": "extrusion", "extrusion": "intrusion"}.get(kind, kind)
    assert kind in KINDS and classify(Sideways(-crown, -apex, -apical), AT) == other


@pytest.mark.parametrize("number", [11, 25, 16, 43, 36])
def test_rising_moment_runs_through_the_movements_in_their_order(number):
    """Force at the bracket with a rising counter-moment: the apex follows the crown more and more."""
    tooth = make_tooth(number)
    k = support_matrix(tooth.surface, make_ligament("bilinear"))
    mark = tooth.landmarks
    ratios = moment_to_force(k, mark["bracket"], mark["apex"], mark["edge"], tooth.jaw_sign)
    at = levels(mark["edge"], ratios.centre.point, mark["apex"], tooth.jaw_sign)
    seen, shares = [], []
    for ratio in np.linspace(-5.0, ratios.about_bracket, 120):
        force = np.array([0.0, 0.5, 0.0])
        moment = np.cross(mark["bracket"], force) + ratios.moment(ratio, 0.5) * np.eye(3)[0]
        move = sideways(np.linalg.solve(k, np.concatenate([force, moment])), at, tooth.jaw_sign)
        seen.append(classify(move, at))
        shares.append(apex_to_crown(move))
    order = [kind for kind in KINDS[:5] if kind in seen]
    assert list(dict.fromkeys(seen)) == order and len(order) == 5
    rising = np.array(shares[: seen.index("root movement")])
    assert np.all(np.diff(rising) > 0)


def test_movements_that_cannot_be_named_are_refused():
    with pytest.raises(InputError, match="cannot be named"):
        classify(Sideways(float("nan"), 0.0), AT)
    with pytest.raises(InputError, match="follow each other apically"):
        levels(np.array([0, 0, -8.0]), np.array([0, 0, 14.0]), np.array([0, 0, 13.0]), 1)
    with pytest.raises(InputError, match="follow each other apically"):
        levels(np.array([0, 0, -8.0]), np.array([0, 0, 5.0]), np.array([0, 0, 13.0]), -1)
