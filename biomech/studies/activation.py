"""Widening and torque of one wire, changed by so much: its table in the scenario, and a line of text."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from biomech import units
from biomech.errors import InputError
from biomech.scenario import Scenario
from biomech.scenario.wire import MOST_TWIST, WIDEST
from biomech.studies.action_words import teeth_list

Sides = tuple[float, float]
"""Left and right (the patient's), mm."""
MOST = units.angle(MOST_TWIST)
"""Torque that may be bent into a wire at a tooth, either way, rad."""
_NOTHING = 1e-9  # mm, rad: the rest of sums


def sides_of(scenario: Scenario, wire: str) -> Sides:
    """Return how far a wire is widened, mm; negative: narrowed."""
    widen = scenario.wire[wire].widen
    return widen.sides if widen is not None else (0.0, 0.0)


def widened(scenario: Scenario, tables: dict[str, Any], wire: str, by: Sides, where: str) -> str:
    """Widen a wire of `scenario` further in its table, one of `tables`, and return the line that says so.

    `by` mm, negative: taken back. Raises InputError, beginning with `where`, for more than a wire may be widened.
    """
    old, widen = sides_of(scenario, wire), scenario.wire[wire].widen
    left, right = (round(a + b, 9) + 0.0 for a, b in zip(old, by, strict=True))
    if max(abs(left), abs(right)) > units.length(WIDEST):
        raise InputError(f"{where} adds up to {_state((left, right))}; allowed: from -{WIDEST} to {WIDEST} a side")
    acts = any(abs(b) > _NOTHING for b in by)
    if acts:
        profile = {"profile": widen.profile} if widen is not None else {}
        tables[wire]["widen"] = {"left": f"{left!r} mm", "right": f"{right!r} mm", **profile}
    verb = "eased" if min(by) < 0.0 else "re-activated" if any(old) else "widened"
    if not acts:
        return f"wire '{wire}' not {verb}: {_amounts(by)} (still {_state((left, right))})"
    return f"wire '{wire}' {verb} by {_amounts(by)} (now {_state((left, right))})"


def _amounts(by: Sides) -> str:
    left, right = (f"{abs(b):.4g} mm" for b in by)
    if abs(by[0] - by[1]) <= _NOTHING:
        return f"{left} a side"
    named = [f"{text} {side}" for text, b, side in zip((left, right), by, ("left", "right"), strict=True) if b]
    return ", ".join(named)


def _state(sides: Sides) -> str:
    texts = [f"{x:.4g} mm {side}" for x, side in zip(sides, ("left", "right"), strict=True)]
    narrow = " (negative: narrowed)" if min(sides) < 0.0 else ""
    return ", ".join(texts) + narrow


def twisted(
    scenario: Scenario, tables: dict[str, Any], wire: str, adds: Mapping[int, float], where: Callable[[int], str]
) -> list[str]:
    """Add torque (rad, + buccal root) to a wire at teeth, in its table, and say so: a line for all with the same.

    Raises InputError, beginning with `where` of the tooth, for more than can be bent into a wire.
    """
    done: dict[str, list[int]] = {}
    for tooth, angle in adds.items():
        own, grown = scenario.wire[wire].torque.get(tooth, 0.0), progressive_at(scenario, wire, tooth)
        total = own + angle
        if abs(total) > MOST + _NOTHING:
            raise InputError(f"{where(tooth)} adds up to {_torque(total)}; allowed: up to {MOST_TWIST} either way")
        share = f", {_torque(grown)} of it progressive" if abs(grown) > _NOTHING else ""
        now = f"{_torque(total + grown)}{share}"
        if abs(angle) <= _NOTHING:
            done.setdefault(f"wire '{wire}': no torque added at {{}} (0 deg; still {now})", []).append(tooth)
            continue
        table = tables[wire].setdefault("torque", {})
        for key in [k for k in table if str(k) == str(tooth)]:
            del table[key]
        table[str(tooth)] = f"{float(abs(np.degrees(total)))!r} deg {_way(total)}"
        done.setdefault(f"wire '{wire}': {_torque(angle)} torque added at {{}} (now {now})", []).append(tooth)
    return [text.format(teeth_list(teeth)) for text, teeth in done.items()]


def _torque(angle: float) -> str:
    return "none" if abs(angle) <= _NOTHING else f"{abs(np.degrees(angle)):.3g} deg {_way(angle)}"


def _way(angle: float) -> str:
    return "buccal root" if angle >= 0 else "lingual root"


def torque_at(scenario: Scenario, wire: str, tooth: int) -> float:
    """Return the torque bent into a wire at a tooth, rad, + buccal root: its own there and its progressive torque."""
    return scenario.wire[wire].torque.get(tooth, 0.0) + progressive_at(scenario, wire, tooth)


def progressive_at(scenario: Scenario, wire: str, tooth: int) -> float:
    """Return the progressive torque of a wire at a tooth that holds it, rad, + buccal root; 0 where none does."""
    if scenario.wire[wire].progressive_torque is None:
        return 0.0
    from biomech.appliance.teeth import set_up_teeth
    from biomech.appliance.wires import lay_out
    from biomech.tooth.anatomy import jaw_sign

    teeth = set_up_teeth(scenario)
    layout = lay_out(wire, scenario, teeth.curve, teeth.placed, 1)
    grip = next((g for g in layout.grips if g.tooth == tooth and g.partner is None), None)
    if grip is None:
        return 0.0
    s = np.array(0.5 * (grip.at[0] + grip.at[-1]))
    twist = layout.free.twist(s) - replace(layout.free, progressive=()).twist(s)
    return -jaw_sign(tooth) * float(twist)


def no_torque(scenario: Scenario, wire: str, tooth: int) -> str | None:
    """Return why torque in a wire cannot act at a tooth, or None where it can."""
    if scenario.wire[wire].section == "round":
        return f"wire '{wire}' is round then: it turns in its slot and carries no torque"
    hold = scenario.held_by(wire).get(tooth)
    if hold is not None and hold.by != "tie":
        return None
    grips = [n for n, found in scenario.held_by(wire).items() if found.by != "tie"]
    where = teeth_list(grips) or "no tooth"
    does = "does not hold" if hold is None else "is only tied to"
    return f"tooth {tooth} {does} wire '{wire}'; torque acts where a slot, a tube or a bond holds it: {where}"

