"""Building an appliance: stations, holds, bends by tooth, words for directions, what is passive."""

import numpy as np
import pytest

from biomech.appliance import build
from biomech.appliance.stations import Stop, station_line
from biomech.appliance.teeth import set_up_teeth
from biomech.appliance.wires import lay_out
from biomech.appliance.words import directions, malposition, named, turn, vector
from biomech.errors import InputError
from biomech.scenario import Scenario

TEETH = [16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26]
ARCH = {"jaw": "upper", "form": "beta", "width": "62 mm", "depth": "45 mm", "teeth": TEETH}
MAIN = {"section": "rectangular", "height": "0.019 in", "depth": "0.025 in", "alloy": "stainless as drawn"}
SLOTS = [{"teeth": "all", "by": "slot", "ligature": "none", "slides": "tied back"}]


def scenario(wire=None, **tables):
    document = {"format": 1, "title": "built", "arch": ARCH, "wire": {"main": MAIN | {"hold": SLOTS} | (wire or {})}}
    return Scenario.parse(document | tables)


def layout(wire=None, **tables):
    found = scenario(wire, **tables)
    prepared = set_up_teeth(found)
    return lay_out("main", found, prepared.curve, prepared.placed, 1), prepared


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("jaw", [1, -1])
def test_words_and_axes_are_inverse(side, jaw):
    given = {"torque": 0.1, "tip": -0.2, "rotation": 0.3}
    assert named(turn(*given.values(), side, jaw), side, jaw) == pytest.approx(given)
    given = {"mesial": 0.1, "buccal": -0.2, "occlusal": 0.3}
    assert directions(vector(*given.values(), side, jaw), side, jaw) == pytest.approx(given)


def test_words_by_hand():
    # upper right: mesial = +a1, occlusal = -a3; the root lies along +a3, so buccal root turns a3 towards a2: -a1
    assert np.allclose(vector(1, 0, 0, 1, 1), [1, 0, 0])
    assert np.allclose(vector(0, 0, 1, 1, 1), [0, 0, -1])
    assert np.allclose(turn(1, 0, 0, 1, 1), [-1, 0, 0])
    # lower left: mesial = -a1, occlusal = +a3; the root lies along -a3: buccal root is +a1
    assert np.allclose(vector(1, 0, 0, -1, -1), [-1, 0, 0])
    assert np.allclose(vector(0, 0, 1, -1, -1), [0, 0, 1])
    assert np.allclose(turn(1, 0, 0, -1, -1), [1, 0, 0])
    # mesial out on the right carries +a1 towards +a2: +a3; on the left the other way
    assert np.allclose(turn(0, 0, 1, 1, 1), [0, 0, 1])
    assert np.allclose(turn(0, 0, 1, -1, 1), [0, 0, -1])


def test_malposition_moves_the_slot_as_said():
    pose = malposition(0, 0, 0, 0.4, 0.3, 1, 1)
    assert np.allclose(pose.position, [0, 0.4, -0.3])
    tipped = malposition(0, np.radians(10), 0, 0, 0, 1, 1)
    crown = tipped.rotation @ np.array([0, 0, -1.0])  # of an upper tooth, seen from its root
    assert crown[0] > 0.15  # mesial is +a1 on the right


def test_stations_lie_at_every_stop_and_kink():
    stops = [Stop((-1.5, 1.5), 0), Stop((6.0, 9.0), 1)]
    line = station_line(stops, np.array([3.3, 99.0]), 4, 1, 2.0, (0.0, 7.5))
    for s in (-3.5, -1.5, 1.5, 3.3, 6.0, 9.0, 11.0):
        assert np.abs(line - s).min() < 1e-9
    assert np.all(np.diff(line) > 0)
    assert ((line > 1.5 - 1e-9) & (line < 6.0 + 1e-9)).sum() in (5, 6)
    assert ((line > -1.5 - 1e-9) & (line < 1.5 + 1e-9)).sum() == 2  # the wire in a slot is one element


def test_refining_halves_every_element():
    stops = [Stop((-1.5, 1.5), 0), Stop((6.0, 9.0), 1)]
    once, twice = (station_line(stops, np.array([]), 4, k, 2.0, (0.0, 7.5)) for k in (1, 2))
    assert np.allclose(twice[::2], once)


