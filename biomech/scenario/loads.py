"""Loads on teeth, the solver's settings, and what a scenario expects of its result."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field, FiniteFloat, StrictBool, StrictInt, model_validator

from biomech.scenario import quantities as q
from biomech.scenario.parts import Part
from biomech.scenario.problems import Problem, refuse

Amount = Annotated[float | None, q.Quantity("force", "0 N", "200 N")]
_OPPOSITE = (
    ("mesial", ("mesial",), ("distal",)),
    ("buccal", ("buccal", "labial"), ("lingual", "palatal")),
    ("occlusal", ("occlusal", "incisal"), ("gingival", "apical")),
)


class ForceVector(Part):
    """A force by its parts in anatomical directions; each amount is positive, the key says which way."""

    mesial: Amount = Field(default=None, description="part towards the midline along the arch")
    distal: Amount = Field(default=None, description="part away from the midline along the arch")
    buccal: Amount = Field(default=None, description="part outward")
    labial: Amount = Field(default=None, description="the same as buccal")
    lingual: Amount = Field(default=None, description="part inward")
    palatal: Amount = Field(default=None, description="the same as lingual")
    occlusal: Amount = Field(default=None, description="part out of the socket")
    incisal: Amount = Field(default=None, description="the same as occlusal")
    gingival: Amount = Field(default=None, description="part into the socket")
    apical: Amount = Field(default=None, description="the same as gingival")

    @model_validator(mode="after")
    def _check(self) -> ForceVector:
        found = []
        for _, ahead, back in _OPPOSITE:
            given = [key for key in (*ahead, *back) if getattr(self, key) is not None]
            if len(given) > 1:
                found.append(Problem((given[1],), f"cannot be given together with {given[0]}"))
        refuse(found)
        return self

    @property
    def anatomical(self) -> tuple[float, float, float]:
        """The force (mesial, buccal, occlusal), N; negative parts point distal, lingual, gingival."""
        parts = []
        for _, ahead, back in _OPPOSITE:
            plus = sum(getattr(self, key) or 0.0 for key in ahead)
            parts.append(plus - sum(getattr(self, key) or 0.0 for key in back))
        return parts[0], parts[1], parts[2]


class MomentVector(Part):
    """A couple by its parts, each named by the movement it causes."""

    torque: Annotated[float, q.Quantity("moment", "-1000 N.mm", "1000 N.mm", q.ROOT)] = q.stated(
        "0 N.mm", "stored N.mm, positive: turns the root buccal (labial), the crown lingual"
    )
    tip: Annotated[float, q.Quantity("moment", "-1000 N.mm", "1000 N.mm", q.TIP)] = q.stated(
        "0 N.mm", "stored N.mm, positive: tips the crown mesial"
    )
    rotation: Annotated[float, q.Quantity("moment", "-1000 N.mm", "1000 N.mm", q.ROTATION)] = q.stated(
        "0 N.mm", "stored N.mm, positive: turns the mesial side out"
    )


class Force(Part):
    """A force and a couple on one tooth, besides what the wires do."""

    tooth: q.ToothNumber = Field(description="the tooth loaded (ISO 3950)")
    at: Literal["bracket", "edge", "centre of resistance", "crest", "apex"] = q.stated(
        "bracket", "point of the tooth at which the force acts"
    )
    force: ForceVector = q.stated({}, 'table like {buccal = "1 N"}')
    moment: MomentVector = q.stated({}, 'table like {torque = "5 N.mm buccal root"}')
    follows: Literal["tooth", "space"] = q.stated(
        "space", 'whether the load turns with the tooth ("tooth") or keeps its direction ("space")'
    )

    @model_validator(mode="after")
    def _check(self) -> Force:
        couple = (self.moment.torque, self.moment.tip, self.moment.rotation)
        if not any((*self.force.anatomical, *couple)):
            refuse([Problem(("force",), "is missing or zero: give a force or a moment")])
        return self


class Solve(Part):
    """Settings of the solver."""

    tolerance: FiniteFloat = Field(
        default=1e-9, gt=1e-14, le=1e-3, description="largest relative residual accepted"
    )
    max_halvings: StrictInt = Field(default=8, ge=0, le=30, description="how often a load step may be halved")
    refinement: StrictBool = Field(
        default=False, description="solve again on a mesh twice as fine for an error estimate"
    )


class Expect(Part):
    """A claim about the result: bounds on one number of result.json, and why it must hold."""

    output: str = Field(pattern=r"^[^\s.]+(\.[^\s.]+)*$", description="dotted path into result.json")
    min: FiniteFloat | None = Field(default=None, description="smallest value allowed")
    max: FiniteFloat | None = Field(default=None, description="largest value allowed")
    near: FiniteFloat | None = Field(default=None, description="value expected, within `within`")
    within: FiniteFloat | None = Field(default=None, gt=0.0, description="allowed distance from `near`")
    why: str = Field(min_length=1, description="the reason, and the source with how far it was seen")

    @model_validator(mode="after")
    def _check(self) -> Expect:
        found = []
        if self.min is None and self.max is None and self.near is None:
            found.append(Problem(("min",), "is missing: give min, max, or near with within"))
        if (self.near is None) != (self.within is None):
            found.append(Problem(("within",), "is needed with near, and only there"))
        if self.min is not None and self.max is not None and self.min > self.max:
            found.append(Problem(("min",), f"is above max = {self.max:g}"))
        refuse(found)
        return self

    def holds(self, value: float) -> bool:
        """Return whether `value` keeps all the bounds (never for a value that is not a number)."""
        return (
            (self.min is None or value >= self.min)
            and (self.max is None or value <= self.max)
            and (self.near is None or self.within is None or abs(value - self.near) <= self.within)
            and not math.isnan(value)
        )
