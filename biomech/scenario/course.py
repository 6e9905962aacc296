"""The course of treatment of a scenario file: how fast teeth move, visits and what is done at them, rules, limits."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, FiniteFloat, model_validator

from biomech.errors import InputError
from biomech.scenario import quantities as q
from biomech.scenario.hold import Hold
from biomech.scenario.loads import Expect
from biomech.scenario.parts import Part
from biomech.scenario.problems import Problem, refuse
from biomech.scenario.wire import TorqueAngle

MONTH = 30.4375
"""Days in a month: a twelfth of 365.25."""
Shift = Annotated[float, q.length("-10 mm", "10 mm")]
KEYS = ("slope", "onset", "factor", "exponent", "time_constant", "most", "lag", "least")
STRESSES = ("onset", "least")
STOPS = ("bone", "contact", "rate", "pressure", "wire")


def _date(value: Any) -> datetime.date:
    if isinstance(value, datetime.datetime) or not isinstance(value, (str, datetime.date)):
        raise InputError("must be a date like 2025-03-31")
    if isinstance(value, str):
        try:
            return datetime.date.fromisoformat(value)
        except ValueError as error:
            why = f" ({error})" if re.fullmatch(r"\d{4}-\d\d-\d\d", value) else ""
            raise InputError(f"must be a date like 2025-03-31{why}") from None
    return value


Date = Annotated[datetime.date, BeforeValidator(_date)]


def _once(value: Any) -> Any:
    """Refuse a list that names something twice."""
    items = list(value) if isinstance(value, (list, tuple)) else []
    for item in items:
        if items.count(item) > 1:
            raise InputError(f"names {item} twice")
    return value


def _by_wire(example: str, kind: type = object) -> BeforeValidator:
    """Refuse what is no table by wire of entries of a `kind`, showing how one is written."""

    def read(value: Any) -> Any:
        if not isinstance(value, Mapping) or not all(isinstance(entry, kind) for entry in value.values()):
            raise InputError(f"must be a table by wire, like {example}")
        return value

    return BeforeValidator(read)


def _tables(name: str) -> BeforeValidator:
    """Refuse one table in the place of a list of them."""

    def read(value: Any) -> Any:
        if isinstance(value, Mapping):
            raise InputError(f"must be a list of tables: write [[course.{name}]], with two brackets, above each")
        return q.listed(value)

    return BeforeValidator(read)


Names = Annotated[tuple[str, ...], BeforeValidator(_once)]
Numbers = Annotated[tuple[q.ToothNumber, ...], BeforeValidator(_once)]


class Action(Part):
    """What may be done to the wires at a visit. Names in the tables are those of the wires.

    Done in this order: `remove`, `renew`, `wire`, `hold`, `release`, `reactivate`, `torque`.
    """

    reactivate: Annotated[dict[str, Shift], _by_wire('{overlay = "1 mm"}')] = q.stated(
        {}, "wires widened further, by so much on each side; stored mm, negative: taken back"
    )
    torque: Annotated[
        dict[str, dict[q.ToothNumber, TorqueAngle]], _by_wire('{main = {16 = "5 deg buccal root"}}', Mapping)
    ] = q.stated(
        {}, "torque added to a wire at teeth; stored rad, positive: buccal root"
    )
    wire: dict[str, dict[str, Any]] = Field(
        default={},
        description="keys of a wire that change (as in [wire.NAME]), or a new wire with all its keys. A wire changed "
        "keeps its set and memory unless section, size or alloy change; for a new one of the same kind see `renew`",
    )
    hold: Annotated[
        dict[str, tuple[Hold, ...]], _by_wire('{overlay = [{teeth = [13, 23], by = "tie"}]}', Sequence)
    ] = Field(
        default={}, description="further holds of a wire; they replace the earlier ones at the same teeth"
    )
    release: Annotated[dict[str, Numbers], _by_wire("{overlay = [15, 25]}")] = Field(
        default={}, description="teeth that no longer hold a wire"
    )
    remove: Names = Field(
        default=(),
        description="wires taken out, before anything is put in: their slots are free for another wire of this visit, "
        "and a wire put in under the name of one taken out is a new one that needs all its keys",
    )
    renew: Names = Field(
        default=(),
        description="wires replaced by a new one made alike (widening, torque and bends of earlier visits included; "
        "keys under `wire` change it): what the old one kept, its set or memory, is gone with it",
    )


class Visit(Action):
    """One visit: when, and what is done. One without any action is an appointment to look."""

    after: Annotated[float | None, q.Quantity("time", "0 day", "20 year")] = Field(
        default=None, description="time since the start of the course"
    )
    date: Date | None = Field(default=None, description="day of the visit; needs course.start")
    note: str = q.stated("", "remark")

    @model_validator(mode="after")
    def _check(self) -> Visit:
        if (self.after is None) == (self.date is None):
            refuse([Problem(("after",), "must be given, or `date`, and not both")])
        return self


class Rule(Part):
    """At every visit: if a tooth's crown leads its root by more than `lead`, add torque and take off widening."""

    teeth: Annotated[q.Teeth, BeforeValidator(_once)] = Field(description="the teeth looked at")
    lead: Annotated[float, q.length("0 mm", "20 mm")] = Field(
        description="buccal movement of the crown less that of the apex since the start, both on the long axis, that "
        "is tolerated"
    )
    wire: str = Field(default="", description="wire that takes the torque")
    torque: TorqueAngle = q.stated("0 deg", "torque added at each tooth that leads; stored rad, positive: buccal root")
    most: Annotated[float, q.Quantity("angle", "0 deg", "60 deg")] = q.stated(
        "30 deg",
        "torque in the wire at a tooth, progressive torque included, beyond which the rule adds no more",
    )
    ease: Annotated[
        dict[str, Annotated[float, q.length("0 mm", "10 mm")]], _by_wire('{overlay = "0.5 mm"}')
    ] = q.stated(
        {}, "wires whose widening is taken back, by so much on each side that is widened, never below none"
    )

    @model_validator(mode="after")
    def _check(self) -> Rule:
        if not self.torque and not self.ease:
            refuse([Problem(("torque",), "is missing or 0 deg: give torque to add, or `ease`, or both")])
        if self.torque and not self.wire:
            refuse([Problem(("wire",), "is missing: name the wire that takes the torque")])
        if self.wire and not self.torque:
            refuse([Problem(("wire",), "is named, but there is no torque for it: give `torque` more than 0 deg")])
        return self


