"""What is refused: each problem is one line with key, value, what is allowed and the nearest word."""

from typing import Any

import pytest
from test_scenario_models import document

from biomech.errors import InputError
from biomech.scenario import Scenario

OVERLAY = {
    "section": "round",
    "diameter": "1 mm",
    "alloy": "stainless as drawn",
    "hold": [{"teeth": [16, 26], "by": "tie"}],
}


def lines(changes: dict[str, Any]) -> list[str]:
    with pytest.raises(InputError) as error:
        Scenario.parse(document()).changed(changes)
    return str(error.value).splitlines()


def overlay(**keys: Any) -> dict[str, Any]:
    return {"wire.overlay": {k: v for k, v in {**OVERLAY, **keys}.items() if v is not None}}


def hold(**keys: Any) -> dict[str, Any]:
    return {"wire.main.hold": [{"teeth": "all", "by": "slot"}, {"teeth": [16, 26], **keys}]}


CASES: list[tuple[dict[str, Any], str, str]] = [
    # changes, what stands in front (key and value), what is said
    ({"wire.main.aloy": "x"}, 'wire.main.aloy = "x"', "Did you mean 'alloy'?"),
    ({"titel": "x"}, 'titel = "x"', "Did you mean 'title'?"),
    ({"format": 2}, "format = 2", "allowed: 1"),
    ({"format": True}, "format = true", "allowed: 1"),
    ({"title": ""}, 'title = ""', "must not be empty"),
    ({"title": 3}, "title = 3", "must be text"),
    ({"arch": "upper"}, 'arch = "upper"', "must be a table"),
    ({"arch.jaw": "uper"}, 'arch.jaw = "uper"', "Did you mean 'upper'?"),
    ({"arch.form": "elipse"}, 'arch.form = "elipse"', "Did you mean 'ellipse'?"),
    ({"arch.form": "straight"}, "arch.width", "has no meaning"),
    ({"arch.width": "-62 mm"}, 'arch.width = "-62 mm"', "from 15 mm to 90 mm"),
    ({"arch.points": [["0 mm"]]}, "arch.points[1]", "must be a pair of lengths"),
    ({"arch.teeth": []}, "arch.teeth = []", "must not be empty"),
    ({"arch.teeth": 16}, "arch.teeth = 16", "must be a list"),
    ({"arch.spacing": "7 mm", "arch.crowding": "2 mm"}, "arch.crowding", "together with spacing"),
    ({"ligament.law": "bilinaer"}, 'ligament.law = "bilinaer"', "Did you mean 'bilinear'?"),
    ({"ligament": {"law": "rigid", "young": "1 MPa"}}, 'ligament.young = "1 MPa"', "no meaning"),
    ({"ligament.poisson": 0.5}, "ligament.poisson = 0.5", "must be less than 0.5"),
    ({"ligament.poisson": float("nan")}, "ligament.poisson", "must be"),
    ({"ligament.transition_strain": "7"}, "ligament.transition_strain", "must be a share"),
    ({"tooth.31": {}}, "tooth.31 = {}", "not in the upper jaw"),
    ({"tooth.55": {}}, "tooth.55", "Deciduous teeth"),
    ({"tooth.16.held": 1}, "tooth.16.held = 1", "must be true or false"),
    ({"tooth.16": {"held": True, "ligament": {"law": "linear"}}}, "tooth.16.ligament", "held = true"),
    (
        {"tooth.16.ligament": {"law": "linear", "second_young": "1 MPa"}},
        "tooth.16.ligament.second_young",
        "no meaning",
    ),
    ({"wire": {}}, "wire = {}", "is missing"),
    ({"wire.9": {}}, "wire.9", "is no name for a wire"),
    ({"wire.main.hold": []}, "wire.main.hold = []", "must not be empty"),
    ({"wire.main.elements_per_span": 2.5}, "wire.main.elements_per_span = 2.5", "must be a whole number"),
    (
        {"wire.main.elements_per_span": 0},
        "wire.main.elements_per_span = 0",
        "must be greater than or equal to 1",
    ),
    ({"wire.main.diameter": "1 mm"}, 'wire.main.diameter = "1 mm"', "has no meaning"),
    ({"wire.main.bevel": "0.3 mm"}, 'wire.main.bevel = "0.3 mm"', "half the wire's smaller side"),
    ({"wire.main.height": "0.0221 in"}, 'wire.main.height = "0.0221 in"', "is thicker than"),
    ({"wire.main.depth": "0.03 in"}, 'wire.main.depth = "0.03 in"', "slot_depth is 0.7112 mm"),
    ({"wire.main.shape": "beta"}, "wire.main.form_width", "is missing"),
    ({"wire.main.form_width": "60 mm"}, "wire.main.form_width", "has no meaning"),
    ({"wire.main.shape": "points"}, "wire.main.points", "at least two points"),
    ({"wire.main.points": [["1 mm", "2 mm"]]}, "wire.main.points", 'no meaning with shape = "bracket line"'),
    ({"wire.main.widen": {}}, "wire.main.widen.each_side", "is missing"),
    (
        {"wire.main.widen": {"each_side": "1 mm", "left": "1 mm"}},
        "wire.main.widen.each_side",
        "together with",
    ),
    (
        {"wire.main.widen": {"each_side": "1 mm", "profile": "evn"}},
        "wire.main.widen.profile",
        "Did you mean 'even'?",
    ),
    ({"wire.main.tip": {"11": "5 deg"}}, "wire.main.tip.11", "mesial crown"),
    ({"wire.main.step_up": {"11": "0.3 mm"}}, "wire.main.step_up.11", "does not say which way"),
    ({"wire.main.to": 11, "wire.main.from": 21}, "wire.main.to = 11", "patient's left"),
    ({"wire.main.from": 16}, "wire.main.hold", "names tooth 17, which lies outside"),
    (
        {"wire.main.progressive_torque": {"from": 13, "to": 13, "end": "9 deg buccal root"}},
        "wire.main.progressive_torque.to",
        "another tooth",
    ),
    (
        {"wire.main.v_bend": [{"between": [14, 16], "at": 0.5, "angle": "9 deg", "apex": "gingival"}]},
        "wire.main.v_bend[1].between",
        "neighbours",
    ),
    (
        {"wire.main.v_bend": [{"between": [14, 15], "at": 1.5, "angle": "9 deg", "apex": "gingival"}]},
        "wire.main.v_bend[1].at = 1.5",
        "must be less than 1",
    ),
    (hold(by="slots"), 'wire.main.hold[2].by = "slots"', "Did you mean 'slot'?"),
    (hold(by="slot", ligature="steal"), "wire.main.hold[2].ligature", "Did you mean 'steel'?"),
    (hold(by="slot", slides="friction"), "wire.main.hold[2].friction", "is needed with"),
    (hold(by="slot", slack="1 mm"), "wire.main.hold[2].slack", "has no meaning with by"),
    (hold(by="tube", play="none", clearance="0.1 mm"), "wire.main.hold[2].clearance", "together with play"),
    ({"wire.main.hold": [{"by": "slot"}]}, "wire.main.hold[1].teeth", "must be given"),
    ({"wire.main.hold": [{"teeth": [16, 16], "by": "slot"}]}, "wire.main.hold[1].teeth", "lists 16 twice"),
    ({"wire.main.hold": [{"teeth": [16], "by": "slot"}]}, "wire.main.hold", "at least two places"),
    (overlay(alloy=None), "wire.overlay.alloy", "is missing"),
    (overlay(diameter=None), "wire.overlay.diameter", "is missing"),
    (overlay(torque={"16": "9 deg buccal root"}), "wire.overlay.torque", "round wire"),
    (
        overlay(hold=[{"teeth": [16, 26], "by": "slot"}]),
        'wire.overlay.diameter = "1 mm"',
        "is thicker than the slot",
    ),
    (overlay(hold=[{"teeth": [16, 26], "by": "tube"}]), "wire.overlay.hold[1].play", "is missing"),
    (
        overlay(hold=[{"between": [[14, 16]], "by": "tie"}], ends="1 mm"),
        "wire.overlay.hold[1].between[1]",
        "neighbours",
    ),
    ({"force": [{"tooth": 18}]}, "force[1].tooth = 18", "Third molars"),
    ({"force": [{"tooth": 11}]}, "force[1].force", "is missing or zero"),
    ({"force": [{"tooth": 11, "force": {"buccal": "-1 N"}}]}, "force[1].force.buccal", "from 0 N"),
    (
        {"force": [{"tooth": 11, "force": {"buccal": "1 N", "lingual": "1 N"}}]},
        "force[1].force.lingual",
        "together",
    ),
    ({"force": [{"tooth": 11, "moment": {"torque": "5 N.mm"}}]}, "force[1].moment.torque", "which way"),
    ({"force": {"tooth": 11}}, "force = {tooth = 11}", "must be a list"),
    ({"solve.tolerance": 0}, "solve.tolerance = 0", "must be greater than"),
    ({"expect": [{"output": "a.b", "why": "x"}]}, "expect[1].min", "give min, max, or near"),
    ({"expect": [{"output": "a.b", "near": 1.0, "why": "x"}]}, "expect[1].within", "is needed with near"),
    ({"expect": [{"output": "a.b", "min": 1.0}]}, "expect[1].why", "is missing"),
    ({"expect": [{"output": "a b", "min": 1.0, "why": "x"}]}, "expect[1].output", "must be a dotted path"),
]


