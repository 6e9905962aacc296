import math
from typing import Any

import pytest

from biomech.errors import InputError
from biomech.scenario import Scenario


def document() -> dict[str, Any]:
    return {
        "format": 1,
        "title": "Test",
        "arch": {
            "jaw": "upper",
            "width": "62 mm",
            "depth": "45 mm",
            "teeth": [26, 17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 27],
        },
        "wire": {
            "main": {
                "section": "rectangular",
                "height": "0.019 in",
                "depth": "0.025 in",
                "alloy": "stainless as drawn",
                "hold": [
                    {"teeth": "all", "by": "slot"},
                    {"teeth": [17, 27], "by": "tube", "slides": "tied back"},
                ],
            }
        },
    }


@pytest.fixture
def scenario() -> Scenario:
    return Scenario.parse(document())


def refused(scenario: Scenario, changes: dict[str, Any]) -> str:
    with pytest.raises(InputError) as error:
        scenario.changed(changes)
    return str(error.value)


def test_values_come_in_inside_units(scenario: Scenario) -> None:
    assert scenario.wire["main"].size == pytest.approx((0.4826, 0.635))
    assert scenario.bracket.slot_height == pytest.approx(0.5588)
    assert (scenario.arch.width, scenario.arch.depth) == (62.0, 45.0)


def test_teeth_run_from_right_to_left(scenario: Scenario) -> None:
    assert scenario.arch.teeth == (17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27)


def test_later_holds_replace_earlier_ones(scenario: Scenario) -> None:
    held = scenario.held_by("main")
    assert tuple(held) == scenario.arch.teeth
    assert [held[n].by for n in (17, 16, 27)] == ["tube", "slot", "tube"]


@pytest.mark.parametrize(
    ("key", "text", "sign"),
    [
        ("slot_torque", "10 deg buccal root", 1),
        ("slot_torque", "10 deg labial root", 1),
        ("slot_torque", "10 deg lingual root", -1),
        ("slot_torque", "10 deg palatal root", -1),
        ("slot_tip", "10 deg mesial crown", 1),
        ("slot_tip", "10 deg distal crown", -1),
        ("slot_rotation", "10 deg mesial out", 1),
        ("slot_rotation", "10 deg mesial in", -1),
        ("slot_rotation", "10 deg distal in", 1),
        ("inclination", "10 deg buccal crown", 1),
        ("inclination", "10 deg lingual crown", -1),
        ("angulation", "10 deg distal crown", -1),
    ],
)
def test_angles_say_which_way(scenario: Scenario, key: str, text: str, sign: int) -> None:
    changed = scenario.changed({"tooth": {"16": {key: text}}})
    assert getattr(changed.tooth_of(16), key) == pytest.approx(sign * math.radians(10))


@pytest.mark.parametrize(
    ("key", "text", "value"),
    [
        ("slot_out", "0.5 mm", 0.5),
        ("slot_out", "-0.5 mm", -0.5),
        ("slot_out", "0.5 mm lingual", -0.5),
        ("slot_up", "0.5 mm occlusal", 0.5),
        ("slot_up", "0.5 mm gingival", -0.5),
        ("slot_up", "0 mm", 0.0),
    ],
)
def test_offsets_say_which_way(scenario: Scenario, key: str, text: str, value: float) -> None:
    assert getattr(scenario.changed({"tooth": {"16": {key: text}}}).tooth_of(16), key) == value


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("10 deg", "does not say which way"),
        ("10 deg root", "unknown direction 'root'"),
        ("10 deg bucal root", "Did you mean 'buccal root'?"),
        ("-10 deg buccal root", "is negative and has a direction"),
        ("61 deg buccal root", "must be from -60 deg to 60 deg"),
        ("10 buccal root", "unknown unit 'buccal'"),
        (10, "without unit"),
    ],
)
def test_torque_is_refused(scenario: Scenario, text: object, says: str) -> None:
    message = refused(scenario, {"wire.main.torque": {"16": text}})
    assert "wire.main.torque.16" in message
    assert says in message


