"""Visits and rules: what is exchanged, what is told, and one clear line for every list that cannot be done."""

from __future__ import annotations

import copy
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from test_course import BASE

from biomech.appliance import build
from biomech.cli import main
from biomech.errors import InputError
from biomech.mechanics.newton import Settings
from biomech.mechanics.states import arrays_of, mapped
from biomech.movement.carry import carried
from biomech.movement.march import Mover
from biomech.rates import make_rate
from biomech.scenario import Scenario, schema
from biomech.studies.actions import act, follow, rehearsed, without_course
from biomech.studies.activation import torque_at
from biomech.studies.course import Course, run_course
from biomech.studies.rules import acted as acted_by_rule

STEEL = "stainless as drawn, yielding"
THIRD: dict[str, Any] = {
    "section": "rectangular", "height": "0.021 in", "depth": "0.025 in", "alloy": "beta-titanium",
    "elements_per_span": 2, "hold": [{"teeth": "all", "by": "slot"}],
}  # fmt: skip
ROUND: dict[str, Any] = {**{k: v for k, v in THIRD.items() if k not in ("height", "depth")}, "section": "round", "diameter": "0.4 mm"}
TIED: dict[str, Any] = {"section": "round", "diameter": "0.5 mm", "alloy": "beta-titanium", "hold": [{"teeth": [13, 11, 23], "by": "tie"}]}
EASE = {"teeth": [13], "lead": "0.1 mm", "ease": {"overlay": "1 mm"}}
TURN = {"teeth": [13, 23], "lead": "0.1 mm", "wire": "main", "torque": "6 deg buccal root", "most": "8 deg"}


def case(*visits: dict[str, Any], rule: list[dict[str, Any]] | None = None, **changes: Any) -> Scenario:
    document = copy.deepcopy(BASE)
    document["course"]["visit"] = [{"after": f"{i + 1} weeks", **visit} for i, visit in enumerate(visits)]
    document["course"]["rule"] = rule or []
    return Scenario.parse(document).changed({k.replace("__", "."): v for k, v in changes.items()})


def acted(scenario: Scenario) -> tuple[list[Scenario], list[tuple[str, ...]]]:
    """Return the scenarios as the visits leave them, the first before any, and what was done, in words."""
    assert scenario.course is not None
    rehearsed(scenario, scenario.course)
    left, lines = [without_course(scenario)], []
    for i, visit in enumerate(scenario.course.visit):
        done = act(left[-1], visit, scenario.document["course"]["visit"][i], f"course.visit[{i + 1}]")
        left.append(done.scenario)
        lines.append(done.lines)
    return left, lines


def told(scenario: Scenario, lead: float = 1.0) -> tuple[Scenario, tuple[str, ...]]:
    """Return the scenario after its first visit and its rules, all crowns leading, and what the rules say."""
    assert scenario.course is not None
    left, _ = acted(scenario)
    return follow(left[1], scenario.course.rule, dict.fromkeys(scenario.arch.teeth, lead))


def test_what_is_taken_out_makes_room_for_what_is_put_in() -> None:
    left, lines = acted(case({"remove": ["main"], "wire": {"third": THIRD}}))
    assert set(left[1].wire) == {"overlay", "third"}
    assert lines[0] == ("wire 'main' taken out", "wire 'third' put in: beta-titanium 0.021 x 0.025 in, in the slots of all teeth, computed with 2 elements a span")


def test_a_wire_under_the_name_of_one_taken_out_is_a_new_one() -> None:
    left, lines = acted(case({"reactivate": {"overlay": "1 mm"}}, {"remove": ["overlay"], "wire": {"overlay": TIED}}))
    new = left[2].wire["overlay"]
    assert new.piece == 2 and new.widen is None and new.size == (0.5, 0.5)
    assert lines[1] == ("wire 'overlay' taken out", "wire 'overlay' put in: beta-titanium 0.5 mm round, tied to 13, 11, 23")