def test_a_stub_of_wire_is_not_cut_up():
    line = station_line([Stop((0.0,), 0), Stop((8.0,), 1)], np.array([]), 8, 1, 0.01, (0.0, 8.0))
    assert len(line) == 11
    assert np.diff(line).min() == pytest.approx(0.01)


def test_brackets_that_overlap_are_refused():
    with pytest.raises(InputError, match=r"wire\.main: its holds at teeth .* leave no wire between them"):
        build(scenario({"hold": [{"teeth": "all", "by": "tube"}]}, bracket={"width": "6 mm", "tube_length": "7 mm"}, arch=ARCH | {"spacing": "6.4 mm"}))


def test_a_passive_wire_starts_at_rest():
    built = build(scenario())
    network = built.network
    evaluation = network.evaluate(built.start, network.start_states())
    assert np.abs(network.residual(evaluation, built.start)).max() < 1e-8
    assert all(np.abs(r.stress).max() < 1e-8 for r in evaluation.responses)


@pytest.mark.parametrize("bend", [{"torque": {13: "10 deg buccal root"}}, {"step_up": {22: "0.3 mm gingival"}}])
def test_a_bent_wire_does_not(bend):
    built = build(scenario(bend))
    evaluation = built.network.evaluate(built.start, built.network.start_states())
    assert max(np.abs(r.stress).max() for r in evaluation.responses) > 0.1
    # but does while its activation is zero
    evaluation = built.network.evaluate(built.start, built.network.start_states(), 0.0)
    assert max(np.abs(r.stress).max() for r in evaluation.responses) < 1e-8


def test_torque_twists_the_wire_at_that_slot_only():
    laid, prepared = layout({"torque": {13: "10 deg buccal root", 24: "6 deg lingual root"}})
    at = {t: float(laid.free.twist(np.array(place.s))) for t, place in prepared.placed.items()}
    assert at.pop(13) == pytest.approx(-np.radians(10))
    assert at.pop(24) == pytest.approx(np.radians(6))
    assert max(map(abs, at.values())) < 1e-12


@pytest.mark.parametrize(("first", "last"), [(23, 26), (26, 23), (13, 16)])
def test_progressive_torque_grows_evenly_from_tooth_to_tooth(first, last):
    twist = {"from": first, "to": last, "start": "0 deg", "end": "15 deg buccal root"}
    laid, prepared = layout({"progressive_torque": twist})
    at = {t: float(laid.free.twist(np.array(place.s))) for t, place in prepared.placed.items()}
    s = {t: place.s for t, place in prepared.placed.items()}
    for t in at:
        share = (s[t] - s[first]) / (s[last] - s[first])
        inside = -1e-9 <= share <= 1 + 1e-9
        assert at[t] == pytest.approx(-np.radians(15) * share if inside else 0.0, abs=1e-9)


def test_a_bend_at_a_tooth_that_does_not_hold_the_wire_turns_nothing_elsewhere():
    held = [{"teeth": [t for t in TEETH if t != 24], "by": "slot", "ligature": "none"}]
    laid, prepared = layout({"hold": held, "torque": {24: "10 deg buccal root"}, "step_out": {24: "0.5 mm buccal"}})
    plain, _ = layout({"hold": held})
    for t, place in prepared.placed.items():
        here, there = laid.free.poses(np.array(place.s)), plain.free.poses(np.array(place.s))
        shift = np.linalg.norm(here.position - there.position)
        assert shift == pytest.approx(0.5 if t == 24 else 0.0, abs=1e-9)


def test_wires_end_where_they_are_said_to():
    laid, prepared = layout({"from": 16, "to": 23, "ends": "2 mm", "hold": [{"teeth": [13, 12, 11, 21], "by": "slot"}]})
    assert laid.line[0] == pytest.approx(prepared.placed[16].s - 2)
    assert laid.line[-1] == pytest.approx(prepared.placed[23].s + 2)


def test_numbering_along_the_arch_keeps_the_band_narrow():
    overlay = {
        "section": "round", "diameter": "1 mm", "alloy": "stainless as drawn", "out": "1.5 mm",
        "hold": [{"teeth": [14, 11, 21, 24], "by": "tie"}, {"teeth": [16, 26], "by": "tube", "play": "0.1 mm"}],
    }  # fmt: skip
    document = scenario().document
    document["wire"]["overlay"] = overlay
    built = build(Scenario.parse(document))
    assert built.network.band < 60
    assert built.network.unknowns > 500
    assert len(set(built.network.labels)) > 20
