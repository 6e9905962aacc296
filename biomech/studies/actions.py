"""What is done to the wires at a visit: a scenario before, a scenario after, and a line of text for each action."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from biomech.errors import InputError, nearest
from biomech.scenario import Action, Course, Rule, Scenario
from biomech.scenario.loader import merge
from biomech.scenario.problems import Problem, dotted
from biomech.scenario.problems import written as as_written
from biomech.studies.action_words import changed, hold_line, put_in, teeth_list
from biomech.studies.activation import no_torque, twisted, widened
from biomech.studies.rules import Done, obeyed, rule_problems

NEEDED = ("section", "alloy", "hold")
"""Keys that a wire cannot do without, whatever its section."""


def without_course(scenario: Scenario) -> Scenario:
    """Return the scenario as it stands on one day: without its course and expectations."""
    document = scenario.document
    return Scenario.parse({k: v for k, v in document.items() if k not in ("course", "expect")})


def rehearsed(scenario: Scenario, course: Course) -> list[Scenario]:
    """Return the scenario as each visit would leave it, were there no rules; nothing moves.

    Raises InputError for a visit that cannot be done, and for a rule that could act at none of them.
    """
    now, left = without_course(scenario), []
    for i, visit in enumerate(course.visit):
        name = f"course.visit[{i + 1}]"
        before, written = now, scenario.document["course"]["visit"][i]
        now = act(now, visit, written, name).scenario
        _fit(before, now, written, name)
        left.append(now)
    problems = [line for i, rule in enumerate(course.rule) for line in rule_problems(rule, i, left)]
    if problems:
        raise InputError("\n".join(problems))
    _with_rules(scenario, course)
    return left


def _with_rules(scenario: Scenario, course: Course) -> None:
    """Act out the visits once more, every rule acting at each: what it puts in may be more than a later visit bears."""
    now, always = without_course(scenario), dict.fromkeys(scenario.arch.teeth, math.inf)
    for i, visit in enumerate(course.visit if course.rule else ()):
        try:
            now = act(now, visit, scenario.document["course"]["visit"][i], f"course.visit[{i + 1}]").scenario
            now = follow(now, course.rule, always).scenario
        except InputError as error:
            lines = str(error).split("\n")
            raise InputError("\n".join(f"{line} (where the rules act at every visit)" for line in lines)) from None


def _fit(before: Scenario, now: Scenario, written: Mapping[str, Any], name: str) -> None:
    """Lay out the wires that a visit changed, so that bends and holds that do not fit are found.

    Where more than widening and torque changed, the appliance is built, which also finds what an alloy cannot do.
    """
    new = [wire for wire, model in now.wire.items() if model != before.wire.get(wire)]
    if not new:
        return
    from biomech.appliance import build
    from biomech.appliance.teeth import set_up_teeth
    from biomech.appliance.wires import lay_out

    teeth = set_up_teeth(now)
    try:
        for wire in new:
            lay_out(wire, now, teeth.curve, teeth.placed, 1)
        if "wire" in written:
            build(now)
    except InputError as error:
        raise InputError("\n".join(f"{name}, with {_and(new)}: {line}" for line in str(error).split("\n"))) from None


def _and(wires: Sequence[str]) -> str:
    return " and ".join(f"wire '{wire}'" for wire in wires)


def act(scenario: Scenario, action: Action, written: Mapping[str, Any], name: str) -> Done:
    """Return the scenario after `action`, in the order: removal, new wires and keys, holds, widening, torque.

    `written` is the action's table as read (texts with units); `name` stands in front of error messages. Where nothing
    comes of it the scenario is the one given. Raises InputError for what cannot be done.
    """
    document = scenario.document
    wires: dict[str, Any] = document.get("wire", {})
    taken = {wire: wires.pop(wire) for wire in action.remove}
    lines = [f"wire '{wire}' taken out" for wire in taken]
    before = dict(wires)
    _put_in(wires, taken, action.renew, written, name)
    for wire, holds in written.get("hold", {}).items():
        wires[wire]["hold"] = [*wires[wire].get("hold", []), *holds]
    for wire, teeth in action.release.items():
        wires[wire]["hold"] = _released(wires[wire].get("hold", []), teeth, scenario.arch.teeth)
    if taken and not wires and not scenario.force:
        raise InputError(
            f"{name}.remove = {as_written(written['remove'])} takes out the last wire, and there is no [[force]]: "
            "nothing moves then. Let the course end there (course.duration), or put another wire in"
        )
    now = _parsed(document, name, written, taken)  # what is no wire is refused here, before it is put into words
    lines += _said(before, wires, action, written)
    for wire, by in action.reactivate.items():
        where = f"{name}.reactivate.{wire} = {as_written(written['reactivate'][wire])}"
        lines.append(widened(now, wires, wire, (by, by), where))
    for wire, adds in action.torque.items():
        lines += _torqued(now, wires, wire, adds, _Torque(name, wire, written["torque"][wire]))
    after = _parsed(document, name, written, taken)
    return Done(after if after.wire != scenario.wire else scenario, tuple(lines))


def follow(scenario: Scenario, rules: Sequence[Rule], leads: Mapping[int, float]) -> Done:
    """Return the scenario after the rules have acted; `leads` by tooth: how far its crown leads its root, mm."""
    lines: list[str] = []
    for i, rule in enumerate(rules):
        leading = [n for n in rule.teeth if leads[n] > rule.lead]
        if not leading:
            continue
        why = ", ".join(f"{n} by {leads[n]:.2f} mm" for n in leading)
        document = scenario.document
        said = obeyed(scenario, document.get("wire", {}), rule, leading)
        scenario = _parsed(document, f"course.rule[{i + 1}]", {}, {})
        lines.append(f"rule: crown leads root at {why} (more than {rule.lead:g} mm): {'; '.join(said)}")
    return Done(scenario, tuple(lines))


def _put_in(
    wires: dict[str, Any], taken: Mapping[str, Any], renew: Sequence[str], written: Mapping[str, Any], name: str
) -> None:
    """Put in new wires and change keys of others; `taken`: the tables of those taken out before."""
    for wire in renew:
        wires[wire] = {**wires[wire], "piece": wires[wire].get("piece", 1) + 1}
    for wire, table in written.get("wire", {}).items():
        if wire not in wires:
            _refuse_half(wire, table, [*wires], wire in taken, name)
        empty = [key for key, value in table.items() if isinstance(value, Mapping) and not value and wire in wires]
        if empty:
            raise InputError(
                f"{name}.{dotted(('wire', wire, empty[0]))} = {{}} changes nothing: a table is merged key by key. "
                "To be rid of what is there, say what takes its place, such as 0 deg or 0 mm"
            )
        wires[wire] = merge(_kept(wires.get(wire, {}), table), table)
        if wire in taken:
            wires[wire].setdefault("piece", taken[wire].get("piece", 1) + 1)


def _refuse_half(wire: str, table: Mapping[str, Any], there: Sequence[str], taken: bool, name: str) -> None:
    """Raise InputError for a wire that is not there and is not given whole."""
    missing = [key for key in NEEDED if key not in table]
    if not missing:
        return
    hint = (
        f'the old one is taken out by `remove`; for one made like it: renew = ["{wire}"] instead'
        if taken
        else f"wires then: {', '.join(there) or 'none'}.{nearest(wire, there)}"
    )
    raise InputError(
        f"{name}.{Problem(('wire', wire), '', table).line()} puts in a new wire without {', '.join(missing)}: "
        f"a wire that is not there then needs all its keys; {hint}"
    )


class _Torque(NamedTuple):
    """Torque added at a visit, for messages: where the table stands, and what is written in it."""

    visit: str
    wire: str
    table: Mapping[Any, Any]

    def at(self, tooth: int) -> str:
        """Return key and value at a tooth as they stand in the file."""
        text = next(value for key, value in self.table.items() if str(key) == str(tooth))
        return f"{self.visit}.torque.{self.wire}.{tooth} = {as_written(text)}"


def _torqued(
    scenario: Scenario, wires: dict[str, Any], wire: str, adds: Mapping[int, float], told: _Torque
) -> list[str]:
    """Add torque at a visit; InputError, a line for each tooth at which it could not act."""
    reasons = {tooth: reason for tooth in adds if (reason := no_torque(scenario, wire, tooth))}
    lines = {reason: f"{told.at(tooth)} cannot act: {reason}" for tooth, reason in reversed(reasons.items())}
    if lines:
        raise InputError("\n".join(reversed(lines.values())))
    return twisted(scenario, wires, wire, adds, told.at)


def _parsed(document: Mapping[str, Any], name: str, written: Mapping[str, Any], taken: Mapping[str, Any]) -> Scenario:
    """Return the scenario of a document; what is wrong is said of the key of the visit, where one stands for it."""
    found: list[Problem] = []

    def keep(problem: Problem) -> str:
        found.append(problem)
        return ""

    try:
        return Scenario.parse(document, keep)
    except InputError:
        raise InputError("\n".join(_line(problem, name, written) for problem in found)) from None


def _line(problem: Problem, name: str, written: Mapping[str, Any]) -> str:
    wire = problem.path[1] if problem.path[:1] == ("wire",) and len(problem.path) > 1 else None
    if wire in written.get("release", {}) and problem.path[2:] == ("hold",):
        text = f"lets go too much: hold {problem.text}; to take the wire out: remove = [\"{wire}\"]"
        problem = Problem(("release", str(wire)), text, written["release"][wire])
    elif wire in written.get("hold", {}) and problem.path[2:] == ("hold",):
        problem = Problem(("hold", str(wire)), problem.text, written["hold"][wire])
    elif not set(problem.path[2:3]) <= set(written.get("wire", {}).get(wire, ())):
        return f"{name}: then {problem.line()}"
    return f"{name}.{problem.line()}"


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
    before: Mapping[str, Any], wires: Mapping[str, Any], action: Action, written: Mapping[str, Any]
) -> Iterator[str]:
    """Yield in words what wires are put in or changed, how they are held from now on, and where they are let go.

    `before`: the tables of the wires that were not taken out; `wires`: as they are now.
    """
    tables = written.get("wire", {})
    for wire in action.renew:
        yield put_in(wire, wires[wire], anew=True)
    for wire, table in tables.items():
        if wire not in before:
            yield put_in(wire, {key: wires[wire][key] for key in table})
        elif wire not in action.renew:
            yield from changed(wire, before[wire], {key: wires[wire][key] for key in table})
    for wire, holds in written.get("hold", {}).items():
        yield from (hold_line(wire, hold) for hold in holds)
    for wire, teeth in action.release.items():
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