def test_a_wire_renewed_is_made_alike_but_for_what_the_visit_changes() -> None:
    visits: list[dict[str, Any]] = [{"reactivate": {"overlay": "1 mm"}}, {"renew": ["overlay"]}, {"renew": ["overlay"], "wire": {"overlay": {"diameter": "0.9 mm"}}}]
    left, lines = acted(case(*visits))
    assert [s.wire["overlay"].piece for s in left] == [1, 1, 2, 3]
    assert left[2].wire["overlay"].model_copy(update={"piece": 1}) == left[1].wire["overlay"]
    assert left[3].wire["overlay"].size == (0.9, 0.9) and left[3].wire["overlay"].widen.sides == (2.0, 2.0)  # type: ignore[union-attr]
    assert lines[1][0].startswith("wire 'overlay' renewed: stainless as drawn 0.8 mm round, widened to 2 mm left, 2 mm right")
    assert lines[2][0].startswith("wire 'overlay' renewed: stainless as drawn 0.9 mm round") and len(lines[2]) == 1
    # the same keys without `renew` are no new wire, and that is said
    left, lines = acted(case({"wire": {"overlay": {"section": "round", "diameter": "0.8 mm"}}}))
    assert left[1] is left[0] and lines[0] == ("wire 'overlay' left as it was: no new one put in",)


def still(visit: dict[str, Any]) -> Course:
    """Return a course in which a main wire was twisted until it yielded, then untwisted; teeth hardly move."""
    changes = {"wire.main.alloy": STEEL, "wire.main.torque": {"11": "60 deg buccal root"}, "course.law": "proportional",
               "course.time_constant": "1000 day", "course.duration": "3 weeks"}  # fmt: skip
    return run_course(case({"wire": {"main": {"torque": {"11": "0 deg"}}}}, visit).changed(changes))


def test_a_new_wire_has_no_set() -> None:
    whole = {**BASE["wire"]["main"], "alloy": STEEL}
    kept = still({}).visits[2].after.wires["main"]
    renewed, exchanged = (still(v).visits[2].after.wires["main"] for v in ({"renew": ["main"]}, {"remove": ["main"], "wire": {"main": whole}}))
    assert kept.largest > 1e-3  # strain: the old one keeps some of the twist and goes on acting
    assert renewed.largest == exchanged.largest == 0.0
    assert renewed.energy < 0.1 * kept.energy
    assert exchanged.energy == pytest.approx(renewed.energy, rel=1e-6)


def test_a_new_wire_and_what_holds_it_remember_nothing_and_the_others_go_on() -> None:
    """Strains of wires that yield, and where they stick in their slots, are forgotten with the wire, and only then."""
    rubs = {"teeth": "all", "by": "slot", "slides": "friction", "friction": 0.2}
    changes = {"wire.main.hold": [rubs], "wire.main.alloy": STEEL, "wire.overlay.alloy": STEEL}
    thinner = {"wire": {"main": {"height": "0.018 in"}}}  # another wire, though its keys change one by one
    left, _ = acted(case({"torque": {"main": {"13": "5 deg buccal root"}}}, {"renew": ["main"]}).changed(changes))
    other, _ = acted(case(thinner).changed(changes))
    old = Mover(build(left[0]), make_rate("logarithmic"), Settings())
    now = old.moment(0.0, old.appliance.start, old.network.start_states())
    marked = [mapped(np.ones_like, state) for state in now.states]
    for after, expected in ((left[0], 1.0), (left[1], 1.0), (left[2], 0.0), (other[1], 0.0)):
        new = build(after)
        _, found = carried(old.appliance, replace(now, states=marked), new)
        for group, state in zip(new.network.groups, found, strict=True):
            value = 1.0 if group.name.startswith("overlay") else expected
            fresh = arrays_of(group.law.start())
            if group.name.startswith(("overlay", "main")):
                want = [np.ones_like(a) if value else a for a in fresh]
                assert all(np.array_equal(np.squeeze(a), np.squeeze(b)) for a, b in zip(arrays_of(state), want, strict=True)), group.name


def test_a_visit_without_action_leaves_the_document_alone() -> None:
    document = {
        "format": 1, "title": "one tooth",
        "arch": {"jaw": "upper", "form": "beta", "width": "62 mm", "depth": "45 mm", "teeth": [13]},
        "force": [{"tooth": 13, "force": {"buccal": "1 N"}}],
        "course": {"duration": "5 weeks", "visit": [{"after": "1 week"}, {"after": "2 weeks", "reactivate": {}, "remove": []}]},
    }  # fmt: skip
    left, lines = acted(Scenario.parse(document))
    assert left[1].document == left[0].document == left[2].document and lines == [(), ()]
    nothing = {"reactivate": {"overlay": "0 mm"}, "torque": {"main": {"13": "0 deg"}}, "wire": {"main": {"torque": {"11": "0 deg"}}}}
    left, _ = acted(case({}, nothing, wire__main__torque={"11": "0 deg"}))
    assert left[0].document == left[1].document == left[2].document


