"""Rules of a course, looked at in every visit: what they do to the wires, in words, and whether they ever could."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from biomech.scenario import Rule, Scenario
from biomech.scenario.wire import MOST_TWIST
from biomech.studies.action_words import teeth_list
from biomech.studies.activation import MOST, no_torque, sides_of, torque_at, twisted, widened

_NOTHING = 1e-9  # rad, mm


class Done(NamedTuple):
    """The scenario after a visit's actions, and what they were, in words."""

    scenario: Scenario
    lines: tuple[str, ...]


def obeyed(scenario: Scenario, tables: dict[str, Any], rule: Rule, leading: Sequence[int]) -> list[str]:
    """Do in the tables of the wires what a rule says at the teeth that lead, and return it in words.

    What it cannot do, a wire being out or nothing being left to take back, is said as well.
    """
    lines = []
    if rule.wire and rule.wire not in tables:
        lines.append(f"wire '{rule.wire}' is out: no torque added")
    elif rule.wire:
        lines += _torque(scenario, tables, rule, leading)
    for wire, by in rule.ease.items():
        lines.append(_ease(scenario, tables, wire, by))
    return lines


def acted(line: str) -> bool:
    """Return whether a line of `follow` says that a rule did something, rather than why it did not."""
    return " torque added at " in line or " eased by " in line


def _torque(scenario: Scenario, tables: dict[str, Any], rule: Rule, leading: Sequence[int]) -> list[str]:
    """Add torque at the teeth, each up to the rule's most."""
    way = float(np.sign(rule.torque))
    adds: dict[int, float] = {}
    full: dict[str, list[int]] = {}
    reasons: dict[str, None] = {}
    for tooth in leading:
        if reason := no_torque(scenario, rule.wire, tooth):
            reasons[reason] = None
            continue
        own = scenario.wire[rule.wire].torque.get(tooth, 0.0)
        room, bend = rule.most - way * torque_at(scenario, rule.wire, tooth), MOST - way * own
        add = way * min(abs(rule.torque), max(0.0, room), max(0.0, bend))
        if abs(add) > _NOTHING:
            adds[tooth] = add
        else:
            most = f"the rule's most, {np.degrees(rule.most):.3g} deg, is in the wire"
            why = most if room <= bend else f"{MOST_TWIST} are bent in, all that a wire takes"
            full.setdefault(why, []).append(tooth)
    lines = twisted(scenario, tables, rule.wire, adds, lambda tooth: f"course.rule: wire '{rule.wire}' at {tooth}")
    lines += [f"no more torque at {teeth_list(teeth)}: {why}" for why, teeth in full.items()]
    return [*lines, *(f"no torque added: {reason}" for reason in reasons)]


def _ease(scenario: Scenario, tables: dict[str, Any], wire: str, by: float) -> str:
    """Take back widening, on each side what is there at most."""
    if wire not in tables:
        return f"wire '{wire}' is out: nothing to take back"
    if by <= _NOTHING:
        return f"wire '{wire}' not eased: the rule takes back 0 mm"
    left, right = (min(by, max(0.0, side)) for side in sides_of(scenario, wire))
    if max(left, right) <= _NOTHING:
        return f"wire '{wire}' is not widened: nothing to take back"
    return widened(scenario, tables, wire, (-left, -right), f"course.rule: wire '{wire}'")


def rule_problems(rule: Rule, number: int, left: Sequence[Scenario]) -> Iterator[str]:
    """Yield, a line each, why a rule could act at none of the visits; `left`: the scenario as each of them leaves it.

    `number` of the rule, from 0.
    """
    name = f"course.rule[{number + 1}]"
    for tooth in rule.teeth:
        if left and left[0].tooth_of(tooth).held:
            yield f"{name}.teeth names tooth {tooth}, which is held (tooth.{tooth}.held): nothing ever leads there"
    if not rule.wire:
        return
    reasons: dict[str, None] = {}
    for tooth in rule.teeth:
        found = [no_torque(visit, rule.wire, tooth) for visit in left if rule.wire in visit.wire]
        if found and all(found):
            reasons[str(found[0])] = None
    yield from (f'{name}.wire = "{rule.wire}" cannot take the torque at any visit: {reason}' for reason in reasons)

