"""A tooth's shape from a surface file: where the file is and where things are in it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, PlainValidator, StrictBool, WithJsonSchema, model_validator

from biomech.errors import InputError
from biomech.scenario import quantities as q
from biomech.scenario.problems import Problem, refuse
from biomech.scenario.table import Part

_POINT = {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3}
Place = tuple[float, float, float]


def _place(value: Any) -> Place:
    numbers = isinstance(value, (list, tuple)) and len(value) == 3 and all(map(_is_number, value))
    if not numbers:
        raise InputError("must be three numbers [x, y, z], coordinates of the file without a unit")
    return float(value[0]), float(value[1]), float(value[2])


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < 1e12


def _line(value: Any) -> Place | tuple[Place, Place]:
    if isinstance(value, (list, tuple)) and len(value) == 2:
        return _place(value[0]), _place(value[1])
    try:
        return _place(value)
    except InputError:
        raise InputError(
            "must be a direction [x, y, z] from crown to apex, or two points on the axis, the occlusal one first"
        ) from None


def _places(value: Any) -> tuple[Place, ...]:
    return tuple(_place(point) for point in q.listed(value))


FilePoint = Annotated[Place, PlainValidator(_place), WithJsonSchema(_POINT)]
FileLine = Annotated[
    Place | tuple[Place, Place],
    PlainValidator(_line),
    WithJsonSchema({"anyOf": [_POINT, {"type": "array", "items": _POINT, "minItems": 2, "maxItems": 2}]}),
]
FileCurve = Annotated[
    tuple[Place, ...], PlainValidator(_places), WithJsonSchema({"type": "array", "items": _POINT, "minItems": 4})
]


class Crest(Part):
    """Where the bone crest lies in the file: a plane, a curve, or a level measured below a point."""

    point: FilePoint | None = Field(
        default=None, description="a point of the crest's plane, or the point the crest is measured from (below)"
    )
    normal: FilePoint | None = Field(
        default=None, description="normal of the crest's plane; left out: the plane lies across the long axis"
    )
    curve: FileCurve = Field(default=(), description="at least four points around the tooth, in order")
    below: Annotated[float | None, q.length("0 mm", "15 mm")] = Field(
        default=None, description="from the point (the junction, say) to the crest, along the long axis"
    )

    @model_validator(mode="after")
    def _check(self) -> Crest:
        found = []
        if bool(self.curve) == (self.point is not None):
            found.append(Problem((), "must have either a point (with normal or below) or a curve"))
        if self.normal is not None and self.below is not None:
            found.append(Problem(("normal",), "has no meaning together with below"))
        if self.curve and (self.normal is not None or self.below is not None):
            found.append(Problem(("curve",), "needs neither normal nor below"))
        if self.curve and len(self.curve) < 4:
            found.append(Problem(("curve",), "must hold at least four points around the tooth"))
        refuse(found)
        return self


class ToothMesh(Part):
    """The surface of one tooth in a file. Points and directions are coordinates of the file, in its unit."""

    file: str = Field(
        min_length=1, description="surface file (STL, PLY, OBJ, VTK, VTP, MSH), seen from this file's folder"
    )
    unit: Literal["mm", "cm", "m", "um", "in"] = Field(description="unit of the file's coordinates")
    long_axis: FileLine | None = Field(
        default=None,
        description="direction from crown to apex, or two points on the axis, the occlusal one first; left out: the "
        "axis about which the tooth's volume turns most easily",
    )
    buccal: FilePoint | None = Field(default=None, description="buccal direction; left out: that of the bracket")
    bracket: FilePoint | None = Field(
        default=None, description="middle of the bracket's base; left out: amid the buccal side at the usual height"
    )
    cej: FilePoint | None = Field(
        default=None,
        description="a point of the cemento-enamel junction; left out: at the crown's usual share of the length",
    )
    crest: Crest | None = Field(
        default=None, description="bone crest; left out: across the long axis, bone_level below the junction"
    )
    mirrored: StrictBool = Field(
        default=False, description="true: the file shows the same tooth of the other side, and is mirrored"
    )

    @model_validator(mode="after")
    def _check(self) -> ToothMesh:
        if self.bracket is None and self.buccal is None:
            refuse([Problem((), "needs bracket or buccal: the surface does not tell its sides")])
        return self