def test_what_comes_to_nothing_is_said() -> None:
    _, lines = acted(case({"reactivate": {"overlay": "0 mm"}, "torque": {"main": {"13": "0 deg", "23": "5 deg buccal root"}}},
                          {"torque": {"main": {"13": "0 deg", "23": "5 deg lingual root"}}, "reactivate": {"main": "1 mm", "overlay": "-2 mm"}}))  # fmt: skip
    assert lines[0] == (
        "wire 'overlay' not re-activated: 0 mm a side (still 1 mm left, 1 mm right)",
        "wire 'main': no torque added at 13 (0 deg; still none)",
        "wire 'main': 5 deg buccal root torque added at 23 (now 5 deg buccal root)",
    )
    assert lines[1] == (
        "wire 'main' widened by 1 mm a side (now 1 mm left, 1 mm right)",
        "wire 'overlay' eased by 2 mm a side (now -1 mm left, -1 mm right (negative: narrowed))",
        "wire 'main': no torque added at 13 (0 deg; still none)",
        "wire 'main': 5 deg lingual root torque added at 23 (now none)",
    )


def test_a_rule_eases_each_side_by_what_is_there() -> None:
    one_sided = case({}, rule=[EASE], wire__overlay__widen={"left": "4 mm"})
    after, (line,) = told(one_sided)
    assert line.endswith("wire 'overlay' eased by 1 mm left (now 3 mm left, 0 mm right)")
    assert after.wire["overlay"].widen.sides == (3.0, 0.0)  # type: ignore[union-attr]
    after, (line,) = told(case({}, rule=[EASE], wire__overlay__widen={"left": "0.4 mm", "right": "-2 mm"}))
    assert after.wire["overlay"].widen.sides == (0.0, -2.0)  # type: ignore[union-attr]
    after, (line,) = told(case({}, rule=[EASE], wire__overlay__widen={"left": "0.4 mm", "right": "3 mm"}))
    assert line.endswith("wire 'overlay' eased by 0.4 mm left, 1 mm right (now 0 mm left, 2 mm right)")
    _, (line,) = told(case({}, rule=[EASE], wire__overlay__widen={"each_side": "-1 mm"}))
    assert line.endswith("(more than 0.1 mm): wire 'overlay' is not widened: nothing to take back")
    _, (line,) = told(case({}, rule=[{**EASE, "ease": {"overlay": "0 mm"}}]))
    assert line.endswith("wire 'overlay' not eased: the rule takes back 0 mm")


def test_a_rule_counts_progressive_torque() -> None:
    ramp = {"from": 11, "to": 13, "end": "6 deg buccal root"}
    scenario = case({}, rule=[{**TURN, "teeth": [13, 12, 23]}], wire__main__progressive_torque=ramp)
    now, (line,) = told(scenario)
    assert "2 deg buccal root torque added at 13 (now 8 deg buccal root, 6 deg buccal root of it progressive)" in line
    assert "6 deg buccal root torque added at 23 (now 6 deg buccal root)" in line
    middle = np.degrees(torque_at(scenario, "main", 12))
    assert 2.0 < middle < 4.0 and np.degrees(torque_at(now, "main", 12)) == pytest.approx(8.0, abs=1e-9)
    again = follow(now, scenario.course.rule, {13: 1.0, 12: 1.0, 23: 0.0})  # type: ignore[union-attr]
    assert again.lines[0].endswith("no more torque at 13, 12: the rule's most, 8 deg, is in the wire")
    # a visit's own torque says the same sum
    _, lines = acted(case({"torque": {"main": {"13": "3 deg lingual root"}}}, wire__main__progressive_torque=ramp))
    assert lines[0] == ("wire 'main': 3 deg lingual root torque added at 13 (now 3 deg buccal root, 6 deg buccal root of it progressive)",)