class Bone(Part):
    """Bone between the root's surface and the cortical boundary, at the start."""

    buccal: Annotated[float | None, q.length("0 mm", "30 mm")] = Field(default=None, description="on the buccal side")
    lingual: Annotated[float | None, q.length("0 mm", "30 mm")] = Field(
        default=None, description="on the lingual (palatal) side"
    )

    @model_validator(mode="after")
    def _check(self) -> Bone:
        if self.buccal is None and self.lingual is None:
            refuse([Problem((), "says nothing: give buccal or lingual, or both")])
        return self


class Course(Part):
    """How teeth move in time, and what is done on the way."""

    law: Annotated[str, q.Name("rate law", q.rate_laws)] = q.stated("logarithmic", "rate law of the movement")
    slope: Annotated[float | None, q.Quantity("speed", "0.0001 mm/day", "1 mm/day")] = Field(
        default=None, description="logarithmic: speed gained when the stress grows e-fold"
    )
    onset: Annotated[float | None, q.Quantity("pressure", "0.001 kPa", "100 kPa")] = Field(
        default=None, description="logarithmic, power: stress at which the law bends"
    )
    factor: Annotated[float | None, q.Quantity("speed", "0.00001 mm/day", "1 mm/day")] = Field(
        default=None, description="power: speed at 1 kPa"
    )
    exponent: FiniteFloat | None = Field(default=None, ge=0.05, le=1.0, description="power: exponent of the stress")
    time_constant: Annotated[float | None, q.Quantity("time", "0.001 day", "1000 day")] = Field(
        default=None, description="proportional: time in which a tooth moves by its own elastic displacement"
    )
    most: Annotated[float | None, q.Quantity("speed", "0.0001 mm/day", "1 mm/day")] = Field(
        default=None,
        description="upper bound on the speed of a tooth, as the law's: of the root as a whole. A crown that tips "
        "moves up to about four times as fast, one that translates about as fast",
    )
    least: Annotated[float | None, q.Quantity("pressure", "0 kPa", "20 kPa")] = Field(
        default=None,
        description="stress below which a tooth stays where it is, none unless given; the law comes in up to twice as "
        "much. No study gives it; hints lie between 0.3 and 1 kPa (Proffit 1978, Weinstein 1967: abstracts, memory)",
    )
    lag: Annotated[float | None, q.Quantity("time", "0 day", "120 day")] = Field(
        default=None, description="rest after the first loading and after every change of the wires"
    )
    start: Date | None = Field(default=None, description="first day, for visits with a date")
    duration: Annotated[float, q.Quantity("time", "1 hour", "20 year")] = Field(description="length of the course")
    tolerance: FiniteFloat | None = Field(
        default=None,
        gt=1e-9,
        le=1e-1,
        description="error allowed in one step, relative to the movement; when not given 1e-3 for an arch, which "
        "forgets most of it (teeth end within some 0.006 mm), 7e-5 for one tooth or two",
    )
    visit: Annotated[tuple[Visit, ...], _tables("visit")] = Field(default=(), description="the visits")
    rule: Annotated[tuple[Rule, ...], _tables("rule")] = Field(
        default=(), description="rules looked at in every visit, after what the visit itself does"
    )
    bone: dict[q.ToothNumber, Bone] = q.stated({}, "bone around the roots, by tooth")
    stop_at: tuple[Literal["bone", "contact", "rate", "pressure", "wire"], ...] = Field(
        default=(), description="limits that end the course when passed; the others are only reported"
    )
    expect: Annotated[tuple[Expect, ...], BeforeValidator(q.listed)] = Field(
        default=(), description="what must come of the course: `output` a dotted path into course.json"
    )

    @model_validator(mode="after")
    def _check(self) -> Course:
        refuse([*self._law_problems(), *self._time_problems()])
        return self

    @property
    def values(self) -> dict[str, float]:
        """The law's parameters given, in mm, days and kPa; what is left out is the law's own default."""
        given = {key: value for key in KEYS if (value := getattr(self, key)) is not None}
        return {key: 1e3 * value if key in STRESSES else value for key, value in given.items()}

    def day(self, visit: Visit) -> float:
        """Return when a visit is, days since the start."""
        if visit.after is not None:
            return visit.after
        assert self.start is not None and visit.date is not None
        return float((visit.date - self.start).days)

    def _law_problems(self) -> Iterator[Problem]:
        from dataclasses import fields

        from biomech.rates import REGISTRY

        known = [f.name for f in fields(REGISTRY.get(self.law))]
        for key in self.values:
            if key not in known:
                yield Problem((key,), f'has no meaning with law = "{self.law}"; its keys: {", ".join(known)}')

    def _time_problems(self) -> Iterator[Problem]:
        before, number = 0.0, 0
        for i, visit in enumerate(self.visit):
            key = "after" if visit.date is None else "date"
            if visit.date is not None and self.start is None:
                yield Problem(("visit", i, "date"), "needs course.start, the first day of the course")
                return
            day = self.day(visit)
            if day <= before:
                than = f"visit {number}, on day {before:g}" if i else "the start of the course"
                yield Problem(("visit", i, key), f"(day {day:g}) does not come after {than}")
            elif day >= self.duration:
                yield Problem(("visit", i, key), f"(day {day:g}) is not before the end, day {self.duration:g}")
            before, number = day, i + 1
