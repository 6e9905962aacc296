"""How teeth hold a wire: slot, tube, tie or bonded, with what each of them needs to be told."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PlainValidator, WithJsonSchema, model_validator

from biomech.errors import InputError
from biomech.scenario import quantities as q
from biomech.scenario.parts import Part
from biomech.scenario.problems import Problem, refuse


def _teeth_or_all(value: Any) -> tuple[int, ...] | Literal["all"]:
    if value == "all":
        return "all"
    if not isinstance(value, (list, tuple)) or not value:
        raise InputError('must be a list of tooth numbers like [16, 26], or "all"')
    numbers = []
    for item in value:
        try:
            numbers.append(q.read_tooth(item))
        except InputError as error:
            raise InputError(f"lists {item!r}, which {error}") from None
    twice = sorted({n for n in numbers if numbers.count(n) > 1})
    if twice:
        raise InputError(f"lists {twice[0]} twice")
    return tuple(numbers)


def _pairs(value: Any) -> Any:
    """Refuse a pair that stands without the list of pairs."""
    if isinstance(value, (list, tuple)) and value and not any(isinstance(pair, (list, tuple)) for pair in value):
        raise InputError("must be a list of pairs of neighbouring teeth, like [[13, 14], [23, 24]]")
    return q.listed(value)


def _pair(value: Any) -> tuple[int, int]:
    teeth = _teeth_or_all(value)
    if teeth == "all" or len(teeth) != 2:
        raise InputError("must be a pair of neighbouring teeth like [13, 14]")
    return teeth[0], teeth[1]


TeethOrAll = Annotated[
    tuple[int, ...] | Literal["all"],
    PlainValidator(_teeth_or_all),
    WithJsonSchema({"anyOf": [{"type": "array", "items": {"enum": list(q.TEETH)}}, {"const": "all"}]}),
]
Pair = Annotated[
    tuple[int, int],
    PlainValidator(_pair),
    WithJsonSchema({"type": "array", "items": {"enum": list(q.TEETH)}, "minItems": 2, "maxItems": 2}),
]


class Hold(Part):
    """How some teeth hold the wire. A later hold replaces an earlier one at the same tooth."""

    teeth: TeethOrAll | None = Field(default=None, description='the teeth, or "all" teeth of the arch')
    between: Annotated[tuple[Pair, ...], BeforeValidator(_pairs)] = Field(
        default=(), description="for a tie: pairs of neighbouring teeth, tied at the point between them"
    )
    by: Annotated[str, q.Name("hold", q.holds)] = Field(description='"slot", "tube", "tie" or "bonded"')
    ligature: Literal["steel", "elastomeric", "clip", "none"] | None = Field(
        default=None, description="slot: what seats the wire; elastomeric unless stated"
    )
    slides: Literal["free", "friction", "tied back"] | None = Field(
        default=None, description="slot, tube: whether the wire slides along it; free unless stated"
    )
    friction: float | None = Field(
        default=None, gt=0.0, le=2.0, description='coefficient for slides = "friction"'
    )
    width: Annotated[float | None, q.length("0.5 mm", "10 mm")] = Field(
        default=None, description="mesiodistal width of this slot or tube instead of the bracket's"
    )
    clearance: Annotated[float | None, q.length("0 mm", "1 mm")] = Field(
        default=None,
        description="slot, rectangular tube: slot height less wire height, instead of the bracket's",
    )
    play: q.Play | None = Field(
        default=None,
        description='tube fitted to the wire: diametral play, "none" (stored 0) holds rotation tightly',
    )
    material: Literal["steel", "elastomeric"] | None = Field(
        default=None, description="tie: steel unless stated"
    )
    stiffness: Annotated[float | None, q.Quantity("stiffness", "0.01 N/mm", "100000 N/mm")] = Field(
        default=None, description="tie: stiffness instead of the material's"
    )
    slack: Annotated[float | None, q.length("0 mm", "5 mm")] = Field(
        default=None, description="tie: distance it leaves free before it pulls; 0 unless stated"
    )

    @model_validator(mode="after")
    def _check(self) -> Hold:
        refuse(self._problems())
        return self

    def _problems(self) -> list[Problem]:
        found = [
            Problem(
                (key,), f'has no meaning with by = "{self.by}"; its keys: {", ".join(_HOLD_KEYS[self.by])}'
            )
            for key in self.model_fields_set
            - {"teeth", "by"}
            - set(_HOLD_KEYS.get(self.by, self.model_fields_set))
        ]
        if (self.teeth is None) == (not self.between):
            found.append(
                Problem(("teeth",), "must be given, or `between` for a tie between teeth, and not both")
            )
        if (self.slides == "friction") != (self.friction is not None):
            found.append(Problem(("friction",), 'is needed with slides = "friction", and only there'))
        if self.play is not None and self.clearance is not None:
            found.append(Problem(("clearance",), "cannot be given together with play"))
        return found


_HOLD_KEYS = {
    "slot": ("ligature", "slides", "friction", "width", "clearance"),
    "tube": ("slides", "friction", "width", "clearance", "play"),
    "tie": ("between", "material", "stiffness", "slack"),
    "bonded": (),
}