def test_a_change_leaves_the_original_alone(scenario: Scenario) -> None:
    changed = scenario.changed({"wire.main.torque": {"16": "10 deg buccal root"}, "arch.width": "60 mm"})
    assert changed.arch.width == 60.0
    assert scenario.arch.width == 62.0
    assert scenario.document == document()
    scenario.document["title"] = "other"
    assert scenario.document["title"] == "Test"


def test_a_scenario_is_frozen(scenario: Scenario) -> None:
    with pytest.raises(ValueError, match="frozen"):
        scenario.arch.width = 3.0  # type: ignore[misc]


def test_ligament_of_one_tooth(scenario: Scenario) -> None:
    changed = scenario.changed(
        {
            "ligament": {"law": "bilinear", "young": "0.04 MPa", "transition_strain": "7.3 %"},
            "tooth": {
                "16": {"ligament": {"young": "0.06 MPa"}},
                "15": {"ligament": {"law": "linear", "poisson": 0.4}},
                "14": {"held": True},
            },
        }
    )
    assert changed.ligament_of(17) == ("bilinear", {"young": 0.04, "transition_strain": pytest.approx(0.073)}, "springs")
    assert changed.ligament_of(16).values["young"] == 0.06
    assert changed.ligament_of(15) == ("linear", {"poisson": 0.4}, "springs")
    assert changed.ligament_of(14) == ("rigid", {}, "springs")


def test_widening_and_play(scenario: Scenario) -> None:
    wire = {
        "section": "round",
        "diameter": "1 mm",
        "alloy": "stainless as drawn",
        "widen": {"left": "6 mm"},
        "hold": [{"teeth": [16, 26], "by": "tube", "play": "none"}, {"between": [[11, 21]], "by": "tie"}],
    }
    overlay = scenario.changed({"wire.overlay": wire}).wire["overlay"]
    assert overlay.widen is not None
    assert overlay.widen.sides == (6.0, 0.0)
    assert overlay.hold[0].play == 0.0
    assert overlay.hold[1].between == ((11, 21),)


def test_force_and_moment(scenario: Scenario) -> None:
    load = {
        "tooth": 11,
        "force": {"lingual": "100 gf", "occlusal": "1 N"},
        "moment": {"torque": "5 N.mm lingual root", "tip": "2 N.mm mesial crown"},
    }
    force = scenario.changed({"force": [load]}).force[0]
    assert force.force.anatomical == pytest.approx((0.0, -0.980665, 1.0))
    assert (force.moment.torque, force.moment.tip, force.moment.rotation) == (-5.0, 2.0, 0.0)
    assert (force.at, force.follows) == ("bracket", "space")


def test_v_bend_plane(scenario: Scenario) -> None:
    bends = [
        {"between": [15, 14], "at": 0.3, "angle": "10 deg", "apex": "gingival"},
        {"between": [24, 25], "at": 0.5, "angle": "10 deg", "apex": "buccal"},
    ]
    found = scenario.changed({"wire.main.v_bend": bends}).wire["main"].v_bend
    assert [bend.plane for bend in found] == ["vertical", "horizontal"]


@pytest.mark.parametrize(
    ("near", "value", "holds"), [(1.0, 1.05, True), (1.0, 1.2, False), (1.0, float("nan"), False)]
)
def test_expectations(scenario: Scenario, near: float, value: float, holds: bool) -> None:
    claim = {"output": "teeth.16.force_N.buccal", "near": near, "within": 0.1, "why": "test"}
    assert scenario.changed({"expect": [claim]}).expect[0].holds(value) is holds


def test_expectation_bounds(scenario: Scenario) -> None:
    claim = {"output": "teeth.16.force_N.buccal", "min": 0.0, "max": 1.0, "why": "test"}
    expect = scenario.changed({"expect": [claim]}).expect[0]
    assert [expect.holds(v) for v in (-0.1, 0.0, 1.0, 1.1, float("nan"))] == [False, True, True, False, False]