@pytest.mark.parametrize(
    ("visit", "told_line"),
    [
        ({"remove": ["overlay"]}, "wire 'overlay' is out: nothing to take back"),
        ({"remove": ["main"], "wire": {"third": THIRD}}, "wire 'main' is out: no torque added"),
        ({"remove": ["main"], "wire": {"main": ROUND}}, "no torque added: wire 'main' is round then: it turns in its slot and carries no torque"),
        ({"wire": {"main": {"hold": [{"teeth": "all", "by": "slot"}, {"teeth": [13], "by": "tie"}]}}},
         "no torque added: tooth 13 is only tied to wire 'main'; torque acts where a slot, a tube or a bond holds it: 12, 11, 21, 22, 23"),
    ],
)  # fmt: skip
def test_a_rule_says_why_it_does_nothing(visit: dict[str, Any], told_line: str) -> None:
    scenario = case({}, visit, rule=[{**TURN, **EASE}])
    left, _ = acted(scenario)
    (line,) = follow(left[2], scenario.course.rule, dict.fromkeys(scenario.arch.teeth, 1.0)).lines  # type: ignore[union-attr]
    assert told_line in line


@pytest.mark.parametrize(
    ("rule", "changes", "acts"),
    [
        (TURN, {}, True),
        (TURN, {"wire__main__torque": {"13": "8 deg buccal root", "23": "8 deg buccal root"}}, False),
        (EASE, {}, True),
        (EASE, {"wire__overlay__widen": {"each_side": "0 mm"}}, False),
        ({**EASE, "ease": {"overlay": "0 mm"}}, {}, False),
    ],
)
def test_a_line_of_a_rule_says_whether_it_acted(rule: dict[str, Any], changes: dict[str, Any], acts: bool) -> None:
    scenario = case({}, rule=[rule], **changes)
    after, (line,) = told(scenario)
    assert acted_by_rule(line) == acts == (after.wire != scenario.wire)


def test_a_wire_takes_so_much_torque_from_a_rule_and_no_more() -> None:
    rule = {**TURN, "teeth": [13], "torque": "10 deg lingual root", "most": "60 deg"}
    scenario = case({}, {}, rule=[rule], wire__main__torque={"13": "55 deg lingual root"})
    _, (line,) = told(scenario)
    assert line.endswith("5 deg lingual root torque added at 13 (now 60 deg lingual root)")
    ramp = {"from": 11, "to": 13, "end": "20 deg buccal root"}
    _, (line,) = told(case({}, rule=[rule], wire__main__torque={"13": "60 deg lingual root"}, wire__main__progressive_torque=ramp))
    assert line.endswith("no more torque at 13: 60 deg are bent in, all that a wire takes")


