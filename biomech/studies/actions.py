"""What is done to the wires at a visit: a scenario before, a scenario after, and a line of text for each action."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from biomech.errors import InputError
from biomech.scenario import Action, Rule, Scenario
from biomech.scenario.loader import merge
from biomech.studies.action_words import changed, hold_line, put_in, teeth_list


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
    document = scenario.document
    wires: dict[str, Any] = document.setdefault("wire", {})
    before = dict(wires)
    for wire, table in written.get("wire", {}).items():
        wires[wire] = merge(_kept(wires.get(wire, {}), table), table)
    fresh = {wire: {key: wires[wire][key] for key in table} for wire, table in written.get("wire", {}).items()}
    for wire, holds in written.get("hold", {}).items():
        wires[wire]["hold"] = [*wires[wire].get("hold", []), *holds]
    for wire, teeth in action.release.items():
        wires[wire]["hold"] = _released(wires[wire].get("hold", []), teeth, scenario.arch.teeth)
    now = _parsed(document, name)  # what is no wire is refused here, before it is put into words
    lines = list(_said(before, fresh, written.get("hold", {}), action.release))
    for wire, by in action.reactivate.items():
        lines.append(_widen(now, wires, wire, by))
    for wire, table in action.torque.items():
        lines += _twist(now, wires, wire, table)
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
        if done.lines:
            lines.append(f"rule: crown leads root at {why} (more than {rule.lead:g} mm): {'; '.join(done.lines)}")
    return Done(scenario, tuple(lines))


def _obey(scenario: Scenario, rule: Rule, leading: Sequence[int]) -> Done:
    document = scenario.document
    wires: dict[str, Any] = document.get("wire", {})
    lines = []
    if rule.wire and rule.wire in wires:
        way, adds = float(np.sign(rule.torque)), {}
        for tooth in leading:
            room = rule.most - way * scenario.wire[rule.wire].torque.get(tooth, 0.0)
            adds[tooth] = way * min(abs(rule.torque), max(0.0, room))
        lines += _twist(scenario, wires, rule.wire, {n: add for n, add in adds.items() if abs(add) > 1e-9})
        full = [n for n, add in adds.items() if abs(add) <= 1e-9]
        if full:
            most = f"{np.degrees(rule.most):.3g} deg"
            lines.append(f"no more torque at {teeth_list(full)}: the rule's most, {most}, is in the wire")
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


def _twist(scenario: Scenario, wires: dict[str, Any], wire: str, adds: Mapping[int, float]) -> list[str]:
    """Add torque (rad, + buccal root) to a wire at teeth and say so, teeth to which the same is done together."""
    done: dict[str, list[int]] = {}
    for tooth, angle in adds.items():
        total = scenario.wire[wire].torque.get(tooth, 0.0) + angle
        table = wires[wire].setdefault("torque", {})
        for key in [k for k in table if str(k) == str(tooth)]:
            del table[key]
        table[str(tooth)] = f"{float(abs(np.degrees(total)))!r} deg {_way(total)}"
        added, now = (f"{abs(np.degrees(x)):.3g} deg {_way(x)}" for x in (angle, total))
        done.setdefault(f"wire '{wire}': {added} torque added at {{}} (now {now})", []).append(tooth)
    return [text.format(teeth_list(teeth)) for text, teeth in done.items()]


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


def _said(
    before: Mapping[str, Any], fresh: Mapping[str, Any], holds: Mapping[str, Any], release: Mapping[str, Sequence[int]]
) -> Iterator[str]:
    """Yield in words what wires are put in or changed, how they are held from now on, and where they are let go."""
    for wire, table in fresh.items():
        yield from changed(wire, before[wire], table) if wire in before else [put_in(wire, table)]
    for wire, found in holds.items():
        yield from (hold_line(wire, hold) for hold in found)
    for wire, teeth in release.items():
        yield f"wire '{wire}' let go at {teeth_list(teeth)}"


def _kept(wire: Mapping[str, Any], table: Mapping[str, Any]) -> dict[str, Any]:
    """Return what of a wire still holds where `table` states it in another way.

    A wire once re-activated is widened left and right: each_side, said later, takes the place of both. A round wire in
    the place of a rectangular one, or the other way, takes no sizes over.
    """
    out = dict(wire)
    if table.get("section", wire.get("section")) != wire.get("section"):
        out = {key: value for key, value in wire.items() if key not in ("height", "depth", "bevel", "diameter")}
    new, old = table.get("widen"), wire.get("widen")
    if isinstance(new, Mapping) and isinstance(old, Mapping):
        apart = ("left", "right")
        gone = apart if "each_side" in new else ("each_side",) if any(side in new for side in apart) else ()
        out["widen"] = {key: value for key, value in old.items() if key not in gone}
    return out
