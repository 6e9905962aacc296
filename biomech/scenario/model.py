"""The whole scenario: its tables, read and checked, and how to change one."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import AfterValidator, BeforeValidator, Field, PrivateAttr, ValidationError, model_validator

from biomech.errors import InputError
from biomech.scenario import quantities as q
from biomech.scenario.checks import cross_check
from biomech.scenario.course import Course
from biomech.scenario.hold import Hold
from biomech.scenario.loads import Expect, Force, Solve
from biomech.scenario.parts import Arch, Bracket, Ligament, Part, ToothEntry, place_along
from biomech.scenario.problems import Problem, refuse, translate
from biomech.scenario.wire import Wire


class LigamentOf(NamedTuple):
    """The ligament of one tooth: its law ("rigid" for none), the values given, MPa and mm, and its model."""

    law: str
    values: dict[str, float]
    model: str = "springs"


def _wire_name(name: str) -> str:
    if not re.fullmatch(r"[A-Za-z][\w-]*", name):
        raise InputError("is no name for a wire: a letter, then letters, digits, - and _")
    return name


WireName = Annotated[str, AfterValidator(_wire_name)]


def _number_one(value: Any) -> Any:
    """Let only the number pass: to Python, true equals 1."""
    if isinstance(value, bool):
        raise InputError("is not known; allowed: 1.")
    return value


def _steps(part: str) -> list[str | int]:
    """Return a part of a dotted key as steps: "visit[2]" is the key "visit" and the place 1 in its list."""
    found = re.fullmatch(r"([^\[\]]+)\[(\d+)\]", part)
    return [part] if found is None else [found[1], int(found[2]) - 1]


def _inside(place: Any, step: str | int, key: str) -> Any:
    """Return what lies at one step of a dotted key, a new table where a table has none; InputError as in `changed`."""
    if isinstance(step, str) and isinstance(place, dict):
        return place.setdefault(step, {})
    if isinstance(step, int) and isinstance(place, list):
        if 0 <= step < len(place):
            return place[step]
        raise InputError(f"{key}: there is no [{step + 1}]; there are {len(place)}, counted from 1")
    if isinstance(place, list):
        raise InputError(f"{key}: '{step}' is asked of a list: say which one, [1] to [{len(place)}] behind its name")
    what = f"[{step + 1}]" if isinstance(step, int) else f"'{step}'"
    raise InputError(f"{key}: there is nothing in which {what} could be; replace the whole value instead")


class Scenario(Part):
    """A scenario file: an arch of teeth, wires held by them, loads. Values in N, mm, rad and MPa."""

    format: Annotated[Literal[1], BeforeValidator(_number_one)] = Field(description="format = 1")
    title: str = Field(min_length=1, description="what the case is called")
    question: str = q.stated("", "what the case is to answer")
    note: str = q.stated("", 'remarks; a demonstration says "Invented case."')
    extends: str = q.stated("", "file this one is based on, seen from this file's folder")
    arch: Arch = Field(description="table [arch] with jaw, form, width, depth and teeth")
    ligament: Ligament = q.stated({}, "periodontal ligament")
    bracket: Bracket = q.stated({}, "brackets")
    tooth: dict[q.ToothNumber, ToothEntry] = q.stated({}, "what differs at single teeth")
    temperature: Annotated[float, q.Quantity("temperature", "0 degC", "60 degC")] = q.stated(
        "36 degC", "temperature of the mouth and the wires in it; stored degC"
    )
    wire: dict[WireName, Wire] = q.stated({}, "the wires by name")
    force: Annotated[tuple[Force, ...], BeforeValidator(q.listed)] = Field(
        default=(), description="loads on teeth"
    )
    course: Course | None = Field(default=None, description="movement in time: table [course] with its duration")
    solve: Solve = q.stated({}, "settings of the solver")
    expect: Annotated[tuple[Expect, ...], BeforeValidator(q.listed)] = Field(
        default=(), description="claims about the result, checked by the tests"
    )
    _document: dict[str, Any] = PrivateAttr(default_factory=dict)

    @model_validator(mode="after")
    def _check(self) -> Scenario:
        refuse(cross_check(self))
        return self

    @classmethod
    def parse(
        cls, document: Mapping[str, Any], source: Callable[[Problem], object] = lambda _: "scenario"
    ) -> Scenario:
        """Return the scenario of a `document` as read from TOML (quantities as text).

        Raises InputError with one line for each problem, each beginning with what `source` makes of it (the
        file it comes from).
        """
        try:
            scenario = cls.model_validate(document)
        except ValidationError as error:
            lines = [f"{source(problem)}: {problem.line()}" for problem in translate(error, cls, document)]
            raise InputError("\n".join(lines)) from None
        scenario._document = copy.deepcopy(dict(document))
        return scenario

    @property
    def document(self) -> dict[str, Any]:
        """A copy of the tables as read, quantities as text, after `extends` was resolved."""
        return copy.deepcopy(self._document)

    def changed(self, changes: Mapping[str, Any]) -> Scenario:
        """Return this scenario with other values under dotted keys, e.g. {"wire.overlay.diameter": "0.9 mm"}.

        One of a list is counted from 1, "course.visit[2].reactivate.overlay", as in messages. Raises InputError for
        one that is not there, and as `parse` does.
        """
        document = self.document
        for key, value in changes.items():
            *tables, last = [step for part in key.split(".") for step in _steps(part)]
            table: Any = document
            for step in tables:
                table = _inside(table, step, key)
            _inside(table, last, key)
            table[last] = value
        return Scenario.parse(document)

    def tooth_of(self, number: int) -> ToothEntry:
        """Return what differs at the tooth `number` (all defaults when nothing was stated)."""
        return self.tooth.get(number) or ToothEntry()

    def ligament_of(self, number: int) -> LigamentOf:
        """Return law and values of the ligament of the tooth `number`: its own over the arch's.

        A tooth with a law of its own takes none of the arch's values, nor its model; a held tooth has the law "rigid".
        """
        tooth = self.tooth_of(number)
        if tooth.held:
            return LigamentOf("rigid", {})
        own, arch = tooth.ligament, self.ligament
        if own is None:
            return LigamentOf(arch.law, arch.values, arch.model or "springs")
        if own.law is not None and own.law != arch.law:
            return LigamentOf(own.law, own.values, own.model or "springs")
        return LigamentOf(arch.law, {**arch.values, **own.values}, own.model or arch.model or "springs")

    def held_by(self, wire: Wire | str) -> dict[int, Hold]:
        """Return how each tooth holds `wire`, from the patient's right to the left; the last entry counts.

        Ties between two teeth are not in it: see `Hold.between`.
        """
        wire = self.wire[wire] if isinstance(wire, str) else wire
        held: dict[int, Hold] = {}
        for hold in wire.hold:
            for number in self.arch.teeth if hold.teeth == "all" else hold.teeth or ():
                held[number] = hold
        return {number: held[number] for number in sorted(held, key=place_along)}