@pytest.mark.parametrize(("changes", "key", "says"), CASES, ids=[f"{key}-{says}" for _, key, says in CASES])
def test_one_line_a_problem(changes: dict[str, Any], key: str, says: str) -> None:
    found = lines(changes)
    named = [line for line in found if line.startswith(f"scenario: {key}") and says in line]
    assert len(named) == 1, found


def test_all_problems_are_listed() -> None:
    found = lines({"arch.width": "1 mm", "wire.main.alloy": "gold", "tooth": {"19": {}}})
    assert sorted(line.split()[1] for line in found) == ["arch.width", "tooth.19", "wire.main.alloy"]


def test_slots_hold_one_wire() -> None:
    second = {**OVERLAY, "diameter": "0.016 in", "hold": [{"teeth": [14, 24], "by": "slot"}]}
    assert all("which wire.main fills" in line for line in lines({"wire.second": second}))


def test_long_values_are_shortened() -> None:
    (line,) = lines({"wire.main.alloy": "x" * 500})
    assert "x" * 100 not in line


@pytest.mark.parametrize("wrong", [None, 3, [], "text", {}, {"format": 1}, {"arch": None}])
def test_any_document_is_refused_clearly(wrong: Any) -> None:
    with pytest.raises(InputError) as error:
        Scenario.parse(wrong)
    assert str(error.value)
