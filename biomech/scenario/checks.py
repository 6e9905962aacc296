"""What can be wrong between the parts of a scenario: absent teeth, occupied slots, wires too thick."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from biomech.errors import nearest
from biomech.scenario.parts import ligament_problems, model_problems, place_along
from biomech.scenario.problems import Path, Problem
from biomech.scenario.visits import course_problems

if TYPE_CHECKING:
    from biomech.scenario.hold import Hold
    from biomech.scenario.model import Scenario
from biomech.scenario.wire import Wire

_BEND_KEYS = ("torque", "tip", "rotate", "step_out", "step_up")


def cross_check(scenario: Scenario) -> Iterator[Problem]:
    """Yield every problem between the parts of a scenario that needs no mechanics to see."""
    yield from _teeth(scenario)
    for name, wire in scenario.wire.items():
        for problem in _wire(scenario, wire):
            yield Problem(("wire", name, *problem.path), problem.text, problem.value)
        for problem in _sizes(scenario, wire):
            yield Problem(("wire", name, *problem.path), problem.text, problem.value)
    yield from _shared_slots(scenario)
    yield from _course(scenario)
    if not scenario.wire and not scenario.force:
        yield Problem(("wire",), "is missing: a scenario needs a [wire.NAME] or a [[force]]")


def _course(scenario: Scenario) -> Iterator[Problem]:
    if scenario.course is None:
        return
    held = {name: set(scenario.held_by(wire)) for name, wire in scenario.wire.items()}
    for problem in course_problems(scenario.course, scenario.wire, held, scenario.arch.teeth):
        yield Problem(("course", *problem.path), problem.text, problem.value)


def _absent(scenario: Scenario, number: int) -> str | None:
    """Return why `number` cannot be used, or None when the tooth is there."""
    teeth = scenario.arch.teeth
    if number in teeth:
        return None
    upper = number // 10 in (1, 2)
    listed = ", ".join(str(n) for n in teeth)
    if upper != (scenario.arch.jaw == "upper"):
        return f"names tooth {number}, which is not in the {scenario.arch.jaw} jaw; arch.teeth: {listed}"
    return (
        f"names tooth {number}, which is not in arch.teeth: {listed}.{nearest(str(number), map(str, teeth))}"
    )


def _named(scenario: Scenario, path: Path, *numbers: int) -> Iterator[Problem]:
    for number in numbers:
        if text := _absent(scenario, number):
            yield Problem(path, text)


def _teeth(scenario: Scenario) -> Iterator[Problem]:
    for number, tooth in scenario.tooth.items():
        yield from _named(scenario, ("tooth", str(number)), number)
        if tooth.ligament is not None:
            merged = scenario.ligament_of(number)
            found = ligament_problems(merged.law, tooth.ligament.values)
            for problem in [*found, *model_problems(merged.law, merged.model)]:
                yield Problem(("tooth", str(number), "ligament", *problem.path), problem.text, problem.value)
    for i, load in enumerate(scenario.force):
        yield from _named(scenario, ("force", i, "tooth"), load.tooth)


def _wire(scenario: Scenario, wire: Wire) -> Iterator[Problem]:
    for key in _BEND_KEYS:
        for number in getattr(wire, key):
            yield from _named(scenario, (key, str(number)), number)
    for i, hold in enumerate(wire.hold):
        if hold.teeth != "all":
            yield from _named(scenario, ("hold", i, "teeth"), *(hold.teeth or ()))
        for j, pair in enumerate(hold.between):
            yield from _pair(scenario, ("hold", i, "between", j), pair)
    for i, bend in enumerate(wire.v_bend):
        yield from _pair(scenario, ("v_bend", i, "between"), bend.between)
    yield from _reach(scenario, wire)


def _pair(scenario: Scenario, path: Path, pair: tuple[int, int]) -> Iterator[Problem]:
    absent = list(_named(scenario, path, *pair))
    yield from absent
    teeth = scenario.arch.teeth
    if not absent and abs(teeth.index(pair[0]) - teeth.index(pair[1])) != 1:
        yield Problem(path, "must name two neighbours in arch.teeth")


def _reach(scenario: Scenario, wire: Wire) -> Iterator[Problem]:
    """Check from/to, the progressive torque's ends, and that the wire reaches all teeth that hold it."""
    ends = [("from", wire.from_), ("to", wire.to)]
    named = [(key, number) for key, number in ends if number is not None]
    for key, number in named:
        yield from _named(scenario, (key,), number)
    twist = wire.progressive_torque
    if twist is not None:
        yield from _named(scenario, ("progressive_torque", "from"), twist.from_)
        yield from _named(scenario, ("progressive_torque", "to"), twist.to)
        if twist.from_ == twist.to:
            yield Problem(("progressive_torque", "to"), "must be another tooth than `from`")
    if wire.from_ is not None and wire.to is not None and place_along(wire.from_) >= place_along(wire.to):
        yield Problem(("to",), f"must lie to the patient's left of from = {wire.from_}; swap the two")
        return
    held = scenario.held_by(wire)
    places = len(held) + sum(len(hold.between) for hold in wire.hold)
    if places == 0 or (places == 1 and wire.ends == 0.0):
        yield Problem(("hold",), "must hold the wire in at least two places")
    outside = [str(number) for number in held if not _within(wire, number)]
    if outside:
        which = f"teeth {', '.join(outside)}, which lie" if len(outside) > 1 else f"tooth {outside[0]}, which lies"
        yield Problem(("hold",), f"names {which} outside from and to of this wire")


def _within(wire: Wire, number: int) -> bool:
    low = place_along(wire.from_) if wire.from_ is not None else -99
    high = place_along(wire.to) if wire.to is not None else 99
    return low <= place_along(number) <= high


def _sizes(scenario: Scenario, wire: Wire) -> Iterator[Problem]:
    """Check that the wire fits into every slot and tube that holds it."""
    height, depth = wire.size
    keys = ("diameter", "diameter") if wire.section == "round" else ("height", "depth")
    limits = (scenario.bracket.slot_height, scenario.bracket.slot_depth)
    fitted = [hold for hold in scenario.held_by(wire).values() if _in_slot(hold)]
    if not fitted:
        return
    holder = fitted[0].by
    for key, size, limit, side in zip(keys, (height, depth), limits, ("height", "depth"), strict=True):
        if size > limit * (1 + 1e-9):
            yield Problem(
                (key,),
                f"({size:.4g} mm) is thicker than the {holder} that holds it: slot_{side} is {limit:.4g} mm",
            )
            return


def _in_slot(hold: Hold) -> bool:
    return hold.by in ("slot", "tube") and hold.play is None and hold.clearance is None


def _shared_slots(scenario: Scenario) -> Iterator[Problem]:
    """Two wires cannot lie in one slot: the second must be tied, bonded, or run in a tube of its own."""
    owner: dict[int, str] = {}
    for name, wire in scenario.wire.items():
        shared: dict[str, list[int]] = {}
        for number, hold in scenario.held_by(wire).items():
            if hold.by in ("slot", "tube") and hold.play is None:
                if number in owner:
                    shared.setdefault(owner[number], []).append(number)
                owner.setdefault(number, name)
        for other, teeth in shared.items():
            slots = f"slot{'s' if len(teeth) > 1 else ''} of {'teeth' if len(teeth) > 1 else 'tooth'}"
            yield Problem(
                ("wire", name, "hold"),
                f"puts the wire into the {slots} {', '.join(map(str, teeth))}, which wire.{other} fills: "
                "take that one out, tie this one, or give a tube of its own a play",
            )
