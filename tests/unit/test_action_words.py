"""What is done at a visit, in words: every key of a wire and of a hold, no raw data."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest
from test_course import BASE

from biomech.errors import InputError
from biomech.scenario import Scenario
from biomech.scenario.hold import Hold
from biomech.scenario.wire import Wire
from biomech.studies.action_words import changed, held, put_in
from biomech.studies.actions import act, follow

MAIN: dict[str, Any] = BASE["wire"]["main"]
ROUND: dict[str, Any] = BASE["wire"]["overlay"]

CASES: list[tuple[dict[str, Any], str]] = [
    ({"widen": {"each_side": "3 mm"}}, "wire 'main' widened to 3 mm a side"),
    ({"widen": {"each_side": "-1 mm"}}, "wire 'main' narrowed to 1 mm a side"),
    ({"widen": {"left": "2 mm", "right": "3.0000000000000004 mm"}}, "wire 'main' widened to 2 mm left, 3 mm right"),
    ({"widen": {"left": "-2 mm"}}, "wire 'main' narrowed to 2 mm left"),
    ({"widen": {"left": "-2 mm", "right": "1 mm"}}, "wire 'main' widened to -2 mm left, 1 mm right"),
    ({"widen": {"each_side": "0 mm"}}, "wire 'main' no longer widened"),
    ({"widen": {"each_side": "1 mm", "profile": "parallel"}}, "wire 'main' widened to 1 mm a side (profile: parallel)"),
    ({"height": "0.021 in"}, "wire 'main': beta-titanium 0.021 x 0.025 in instead of 0.019 x 0.025 in"),
    ({"alloy": "stainless as drawn"}, "wire 'main': stainless as drawn 0.019 x 0.025 in instead of beta-titanium 0.019 x 0.025 in"),
    ({"depth": "0.5 mm"}, "wire 'main': beta-titanium 0.019 in x 0.5 mm instead of 0.019 x 0.025 in"),
    ({"bevel": "0.05 mm"}, "wire 'main': beta-titanium 0.019 x 0.025 in with edges rounded by 0.05 mm instead of 0.019 x 0.025 in"),
    ({"young": "70 GPa"}, "wire 'main': beta-titanium 0.019 x 0.025 in with a Young's modulus of 70 GPa instead of beta-titanium 0.019 x 0.025 in"),
    ({"torque": {"16": "9 deg buccal root", "26": "9 deg buccal root", "11": "0 deg"}}, "wire 'main' with torque 9 deg buccal root at 16, 26, none at 11"),
    ({"torque": {}}, "wire 'main' without any torque"),
    ({"tip": {"13": "5 deg mesial crown"}}, "wire 'main' with second-order bend 5 deg mesial crown at 13"),
    ({"rotate": {"13": "5 deg mesial out"}}, "wire 'main' with first-order bend 5 deg mesial out at 13"),
    ({"step_out": {"12": "0.5 mm buccal"}}, "wire 'main' with in-out bend 0.5 mm buccal at 12"),
    ({"step_up": {"12": "0.5 mm occlusal"}}, "wire 'main' with vertical step 0.5 mm occlusal at 12"),
    ({"progressive_torque": {"from": 13, "to": 16, "end": "10 deg buccal root"}}, "wire 'main' with torque growing from 0 deg at 13 to 10 deg buccal root at 16"),
    ({"v_bend": [{"between": [13, 12], "at": 0.5, "angle": "20 deg", "apex": "gingival"}]}, "wire 'main' with a V bend of 20 deg between 13 and 12, 50 % of the way, its tip gingival"),
    ({"v_bend": []}, "wire 'main' without V bends"),
    ({"shape": "straight"}, "wire 'main' straight"),
    ({"shape": "beta", "form_width": "60 mm", "form_depth": "45 mm"}, "wire 'main' shaped as a beta arch 60 mm wide and 45 mm deep"),
    ({"shape": "points", "points": [["0 mm", "0 mm"], ["1 mm", "0 mm"]]}, "wire 'main' shaped through 2 points of its own"),
    ({"out": "1.5 mm"}, "wire 'main' 1.5 mm buccal of the bracket line"),
    ({"out": "1.5 mm palatal"}, "wire 'main' 1.5 mm lingual of the bracket line"),
    ({"out": "0 mm"}, "wire 'main' no longer buccal of the bracket line"),
    ({"gingival": "-2 mm"}, "wire 'main' 2 mm occlusal of the bracket line"),
    ({"ends": "2 mm"}, "wire 'main' reaching 2 mm beyond its last holds"),
    ({"from": 13, "to": 23}, "wire 'main' running from 13 to 23"),
    ({"elements_per_span": 8}, "wire 'main' computed with 8 elements a span"),
    ({"hold": [{"teeth": "all", "by": "slot", "ligature": "clip"}, {"teeth": [16, 26], "by": "tube"}]}, "wire 'main' in the slots of all teeth (clips), in the tubes of 16, 26"),
    ({"temperature": "20 degC"}, "wire 'main' at 20 degC"),
    ({"opening": {"each_side": "8 mm", "by": "pulling", "relieved": True}}, "wire 'main' opened by 8 mm a side by hand before it is tied in (pulling, then stress-relieved)"),
    ({"opening": {"each_side": "-2 mm", "by": "bending"}}, "wire 'main' closed by 2 mm a side by hand before it is tied in (bending)"),
    ({"piece": 2}, "wire 'main' another one of its kind (piece 2)"),
    ({"section": "rectangular"}, "wire 'main' left as it was: no new one put in"),
]  # fmt: skip
HOLDS: list[tuple[dict[str, Any], str]] = [
    ({"teeth": [16], "by": "slot", "slides": "friction", "friction": 0.15}, "in the slots of 16 (sliding with friction 0.15)"),
    ({"teeth": [16], "by": "slot", "ligature": "none", "slides": "tied back"}, "in the slots of 16 (without ligatures, tied back)"),
    ({"teeth": [16], "by": "tube", "play": "none", "width": "4 mm"}, "in the tubes of 16 (tube 4 mm wide, held tightly)"),
    ({"teeth": [16], "by": "tube", "play": "0.05 mm", "slides": "free"}, "in the tubes of 16 (free to slide, play 0.05 mm)"),
    ({"teeth": [16], "by": "slot", "clearance": "0.08 mm"}, "in the slots of 16 (clearance 0.08 mm)"),
    ({"between": [[13, 14], [23, 24]], "by": "tie", "stiffness": "2 N/mm"}, "tied between 13 and 14 and 23 and 24 (stiffness 2 N/mm)"),
    ({"teeth": [16], "by": "tie", "material": "steel", "slack": "0.1 mm"}, "tied to 16 (steel, slack 0.1 mm)"),
    ({"teeth": "all", "by": "bonded"}, "bonded to all teeth"),
]  # fmt: skip
RAW = re.compile(r"[{}\[\]=_]|None|True|False")


@pytest.mark.parametrize(("table", "line"), CASES, ids=lambda x: "" if isinstance(x, str) else ",".join(x))
def test_a_changed_wire(table: dict[str, Any], line: str) -> None:
    assert changed("main", {**MAIN, "out": "1 mm", "torque": {"13": "1 deg buccal root"}, "v_bend": [0]}, table) == [line]


def test_several_changes_are_a_line_each_and_a_round_wire_may_take_the_place_of_a_rectangular_one() -> None:
    table = {"section": "round", "diameter": "0.9 mm", "out": "1.5 mm", "torque": {}}
    assert changed("main", {**MAIN, "torque": {"13": "1 deg buccal root"}}, table) == [
        "wire 'main': beta-titanium 0.9 mm round instead of 0.019 x 0.025 in",
        "wire 'main' 1.5 mm buccal of the bracket line",
        "wire 'main' without any torque",
    ]


@pytest.mark.parametrize(("hold", "words"), HOLDS)
def test_holds(hold: dict[str, Any], words: str) -> None:
    assert held(hold) == words


def test_a_new_wire() -> None:
    assert put_in("overlay", ROUND) == (
        "wire 'overlay' put in: stainless as drawn 0.8 mm round, widened to 1 mm a side, 1.5 mm buccal of the bracket "
        "line, reaching 1 mm beyond its last holds, tied to 13, 11, 21, 23 (elastomeric), computed with 2 elements a span"
    )


def test_every_key_of_a_wire_and_of_a_hold_has_words() -> None:
    said = {key for table, _ in CASES for key in table} | {"diameter"}
    assert said >= {field.alias or name for name, field in Wire.model_fields.items()}
    assert {key for hold, _ in HOLDS for key in hold} == {"ligature", "material"} | set(Hold.model_fields) - {"ligature"}
    for text in [*(line for _, line in CASES), *(words for _, words in HOLDS)]:
        assert not RAW.search(text), text


def visit(action: dict[str, Any]) -> tuple[Scenario, Any, dict[str, Any]]:
    document = copy.deepcopy(BASE)
    document["course"]["visit"] = [{"after": "1 week", **action}]
    scenario = Scenario.parse(document)
    assert scenario.course is not None
    return scenario, scenario.course.visit[0], scenario.document["course"]["visit"][0]


def test_a_width_stated_anew_takes_the_place_of_sides_left_by_a_reactivation() -> None:
    scenario, first, written = visit({"reactivate": {"overlay": "0.5 mm"}})
    now = act(scenario, first, written, "visit").scenario
    assert now.wire["overlay"].widen.sides == (1.5, 1.5)  # type: ignore[union-attr]
    _, second, written = visit({"wire": {"overlay": {"widen": {"each_side": "3 mm"}}}})
    done = act(now, second, written, "visit")
    assert done.scenario.wire["overlay"].widen.sides == (3.0, 3.0)  # type: ignore[union-attr]
    assert done.lines == ("wire 'overlay' widened to 3 mm a side",)


def test_a_round_wire_makes_room_for_a_rectangular_one() -> None:
    scenario, action, written = visit(
        {"wire": {"overlay": {"section": "rectangular", "height": "0.5 mm", "depth": "0.6 mm"}}}
    )
    done = act(scenario, action, written, "visit")
    assert done.scenario.wire["overlay"].size == (0.5, 0.6)
    assert done.lines == ("wire 'overlay': stainless as drawn 0.5 x 0.6 mm instead of 0.8 mm round",)


def test_a_rule_is_one_line_with_its_reason() -> None:
    document = copy.deepcopy(BASE)
    document["course"]["rule"] = [
        {"teeth": [13, 23], "lead": "0.5 mm", "wire": "main", "torque": "6 deg buccal root", "most": "8 deg", "ease": {"overlay": "0.5 mm"}}
    ]
    scenario = Scenario.parse(document)
    assert scenario.course is not None
    why = "rule: crown leads root at 13 by 0.60 mm, 23 by 0.70 mm (more than 0.5 mm): "
    first = follow(scenario, scenario.course.rule, {13: 0.6, 23: 0.7})
    assert first.lines == (
        why + "wire 'main': 6 deg buccal root torque added at 13, 23 (now 6 deg buccal root); "
        "wire 'overlay' eased by 0.5 mm a side (now 0.5 mm left, 0.5 mm right)",
    )
    second = follow(first.scenario, scenario.course.rule, {13: 0.6, 23: 0.2})
    assert "2 deg buccal root torque added at 13 (now 8 deg buccal root)" in second.lines[0]
    third = follow(second.scenario, scenario.course.rule, {13: 0.6, 23: 0.7})
    assert third.lines == (
        why + "wire 'main': 2 deg buccal root torque added at 23 (now 8 deg buccal root); "
        "no more torque at 13: the rule's most, 8 deg, is in the wire; wire 'overlay' is not widened: nothing to take back",
    )
    assert follow(third.scenario, scenario.course.rule, {13: 0.1, 23: 0.2}).lines == ()


def test_a_wrong_wire_is_an_error_not_a_sentence() -> None:
    for table in ({"widen": "3 mm"}, {"torque": "9 deg"}, {"hold": [3]}, {"v_bend": [{}]}, {"alloy": 7}):
        scenario, action, written = visit({"wire": {"main": table}})
        with pytest.raises(InputError, match=r"course.visit\[1\].wire.main."):
            act(scenario, action, written, "course.visit[1]")
    scenario, action, written = visit({"wire": {"new": {"section": "round"}}, "hold": {"new": [{"teeth": [13], "by": "tie"}]}})
    with pytest.raises(InputError, match=r"course.visit\[1\].wire.new = .* without alloy, hold"):
        act(scenario, action, written, "course.visit[1]")
