"""What is done to the wires at a visit: a scenario before, a scenario after, and a line of text for each action."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from biomech.errors import InputError
from biomech.scenario import Action, Rule, Scenario
from biomech.scenario.loader import merge


class Done(NamedTuple):
    """The scenario after a visit's actions, and what they were, in words."""

    scenario: Scenario
    lines: tuple[str, ...]


def without_course(scenario: Scenario) -> Scenario:
    """Return the scenario as it stands on one day: without its course and expectations."""
    document = scenario.document
    return Scenario.parse({k: v for k, v in document.items() if k not in ("course", "expect")})


def act(scenario: Scenario, action: Action, written: Mapping[str, Any], name: str) -> Done:
    """Return the scenario after `action`, in the order: new wires and keys, holds, widening, torque, removal.

    `written` is the action's table as read (texts with units); `name` stands in front of error messages.
    """
    document, lines = scenario.document, []
    wires: dict[str, Any] = document.setdefault("wire", {})
    for wire, table in written.get("wire", {}).items():
        lines.append(_changed(wire, table, wire in wires))
        wires[wire] = merge(wires.get(wire, {}), table)
    for wire, holds in written.get("hold", {}).items():
        wires[wire]["hold"] = [*wires[wire]["hold"], *holds]
        lines += [f"wire '{wire}': {_hold(hold)}" for hold in holds]
    for wire, teeth in action.release.items():
        wires[wire]["hold"] = _released(wires[wire]["hold"], teeth, scenario.arch.teeth)
        lines.append(f"wire '{wire}' let go at {_list(teeth)}")
    now = _parsed(document, name)
    for wire, by in action.reactivate.items():
        lines.append(_widen(now, wires, wire, by))
    for wire, table in action.torque.items():
        lines += [_twist(now, wires, wire, tooth, angle) for tooth, angle in table.items()]
    for wire in action.remove:
        del wires[wire]
        lines.append(f"wire '{wire}' taken out")
    return Done(_parsed(document, name), tuple(lines))


def follow(scenario: Scenario, rules: Sequence[Rule], leads: Mapping[int, float]) -> Done:
    """Return the scenario after the rules have acted; `leads` by tooth: how far its crown leads its root, mm."""
    lines: list[str] = []
    for rule in rules:
        leading = [n for n in rule.teeth if leads[n] > rule.lead]
        if not leading:
            continue
        why = ", ".join(f"{n} by {leads[n]:.2f} mm" for n in leading)
        done = _obey(scenario, rule, leading)
        scenario = done.scenario
        lines += [f"rule: crown leads root at {why} (more than {rule.lead:g} mm): {text}" for text in done.lines]
    return Done(scenario, tuple(lines))


def _obey(scenario: Scenario, rule: Rule, leading: Sequence[int]) -> Done:
    document = scenario.document
    wires: dict[str, Any] = document.get("wire", {})
    lines = []
    if rule.wire and rule.wire in wires:
        for tooth in leading:
            there = scenario.wire[rule.wire].torque.get(tooth, 0.0)
            room = np.sign(rule.torque) * rule.most - there
            added = float(np.sign(rule.torque) * min(abs(rule.torque), max(0.0, np.sign(rule.torque) * room)))
            if abs(added) > 1e-9:
                lines.append(_twist(scenario, wires, rule.wire, tooth, added))
            else:
                most = np.degrees(rule.most)
                lines.append(f"no more torque at {tooth}: the rule's most, {most:.3g} deg, is in the wire")
    for wire, by in rule.ease.items():
        if wire in wires:
            left = scenario.wire[wire].widen
            take = min(by, max(0.0, min(left.sides))) if left is not None else 0.0
            if take > 0.0:
                lines.append(_widen(scenario, wires, wire, -take))
    return Done(_parsed(document, "rule"), tuple(lines))


def _parsed(document: Mapping[str, Any], name: str) -> Scenario:
    try:
        return Scenario.parse(document)
    except InputError as error:
        lines = [line.removeprefix("scenario: ") for line in str(error).split("\n")]
        raise InputError("\n".join(f"{name}: {line}" for line in lines)) from None


def _widen(scenario: Scenario, wires: dict[str, Any], wire: str, by: float) -> str:
    widen = scenario.wire[wire].widen
    left, right = widen.sides if widen is not None else (0.0, 0.0)
    profile = {"profile": widen.profile} if widen is not None else {}
    left, right = left + by, right + by
    wires[wire]["widen"] = {"left": f"{left!r} mm", "right": f"{right!r} mm", **profile}
    does = "re-activated" if by >= 0 else "eased"
    return f"wire '{wire}' {does} by {abs(by):.4g} mm a side (now {left:.4g} mm left, {right:.4g} mm right)"


def _twist(scenario: Scenario, wires: dict[str, Any], wire: str, tooth: int, angle: float) -> str:
    total = scenario.wire[wire].torque.get(tooth, 0.0) + angle
    table = wires[wire].setdefault("torque", {})
    for key in [k for k in table if str(k) == str(tooth)]:
        del table[key]
    table[str(tooth)] = f"{float(abs(np.degrees(total)))!r} deg {_way(total)}"
    return (
        f"wire '{wire}': {abs(np.degrees(angle)):.3g} deg {_way(angle)} torque added at {tooth} "
        f"(now {abs(np.degrees(total)):.3g} deg {_way(total)})"
    )


def _way(angle: float) -> str:
    return "buccal root" if angle >= 0 else "lingual root"


def _released(holds: Sequence[Mapping[str, Any]], teeth: Sequence[int], arch: Sequence[int]) -> list[dict[str, Any]]:
    out = []
    for hold in holds:
        if "teeth" not in hold:
            out.append(dict(hold))
            continue
        named = arch if hold["teeth"] == "all" else hold["teeth"]
        left = [n for n in named if int(n) not in teeth]
        if left:
            out.append({**hold, "teeth": left})
    return out


def _changed(wire: str, table: Mapping[str, Any], there: bool) -> str:
    if not there:
        return f"wire '{wire}' put in"
    return f"wire '{wire}' changed: {', '.join(f'{key} = {value}' for key, value in table.items())}"


def _hold(hold: Mapping[str, Any]) -> str:
    where = hold.get("teeth", hold.get("between"))
    rest = ", ".join(f"{k} {v}" for k, v in hold.items() if k not in ("teeth", "between", "by"))
    return f"{hold['by']} at {where}{f' ({rest})' if rest else ''}"


def _list(teeth: Sequence[int]) -> str:
    return ", ".join(str(n) for n in teeth)