REFUSED: list[tuple[str, list[dict[str, Any]], list[dict[str, Any]], str]] = [
    ("two wires in a slot", [{"wire": {"third": THIRD}}], [], r"course.visit\[1\].wire.third.hold = .* puts the wire into the slots of teeth 13, 12, 11, 21, 22, 23, which wire.main fills: take that one out"),
    ("half a new wire", [{"remove": ["overlay"], "wire": {"overlay": {"widen": {"each_side": "3 mm"}}}}], [], r"course.visit\[1\].wire.overlay = .* without section, alloy, hold: .* renew = \[\"overlay\"\] instead"),
    ("misspelt wire", [{"wire": {"overlya": {"diameter": "0.9 mm"}}}], [], r"course.visit\[1\].wire.overlya = .* wires then: main, overlay. Did you mean 'overlay'\?"),
    ("taken out and re-activated", [{"remove": ["overlay"], "reactivate": {"overlay": "1 mm"}}], [], r"course.visit\[1\].reactivate.overlay = \"1 mm\" is for wire 'overlay', which `remove` of this visit takes out first"),
    ("taken out and renewed", [{"remove": ["overlay"], "renew": ["overlay"]}], [], r"course.visit\[1\].renew = .* say one of the two"),
    ("renewed though not there", [{"remove": ["overlay"]}, {"renew": ["overlay"]}], [], r"course.visit\[2\].renew = .* not there; wires then: main"),
    ("named twice", [{"remove": ["overlay", "overlay"]}], [], r"course.visit\[1\].remove = .* names overlay twice"),
    ("the last wire", [{"remove": ["main", "overlay"]}], [], r"course.visit\[1\].remove = .* takes out the last wire, and there is no \[\[force\]\]"),
    ("widened too far", [{"reactivate": {"overlay": "10 mm"}}] * 2, [], r"course.visit\[2\].reactivate.overlay = \"10 mm\" adds up to 21 mm left, 21 mm right; allowed: from -20 mm to 20 mm a side"),
    ("twisted too far", [{"torque": {"main": {"13": "50 deg buccal root"}}}] * 2, [], r"course.visit\[2\].torque.main.13 = \"50 deg buccal root\" adds up to 100 deg buccal root; allowed: up to 60 deg"),
    ("torque on a round wire", [{"torque": {"overlay": {"13": "5 deg buccal root", "23": "5 deg buccal root"}}}], [], r"course.visit\[1\].torque.overlay.13 = \"5 deg buccal root\" cannot act: wire 'overlay' is round"),
    ("torque where nothing holds", [{"release": {"main": [13]}}, {"torque": {"main": {"13": "5 deg buccal root"}}}], [], r"course.visit\[2\].torque.main.13 = .* tooth 13 does not hold wire 'main'; torque acts where .*: 12, 11, 21, 22, 23"),
    ("torque without wire", [{"torque": {"13": "5 deg buccal root"}}], [], r"course.visit\[1\].torque = .* must be a table by wire, like"),
    ("a rule as one table", [{}], {**EASE}, r"course.rule = .* must be a list of tables: write \[\[course.rule\]\]"),  # type: ignore[list-item]
    ("re-activated without how much", [{"reactivate": ["overlay"]}], [], r"course.visit\[1\].reactivate = .* must be a table by wire, like \{overlay = \"1 mm\"\}"),
    ("tied as one table", [{"hold": {"overlay": {"teeth": [13], "by": "tie"}}}], [], r"course.visit\[1\].hold = .* must be a table by wire, like"),
    ("no day of the calendar", [{"after": None, "date": "2025-02-30"}], [], r"course.visit\[1\].date = \"2025-02-30\" must be a date like 2025-03-31 \(day is out of range"),
    ("no tooth", [{"torque": {"main": {}}}], [], r"course.visit\[1\].torque.main = \{\} is empty"),
    ("nothing let go", [{"release": {"overlay": []}}], [], r"course.visit\[1\].release.overlay = \[\] is empty"),
    ("an empty table of a wire", [{"wire": {"main": {"torque": {}}}}], [], r"course.visit\[1\].wire.main.torque = \{\} changes nothing"),
    ("all let go", [{"release": {"overlay": [13, 11, 21, 23]}}], [], r"course.visit\[1\].release.overlay = .* lets go too much: .* remove = \[\"overlay\"\]"),
    ("let go and tied", [{"release": {"overlay": [13]}, "hold": {"overlay": [{"teeth": [13], "by": "tie"}]}}], [], r"course.visit\[1\].release.overlay = \[13\] names 13, where `hold` of this visit ties it anew"),
    ("let go twice, of a wire put in", [{"wire": {"third": TIED}}, {"release": {"third": [11]}}, {"release": {"third": [11]}}], [], r"course.visit\[3\].release.third = \[11\] names tooth 11, which does not hold this wire then; held by 13, 23"),
    ("bends that do not fit", [{"wire": {"main": {"v_bend": [{"between": [13, 12], "at": at, "angle": "20 deg", "apex": "gingival"} for at in (0.5, 0.51)]}}}], [], r"course.visit\[1\], with wire 'main': V-bends at"),
    ("opened but elastic", [{"wire": {"overlay": {"opening": {"each_side": "5 mm", "by": "bending"}}}}], [], r"course.visit\[1\], with wire 'overlay': wire.overlay.opening: needs an alloy that yields"),
    ("pairs without list", [{"hold": {"overlay": [{"between": [13, 12], "by": "tie"}]}}], [], r"course.visit\[1\].hold.overlay\[1\].between = \[13, 12\] must be a list of pairs"),
    ("rule on a round wire", [{}], [{**TURN, "wire": "overlay"}], r"course.rule\[1\].wire = \"overlay\" cannot take the torque at any visit: wire 'overlay' is round"),
    ("rule of an absent wire", [{}], [{**TURN, "wire": "mian"}], r"course.rule\[1\].wire = \"mian\" names wire 'mian', which is never there; wires: main, overlay. Did you mean 'main'\?"),
    ("rule of a wire always out", [{"remove": ["overlay"]}], [EASE], r"course.rule\[1\].ease.overlay = \"1 mm\" names wire 'overlay', which is out at every visit"),
    ("rule of an absent tooth", [{}], [{**EASE, "teeth": [16]}], r"course.rule\[1\].teeth = \[16\] names tooth 16, which is not in arch.teeth"),
    ("rule of a tooth twice", [{}], [{**EASE, "teeth": [13, 13]}], r"course.rule\[1\].teeth = \[13, 13\] names 13 twice"),
    ("rule without visit", [], [EASE], r"course.rule\[1\] = .* is never looked at"),
    ("rule without action", [{}], [{**TURN, "torque": "0 deg"}], r"course.rule\[1\].torque = \"0 deg\" is missing or 0 deg"),
    ("rule and visit together", [{}, {"torque": {"main": {"13": "55 deg buccal root"}}}], [TURN], r"course.visit\[2\].torque.main.13 = .* adds up to 61 deg buccal root; .* \(where the rules act at every visit\)"),
]  # fmt: skip


