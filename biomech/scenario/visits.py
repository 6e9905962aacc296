"""What does not fit together in a course, seen visit by visit: wires that are not there, teeth that hold nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from biomech.errors import nearest
from biomech.scenario.course import Course, Rule, Visit
from biomech.scenario.problems import Problem

Held = dict[str, set[int] | None]
"""The teeth that hold each wire; None where a visit says so in a form that only its own check can read."""


def course_problems(
    course: Course, wires: Mapping[str, Any], held: Mapping[str, set[int]], teeth: tuple[int, ...]
) -> Iterator[Problem]:
    """Yield what does not fit together: absent wires and teeth, in the order of the visits.

    `wires` by name as the course starts, `held` the teeth that hold each, `teeth` those of the arch.
    """
    there: Held = {name: set(held.get(name, ())) for name in wires}
    known, met = list(wires), set()
    for i, visit in enumerate(course.visit):
        for problem in _visit_problems(visit, there, teeth):
            yield Problem(("visit", i, *problem.path), problem.text, problem.value)
        known += [name for name in visit.wire if name not in known]
        met |= set(there)
    for i, rule in enumerate(course.rule):
        for problem in _rule_problems(rule, known, met, teeth, bool(course.visit)):
            yield Problem(("rule", i, *problem.path), problem.text, problem.value)
    yield from _absent(("bone",), course.bone, teeth)


def _rule_problems(
    rule: Rule, known: Iterable[str], met: set[str], teeth: tuple[int, ...], visits: bool
) -> Iterator[Problem]:
    """Yield the problems of a rule; `met`: the wires that are in the mouth after at least one of the visits."""
    absent = list(_absent(("teeth",), rule.teeth, teeth))
    yield from absent
    named = [(("ease", name), name) for name in rule.ease] + ([(("wire",), rule.wire)] if rule.wire else [])
    for path, name in named:
        if name not in known:
            text = f"names wire '{name}', which is never there; wires: {_listed(known)}.{nearest(name, known)}"
            yield Problem(path, text)
        elif visits and name not in met:
            yield Problem(path, f"names wire '{name}', which is out at every visit, when rules are looked at")
    if not visits and not absent and all(name in known for _, name in named):
        yield Problem((), "is never looked at: rules act in visits, and the course has no [[course.visit]]")


def _visit_problems(visit: Visit, there: Held, teeth: tuple[int, ...]) -> Iterator[Problem]:
    """Yield the problems of one visit; `there`, the wires and who holds them, is brought up to date."""
    yield from _out_and_in(visit, there, teeth)
    keys = ("reactivate", "torque", "hold", "release")
    absent = [(key, name) for key in keys for name in getattr(visit, key) if name not in there]
    for key, name in absent:
        if name in visit.remove:
            yield Problem((key, name), f"is for wire '{name}', which `remove` of this visit takes out first")
        else:
            yield Problem((key, name), _no_wire("names", name, there))
    for key in ("torque", "hold", "release"):
        for name in (name for name, entry in getattr(visit, key).items() if not entry):
            yield Problem((key, name), "is empty: say at which teeth, or leave it out")
    for name, adds in visit.torque.items():
        yield from _absent(("torque", name), adds, teeth)
    if not absent:
        yield from _hold_problems(visit, there, teeth)


def _out_and_in(visit: Visit, there: Held, teeth: tuple[int, ...]) -> Iterator[Problem]:
    """Yield what is wrong with wires taken out, renewed and put in."""
    for name in visit.remove:
        if name not in there:
            yield Problem(("remove",), _no_wire("takes out", name, there))
        there.pop(name, None)
    for name in visit.renew:
        if name in visit.remove:
            text = f"names wire '{name}', which `remove` of this visit takes out: say one of the two"
            yield Problem(("renew",), text)
        elif name not in there:
            yield Problem(("renew",), _no_wire("names", name, there))
    for name, table in visit.wire.items():
        there[name] = _holding(table, there.get(name, set()), teeth)


def _hold_problems(visit: Visit, there: Held, teeth: tuple[int, ...]) -> Iterator[Problem]:
    """Yield what is wrong with the holds added and let go at a visit."""
    added: dict[str, set[int]] = {}
    for name, holds in visit.hold.items():
        added[name] = {n for hold in holds for n in (teeth if hold.teeth == "all" else hold.teeth or ())}
        yield from _absent(("hold", name), sorted(added[name]), teeth)
        there[name] = None if there.get(name) is None else (there[name] or set()) | added[name]
    for name, numbers in visit.release.items():
        held = there.get(name)
        again = [n for n in numbers if n in added.get(name, ())]
        free = [n for n in numbers if held is not None and n not in held]
        if again:
            text = f"names {_listed(again)}, where `hold` of this visit ties it anew: that alone replaces a hold"
            yield Problem(("release", name), text)
        elif free:
            which = f"tooth {free[0]}, which does" if len(free) == 1 else f"teeth {_listed(free)}, which do"
            by = _listed(t for t in teeth if t in (held or ())) or "no tooth"
            yield Problem(("release", name), f"names {which} not hold this wire then; held by {by}")
        there[name] = None if held is None else held - set(numbers)


def _holding(table: Mapping[str, Any], before: set[int] | None, teeth: tuple[int, ...]) -> set[int] | None:
    """Return who holds a wire after the keys of `table` (as read, not yet checked) have changed it."""
    if "hold" not in table:
        return before
    try:
        named = [teeth if hold.get("teeth") == "all" else hold.get("teeth", ()) for hold in table["hold"]]
        return {int(n) for numbers in named for n in numbers}
    except (AttributeError, TypeError, ValueError):
        return None


def _no_wire(does: str, name: str, there: Mapping[str, Any]) -> str:
    return f"{does} wire '{name}', which is not there; wires then: {_listed(there) or 'none'}.{nearest(name, there)}"


def _absent(path: tuple[str | int, ...], numbers: Iterable[int], teeth: tuple[int, ...]) -> Iterator[Problem]:
    for number in numbers:
        if number not in teeth:
            yield Problem(path, f"names tooth {number}, which is not in arch.teeth: {_listed(teeth)}")


def _listed(names: Iterable[Any]) -> str:
    return ", ".join(str(name) for name in names)
