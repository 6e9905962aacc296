"""Teeth set up along a bracket line: contacts, poses, order, mirror symmetry, refusals."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.archform import arch_form
from biomech.errors import InputError
from biomech.tooth import make_tooth
from biomech.tooth.anatomy import NUMBERS, anatomy
from biomech.tooth.axes import long_axis
from biomech.tooth.setup import CONTACT, OVERLAP, SPACED_OVERLAP, STAND_OFF, arch_order, set_up

UPPER, LOWER = NUMBERS[:14], NUMBERS[14:]
CURVE = arch_form("beta", 60.0, 48.0)
STRAIGHT = arch_form("straight", 200.0)


def teeth(numbers):
    return {n: make_tooth(n) for n in numbers}


def contact(place):
    """Middle of the crown at the height of its contacts, global, seen from above."""
    tooth = place.tooth
    return place.pose.point(np.array([0, 0, -tooth.jaw_sign * CONTACT * tooth.crown_length]))[:2]


@pytest.mark.parametrize(("numbers", "first"), [(UPPER, 17), (LOWER, 47)])
def test_teeth_come_from_the_right_end_to_the_left_in_increasing_arc_length(numbers, first):
    placed = set_up(CURVE, teeth(reversed(numbers)))
    order = list(placed)
    assert order[0] == first and order == list(arch_order(numbers))
    stations = [p.s for p in placed.values()]
    assert np.all(np.diff(stations) > 0) and stations[6] < 0 < stations[7]
    assert all(number == p.number for number, p in placed.items())


@pytest.mark.parametrize("numbers", [UPPER, LOWER])
@pytest.mark.parametrize("crowding", [0.0, 5.2, -3.9])
def test_neighbours_touch_and_share_the_crowding_evenly(numbers, crowding):
    places = list(set_up(CURVE, teeth(numbers), crowding=crowding).values())
    for one, other in pairwise(places):
        apart = np.linalg.norm(contact(other) - contact(one))
        assert apart == pytest.approx(0.5 * (one.tooth.width + other.tooth.width) - crowding / 13, abs=1e-9)


def test_on_a_straight_line_upright_teeth_stand_at_the_sum_of_their_widths():
    upright = dict.fromkeys(UPPER, 0.0)
    placed = set_up(STRAIGHT, teeth(UPPER), inclinations=upright, angulations=upright)
    widths = [anatomy(n).md_crown for n in (11, 12, 13, 14)]
    # a little less, because neighbours do not stand at the same distance from the line
    assert placed[11].s == pytest.approx(-widths[0] / 2, abs=1e-9)
    assert -placed[14].s == pytest.approx(sum(widths[:3]) + widths[3] / 2, abs=0.15)


@pytest.mark.parametrize("numbers", [UPPER, LOWER])
def test_the_two_sides_are_mirror_images(numbers):
    placed = set_up(CURVE, teeth(numbers))
    mirror = np.diag([-1.0, 1.0, 1.0])
    for number in numbers:
        twin = number + 10 if number // 10 in (1, 3) else number - 10
        here, there = placed[number].pose, placed[twin].pose
        assert np.allclose(mirror @ here.position, there.position, atol=1e-8)
        assert np.allclose(mirror @ here.rotation @ mirror, there.rotation, atol=1e-9)
        assert np.linalg.det(here.rotation) == pytest.approx(1.0)


@pytest.mark.parametrize("numbers", [UPPER, LOWER])
def test_the_slot_lies_on_the_bracket_line_in_front_of_the_bracket_level_with_the_wire(numbers):
    for number, place in set_up(CURVE, teeth(numbers), height=2.5).items():
        rotation, position = CURVE.frames(place.s, 2.5)
        assert np.array_equal(place.slot.rotation, rotation) and np.array_equal(place.slot.position, position)
        gap = place.slot.position - place.pose.point(place.tooth.landmark("bracket"))
        inset = STAND_OFF + (0.55 if number in (12, 22) else 0.0)
        assert np.allclose(gap, inset * rotation[:, 1], atol=1e-9)
        again = place.pose @ place.slot_in_tooth
        assert np.allclose(again.position, position) and np.allclose(again.rotation, rotation)


@pytest.mark.parametrize("number", NUMBERS)
def test_crowns_incline_buccally_and_angulate_mesially_as_asked(number):
    lean, tip = 0.3, 0.2
    for inclination, angulation in ((lean, 0.0), (0.0, tip), (lean, tip)):
        placed = set_up(
            CURVE, teeth([number]), inclinations={number: inclination}, angulations={number: angulation}
        )[number]
        crownward = -placed.tooth.jaw_sign * placed.pose.rotation[:, 2]
        along, outward, up = placed.slot.rotation.T @ crownward
        mesial = placed.tooth.side_sign * along
        assert np.arctan2(outward, np.hypot(along, up)) == pytest.approx(inclination, abs=1e-12)
        assert np.arctan2(mesial, -placed.tooth.jaw_sign * up) == pytest.approx(angulation, abs=1e-12)


def test_apices_of_upper_teeth_lie_above_and_of_lower_teeth_below_the_wire():
    for numbers, sign in ((UPPER, 1.0), (LOWER, -1.0)):
        for place in set_up(CURVE, teeth(numbers)).values():
            apex = place.pose.point(place.tooth.landmark("apex"))
            edge = place.pose.point(place.tooth.landmark("edge"))
            assert sign * apex[2] > 10.0 and sign * edge[2] < 0.0


@pytest.mark.parametrize("form", ["beta", "ellipse", "parabola", "catenary"])
def test_absent_teeth_leave_their_space(form):
    curve = arch_form(form, 60.0, 48.0)
    whole = set_up(curve, teeth(UPPER))
    some = set_up(curve, teeth([16, 13, 26]))
    assert list(some) == [16, 13, 26]
    assert all(place.s == pytest.approx(whole[n].s, abs=1e-9) for n, place in some.items())


def test_constant_spacing_puts_the_slots_equally_far_apart():
    placed = set_up(CURVE, teeth(UPPER), spacing=8.0)
    assert np.allclose(np.diff([p.s for p in placed.values()]), 8.0)
    assert placed[11].s == -4.0 and placed[21].s == 4.0


def test_constant_spacing_counts_the_given_teeth_only():
    placed = set_up(STRAIGHT, teeth([16, 14, 13]), spacing=9.0)
    assert [p.s for p in placed.values()] == [-22.5, -13.5, -4.5]


def test_without_values_the_usual_long_axes_are_taken():
    place = set_up(CURVE, teeth([16]))[16]
    along, outward, up = place.slot.rotation.T @ -place.pose.rotation[:, 2]
    usual = long_axis(16)
    assert np.degrees(np.arctan2(outward, np.hypot(along, up))) == pytest.approx(usual.inclination)
    assert np.degrees(np.arctan2(along, -up)) == pytest.approx(usual.angulation)


@pytest.mark.parametrize("number", NUMBERS)
def test_every_long_axis_has_a_source_and_lies_in_a_sensible_range(number):
    usual = long_axis(number)
    assert usual.seen and abs(usual.inclination) < 35.0 and 0.0 <= usual.angulation < 20.0


# Adults: upper first molar 9.42 +- 6.70 degrees buccally, lower 14.07 +- 4.49 lingually (doi
# 10.25301/JPDA.321.4, abstract only); second molars 15.7 and 15.2 (doi 10.3390/jcm11226629, abstract only)
@pytest.mark.parametrize(("number", "mean"), [(16, 9.42), (46, -14.07), (17, 15.7), (47, -15.2)])
def test_molars_lean_as_measured_in_adults(number, mean):
    assert long_axis(number).inclination == pytest.approx(mean, abs=0.1)


@settings(max_examples=25, deadline=None)
@given(
    width=st.floats(50, 70), depth=st.floats(38, 54), crowding=st.floats(-20, 25), lower=st.booleans(),
    form=st.sampled_from(["beta", "ellipse", "parabola", "catenary"]),
)  # fmt: skip
def test_any_admissible_arch_gives_finite_ordered_placements_or_a_clear_error(
    width, depth, crowding, lower, form
):
    numbers = LOWER if lower else UPPER
    try:
        placed = set_up(arch_form(form, width, depth), teeth(numbers), crowding=crowding)
    except InputError as error:
        assert any(word in str(error) for word in ("overlap", "finds no place", "beyond the end"))
        return
    assert np.all(np.diff([p.s for p in placed.values()]) > 0)
    assert all(np.isfinite(p.pose.rotation).all() and np.isfinite(p.pose.position).all()
               for p in placed.values())  # fmt: skip


@pytest.mark.parametrize(
    ("numbers", "keys", "text"),
    [
        ([], {}, "no teeth"),
        ([11, 41], {}, "both jaws"),
        (UPPER, {"crowding": 13 * (OVERLAP + 0.1)}, "teeth 17 and 16 overlap by 1.60 mm; allowed: up to 1.5"),
        (UPPER, {"spacing": 9.5 - SPACED_OVERLAP - 1.5}, "teeth 17 and 16 overlap"),
        (UPPER, {"spacing": -7.0}, "spacing = -7"),
        (UPPER, {"spacing": float("nan")}, "spacing = nan"),
        (UPPER, {"spacing": 8.0, "crowding": 1.0}, "together"),
        (UPPER, {"crowding": float("nan")}, "crowding = nan"),
        (UPPER, {"stand_off": -1.0}, "stand_off = -1"),
        (UPPER, {"inclinations": {16: 2.0}}, "tooth 16: inclination = 114.592 deg"),
        (UPPER, {"angulations": {16: float("nan")}}, "tooth 16: angulation = nan"),
        (UPPER, {"in_out": {16: 9.0}}, "tooth 16: in_out = 9 mm"),
        (UPPER, {"inclinations": {36: 0.1}}, "inclinations of tooth 36"),
        (UPPER, {"height": float("inf")}, "height = inf"),
    ],
)
def test_what_cannot_be_set_up_is_refused_in_clear_words(numbers, keys, text):
    with pytest.raises(InputError) as caught:
        set_up(CURVE, teeth(numbers), **keys)
    assert text in str(caught.value)


def test_too_small_an_arch_is_refused():
    with pytest.raises(InputError, match=r"tooth 17 would stand \d+\.\d mm beyond the end"):
        set_up(arch_form("beta", 12.0, 8.0), teeth(UPPER))


def test_order_refuses_a_tooth_given_twice_or_unknown():
    with pytest.raises(InputError, match="tooth 11 is given twice"):
        arch_order([11, 12, 11])
    with pytest.raises(InputError, match="tooth number 19"):
        arch_order([19])