@pytest.mark.parametrize(("visits", "rules", "says"), [c[1:] for c in REFUSED], ids=[c[0] for c in REFUSED])
def test_what_cannot_be_done_is_one_line(visits: list[dict[str, Any]], rules: list[dict[str, Any]], says: str) -> None:
    with pytest.raises(InputError, match=says) as refused:
        acted(case(*visits, rule=rules))
    assert len(str(refused.value).splitlines()) == 1


def test_a_held_tooth_never_leads() -> None:
    with pytest.raises(InputError, match=r"course.rule\[1\].teeth names tooth 13, which is held"):
        acted(case({}, rule=[EASE]).changed({"tooth.13.held": True}))


def test_bone_that_says_nothing_is_refused() -> None:
    with pytest.raises(InputError, match=r"course.bone.13 = \{\} says nothing: give buccal or lingual"):
        case({}, course__bone={"13": {}})


def test_rehearsing_takes_no_rule_for_granted() -> None:
    """Rules act in words only: what a rehearsal returns is what visits do by themselves."""
    scenario = case({}, {"reactivate": {"overlay": "1 mm"}}, rule=[EASE, TURN])
    assert scenario.course is not None
    left = rehearsed(scenario, scenario.course)
    assert [s.wire["overlay"].widen.sides for s in left] == [(1.0, 1.0), (2.0, 2.0)]  # type: ignore[union-attr]
    assert not left[1].wire["main"].torque
    eased = follow(left[0], scenario.course.rule, dict.fromkeys(scenario.arch.teeth, math.inf))
    assert eased.scenario.wire["overlay"].widen.sides == (0.0, 0.0)  # type: ignore[union-attr]


@pytest.mark.parametrize("command", ["course", "report", "compare", "animate"])
def test_nothing_is_left_behind_and_the_file_is_named(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    scenarios = Path(__file__).parents[2] / "scenarios"
    monkeypatch.chdir(tmp_path)
    text = f'extends = "{(scenarios / "upper-overlay.toml").as_posix()}"\ntitle = "bad"\n[course]\nduration = "6 months"\n'
    text += '[[course.rule]]\nteeth = [16]\nlead = "0.1 mm"\nwire = "overlay"\ntorque = "5 deg buccal root"\n'
    Path("bad.toml").write_text(text + '[[course.visit]]\nafter = "60 days"\n', encoding="utf-8")
    more = {"compare": ["--vary", "course.visit[1].after=60 days,70 days"], "animate": ["--out", "film.gif"]}
    assert main([command, "bad.toml", *more.get(command, [])]) == 2
    said = capsys.readouterr().err
    (line,) = (line for line in said.splitlines() if "course.rule[1]" in line)
    assert "bad.toml" in line and ': course.rule[1].wire = "overlay" cannot take the torque at any visit' in line
    assert [p.name for p in tmp_path.iterdir()] == ["bad.toml"]


def test_the_schema_says_how_a_new_wire_is_told_from_a_changed_one() -> None:
    keys = schema()["$defs"]["Visit"]["properties"]
    assert "renew" in keys["wire"]["description"] and "set or memory" in keys["renew"]["description"]
    assert "before anything is put in" in keys["remove"]["description"]
