"""Teeth on the bracket line: order, contacts, slots, inclinations, refusals."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.archform import arch_form
from biomech.errors import InputError
from biomech.tooth import make_tooth
from biomech.tooth.anatomy import NUMBERS
from biomech.tooth.axes import long_axis
from biomech.tooth.setup import CONTACT, IN_OUT, arch_order, set_up

UPPER = (17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27)
LOWER = tuple(30 + n % 10 if n > 20 else 40 + n % 10 for n in UPPER)
ALL = {n: make_tooth(n) for n in NUMBERS}
ARCH = arch_form("beta", 60.0, 45.0)
STRAIGHT = arch_form("straight", 120.0, 0.0)


def some(numbers):
    return {n: ALL[n] for n in numbers}


def contact(place):
    """The point of the long axis at the height of the contacts, seen from above."""
    return place.pose.point(place.tooth.direction("occlusal") * CONTACT * place.tooth.crown_length)[:2]


def apart(placed):
    return [np.linalg.norm(contact(placed[b]) - contact(placed[a])) for a, b in pairwise(placed)]


def touching(numbers):
    return [0.5 * (ALL[a].width + ALL[b].width) for a, b in pairwise(numbers)]


def test_teeth_come_in_arch_order():
    assert arch_order([27, 11, 21, 17]) == (17, 11, 21, 27)
    assert tuple(set_up(ARCH, some(LOWER[::-1]))) == LOWER


@pytest.mark.parametrize("order", [UPPER, LOWER])
@pytest.mark.parametrize("crowding", [0.0, 6.5, -6.5])
def test_neighbours_touch_or_share_the_crowding_evenly(order, crowding):
    placed = set_up(ARCH, some(order), crowding=crowding)
    assert np.allclose(apart(placed), np.array(touching(order)) - crowding / 13, atol=1e-9)


def test_slots_on_a_straight_line_are_the_mean_of_the_widths_apart():
    placed = set_up(STRAIGHT, some(UPPER), inclinations=dict.fromkeys(UPPER, 0.0),
                    angulations=dict.fromkeys(UPPER, 0.0), in_out=dict.fromkeys(UPPER, 0.0))  # fmt: skip
    s = np.array([p.s for p in placed.values()])
    depth = [contact(p)[1] for p in placed.values()]
    assert np.allclose(np.hypot(np.diff(s), np.diff(depth)), touching(UPPER))


def test_an_absent_tooth_keeps_its_place():
    whole = set_up(ARCH, some(UPPER))
    gap = set_up(ARCH, some([16, 13, 11, 24, 26]))
    # the row ends at the first molars, yet without crowding every slot is where it was
    assert all(gap[n].s == pytest.approx(whole[n].s, abs=1e-9) for n in gap)


def test_constant_spacing_is_centred():
    assert [p.s for p in set_up(STRAIGHT, some([11, 21]), spacing=7.0).values()] == [-3.5, 3.5]
    assert np.allclose(np.diff([p.s for p in set_up(ARCH, some(UPPER), spacing=8.0).values()]), 8.0)


def test_constant_spacing_counts_the_given_teeth_only():
    placed = set_up(STRAIGHT, some([16, 14, 13]), spacing=9.0)
    assert [p.s for p in placed.values()] == [-22.5, -13.5, -4.5]


@pytest.mark.parametrize("number", NUMBERS)
def test_slots_lie_on_the_line_and_the_bracket_behind_them(number):
    order = UPPER if number < 30 else LOWER
    p = set_up(ARCH, some(order), stand_off=1.2, height=2.0)[number]
    rotation, position = ARCH.frames(np.array(p.s), 2.0)
    assert np.allclose(p.slot.rotation, rotation) and np.allclose(p.slot.position, position)
    bracket = p.pose.point(ALL[number].landmark("bracket"))
    inset = 1.2 + (IN_OUT["U2"] if number in (12, 22) else 0.0)
    assert np.allclose(p.slot.position - bracket, inset * rotation[:, 1])
    assert np.allclose(p.pose.rotation.T @ p.pose.rotation, np.eye(3)) and np.linalg.det(p.pose.rotation) > 0
    there = p.pose @ p.slot_in_tooth
    assert np.allclose(there.position, p.slot.position) and np.allclose(there.rotation, rotation)
    assert (p.pose.point(ALL[number].landmark("apex"))[2] - 2.0) * ALL[number].jaw_sign > 5


@pytest.mark.parametrize("number", [13, 23, 33, 43])
def test_inclination_moves_the_crown_out_and_angulation_moves_it_mesially(number):
    tooth = ALL[number]

    def lean(inclination, angulation):
        p = set_up(STRAIGHT, some([number]), inclinations={number: np.radians(inclination)},
                   angulations={number: np.radians(angulation)})[number]  # fmt: skip
        return p.slot.rotation.T @ p.pose.rotation @ tooth.direction("occlusal")

    assert np.allclose(lean(0, 0), tooth.direction("occlusal"))
    assert lean(10, 0) @ tooth.direction("buccal") == pytest.approx(np.sin(np.radians(10)))
    assert lean(0, 10) @ tooth.direction("mesial") == pytest.approx(np.sin(np.radians(10)))
    both = lean(20, 10)
    assert both @ tooth.direction("buccal") > 0 and both @ tooth.direction("mesial") > 0


def test_the_set_up_is_symmetric():
    placed = set_up(ARCH, some(UPPER), crowding=2.0)
    mirror = np.diag([-1.0, 1.0, 1.0])
    for n in UPPER[:7]:
        right, left = placed[n].pose, placed[n + 10].pose
        assert np.allclose(mirror @ right.position, left.position, atol=1e-6)
        assert np.allclose(mirror @ right.rotation @ mirror, left.rotation, atol=1e-6)


def test_every_tooth_has_a_usual_long_axis_with_a_source():
    for n in NUMBERS:
        axis = long_axis(n)
        assert axis.seen.strip() and abs(axis.inclination) < 40 and 0 <= axis.angulation < 20
    assert long_axis(11) == long_axis(21) != long_axis(31)


# Adults: upper first molar 9.42 +- 6.70 degrees buccally, lower 14.07 +- 4.49 lingually (doi
# 10.25301/JPDA.321.4, abstract only); second molars 15.7 and 15.2 (doi 10.3390/jcm11226629, abstract only)
@pytest.mark.parametrize(("number", "mean"), [(16, 9.42), (46, -14.07), (17, 15.7), (47, -15.2)])
def test_molars_lean_as_measured_in_adults(number, mean):
    assert long_axis(number).inclination == pytest.approx(mean, abs=0.1)


def test_without_values_the_usual_long_axis_is_taken():
    place = set_up(ARCH, some([16]))[16]
    along, outward, up = place.slot.rotation.T @ -place.pose.rotation[:, 2]
    usual = long_axis(16)
    assert np.degrees(np.arctan2(outward, np.hypot(along, up))) == pytest.approx(usual.inclination)
    assert np.degrees(np.arctan2(along, -up)) == pytest.approx(usual.angulation)


@settings(max_examples=15, deadline=None)
@given(width=st.floats(56, 70), depth=st.floats(42, 55), crowding=st.floats(-8, 8))
def test_admissible_arches_end_in_places_or_in_a_named_refusal(width, depth, crowding):
    try:
        placed = set_up(arch_form("beta", width, depth), some(UPPER), crowding=crowding)
    except InputError as error:
        assert "allowed" in str(error)
        return
    s = np.array([p.s for p in placed.values()])
    assert np.isfinite(s).all() and np.all(np.diff(s) > 2.0)


@pytest.mark.parametrize(
    ("numbers", "given", "text"),
    [
        ([], {}, "no teeth given"),
        ([11, 41], {}, "one jaw"),
        (UPPER, {"crowding": 25.0}, "teeth 17 and 16 overlap by 1.9"),
        ([15, 16], {"spacing": 4.0}, "teeth 16 and 15 overlap by"),
        ([11], {"stand_off": float("nan")}, "stand_off = nan"),
        ([11], {"spacing": -7.0}, "spacing = -7"),
        ([11], {"crowding": float("inf")}, "crowding = inf"),
        ([11, 21], {"spacing": 7.0, "crowding": 1.0}, "together with a constant spacing"),
        ([11], {"height": float("nan")}, "height = nan"),
        ([11, 21], {"inclinations": {21: 1.5}}, "tooth 21: inclination = 85"),
        ([11, 21], {"angulations": {11: float("nan")}}, "tooth 11: angulation = nan"),
        ([11, 21], {"in_out": {11: 9.0}}, "tooth 11: in_out = 9 mm"),
        ([11, 21], {"in_out": {12: 0.1}}, "in_out of tooth 12: no such tooth"),
    ],
)
def test_what_cannot_be_set_up_is_refused(numbers, given, text):
    with pytest.raises(InputError, match=text):
        set_up(ARCH, some(numbers), **given)


def test_numbers_given_twice_and_unknown_are_refused():
    with pytest.raises(InputError, match="11 is given twice"):
        arch_order([11, 11])
    with pytest.raises(InputError, match="19 is not known"):
        arch_order([11, 19])


def test_an_arch_too_small_for_its_teeth_is_refused():
    with pytest.raises(InputError, match=r"tooth \d\d would stand .* beyond the end of the bracket line"):
        set_up(arch_form("beta", 45.0, 30.0), some(UPPER))
