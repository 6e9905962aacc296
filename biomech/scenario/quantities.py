"""Types of scenario values: quantities with a plausible range, directions in words, tooth numbers, names.

Each is put into an `Annotated` type of a model. Text goes in, a float in the inside unit (mm, rad, N, N.mm,
MPa, N/mm) comes out; what is wrong is said in one sentence that the error translation sets behind the key.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, get_args

from pydantic import (
    BeforeValidator,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    PlainValidator,
    WithJsonSchema,
)
from pydantic_core import CoreSchema, core_schema

from biomech import units
from biomech.errors import InputError, nearest
from biomech.tooth.anatomy import NUMBERS as TEETH

FACING = {"buccal": 1, "labial": 1, "lingual": -1, "palatal": -1}
UPWARD = {"occlusal": 1, "incisal": 1, "gingival": -1, "apical": -1}
ROOT = {f"{side} root": sign for side, sign in FACING.items()}
CROWN = {f"{side} crown": sign for side, sign in FACING.items()}
TIP = {"mesial crown": 1, "distal crown": -1}
ROTATION = {"mesial out": 1, "mesial in": -1, "distal in": 1, "distal out": -1}


@dataclass(frozen=True)
class Quantity:
    """A quantity of `kind` (units.KINDS) between `low` and `high`, inclusive, both texts with units.

    With `words` (direction -> sign) the text ends in a direction, which gives the stored float its sign; the
    amount itself must then not be negative. `bare` is the sign of a text without direction: 0 refuses it
    (an amount of zero needs none), 1 lets the sign of the number stand.
    """

    kind: str
    low: str
    high: str
    words: Mapping[str, int] = field(default_factory=dict)
    bare: int = 0

    def read(self, text: Any) -> float:
        """Return `text` as a float in the inside unit; raise ValueError saying what is allowed."""
        directed = isinstance(text, str) and bool(self.words)
        value = self._directed(text) if directed else units.read(self.kind, text)
        low, high = units.read(self.kind, self.low), units.read(self.kind, self.high)
        slack = 1e-12 * max(abs(low), abs(high))
        if not low - slack <= value <= high + slack:
            raise InputError(f"must be from {self.low} to {self.high}")
        return value + 0.0  # no negative zero

    def _directed(self, text: str) -> float:
        number, rest = units.split(self.kind, text)
        unit, _, word = rest.partition(" ")
        word = " ".join(word.split())
        amount = number * units.factor(self.kind, unit)
        allowed = " or ".join(f"'{w}'" for w in self.words)
        if not word:
            if self.bare == 0 and amount != 0.0:
                raise InputError(f"does not say which way: add {allowed}")
            return amount * (self.bare or 1)
        if word not in self.words:
            raise InputError(
                f"has the unknown direction '{word}'; allowed: {allowed}.{nearest(word, self.words)}"
            )
        if number < 0:
            raise InputError(f"is negative and has a direction: give a positive amount and one of {allowed}")
        return amount * self.words[word]

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return _nullable(source, self.read)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        names = "|".join(re.escape(unit) for unit in units.KINDS[self.kind].units)
        ways = f"( ({'|'.join(self.words)}))?" if self.words else ""
        text = f"{self.kind} with unit, from {self.low} to {self.high}"
        text += f"; direction: {', '.join(self.words)}" if self.words else ""
        number = r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?"
        return {"type": "string", "pattern": rf"^\s*{number}\s*({names}){ways}\s*$", "description": text}


def _nullable(source: Any, read: Callable[[Any], Any]) -> CoreSchema:
    """Return a schema that reads with `read`; None passes where the annotation allows it."""
    plain = core_schema.no_info_plain_validator_function(read)
    return core_schema.nullable_schema(plain) if type(None) in get_args(source) else plain


def length(low: str, high: str) -> Quantity:
    """Return the type of a length, stored in mm."""
    return Quantity("length", low, high)


def angle(limit: str, words: Mapping[str, int]) -> Quantity:
    """Return the type of a directed angle up to `limit` either way, stored in rad with the words' sign."""
    return Quantity("angle", f"-{limit}", limit, words)


def offset(limit: str, words: Mapping[str, int], bare: int) -> Quantity:
    """Return the type of a directed length up to `limit` either way, stored in mm with the words' sign."""
    return Quantity("length", f"-{limit}", limit, words, bare)


def read_tooth(value: Any) -> int:
    """Return `value` as a tooth number; raise ValueError naming the allowed ones."""
    text = str(value)
    if not isinstance(value, bool) and re.fullmatch(r"\d\d", text) and int(text) in TEETH:
        return int(text)
    raise InputError(f"is no tooth number; allowed (ISO 3950): 11-17, 21-27, 31-37, 41-47.{_meant(text)}")


def _meant(text: str) -> str:
    """Say what to do about a wisdom tooth, a milk tooth or a slip of the finger."""
    if re.fullmatch(r"[1-4]8", text):
        return " Third molars are not modelled."
    if re.fullmatch(r"[5-8][1-5]", text):
        return " Deciduous teeth are not modelled."
    return nearest(text, [str(n) for n in TEETH])


ToothNumber = Annotated[
    int,
    PlainValidator(read_tooth),
    WithJsonSchema({"type": "integer", "enum": list(TEETH), "description": "ISO 3950"}),
]


def _fraction(value: Any) -> float:
    if isinstance(value, str) and (found := re.fullmatch(r"\s*([\d.eE+-]+)\s*%\s*", value)):
        value = _number(found[1]) / 100
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0.0 < value <= 1.0:
        raise InputError('must be a share above 0 and up to 1, written 0.07 or "7 %"')
    return float(value)


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise InputError('must be a share above 0 and up to 1, written 0.07 or "7 %"') from None


Share = Annotated[
    float,
    PlainValidator(_fraction),
    WithJsonSchema({"type": ["number", "string"], "description": '0.07 or "7 %"'}),
]


def _play(value: Any) -> float:
    """Return 0.0 for "none", else a length in mm."""
    return 0.0 if value == "none" else length("0 mm", "1 mm").read(value)


Play = Annotated[
    float,
    PlainValidator(_play),
    WithJsonSchema({"type": "string", "description": '"none" or a length up to 1 mm'}),
]


@dataclass(frozen=True)
class Name:
    """A name out of a family: `family` for messages, `known` returns the allowed names when asked.

    `known` is called on validation only, so that a new file in a family is picked up without a change here.
    """

    family: str
    known: Callable[[], list[str]]

    def read(self, value: Any) -> str:
        """Return `value` when it is known; raise ValueError naming the known ones and the nearest."""
        names = self.known()
        if isinstance(value, str) and value in names:
            return value
        listed = ", ".join(f"'{name}'" for name in names)
        raise InputError(f"is no known {self.family}; allowed: {listed}.{nearest(str(value), names)}")

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return _nullable(source, self.read)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"type": "string", "enum": self.known()}


def alloys() -> list[str]:
    """Return the names of the alloys."""
    from biomech.alloys import REGISTRY

    return REGISTRY.names()


def ligament_laws() -> list[str]:
    """Return the names of the ligament laws, and "rigid"."""
    from biomech.ligaments import REGISTRY

    return [*REGISTRY.names(), "rigid"]


def ligament_models() -> list[str]:
    """Return the names of the models of a ligament."""
    from biomech.ligaments import MODELS

    return list(MODELS)


def rate_laws() -> list[str]:
    """Return the names of the rate laws of movement in time."""
    from biomech.rates import REGISTRY

    return REGISTRY.names()


def holds() -> list[str]:
    """Return the names of the ways a tooth holds a wire."""
    from biomech.attachments import REGISTRY

    return REGISTRY.names()


def arch_forms() -> list[str]:
    """Return the names of the arch forms, and "points"."""
    from biomech.archform import KINDS

    return [*KINDS, "points"]


def wire_shapes() -> list[str]:
    """Return the names of the stress-free shapes of a wire."""
    return ["bracket line", *arch_forms()]


def prescriptions() -> list[str]:
    """Return the names of the torque prescriptions."""
    from biomech.prescriptions import REGISTRY

    return REGISTRY.names()


def profiles() -> list[str]:
    """Return the names of the ways a widening is shared along the arch."""
    from biomech.archform import PROFILES

    return list(PROFILES)


def _point(value: Any) -> tuple[float, float]:
    if not isinstance(value, (list, tuple)) or len(value) != 2:
        raise InputError('must be a pair of lengths, like ["-25 mm", "0 mm"]')
    kind = length("-100 mm", "100 mm")
    return kind.read(value[0]), kind.read(value[1])


Point = Annotated[
    tuple[float, float],
    PlainValidator(_point),
    WithJsonSchema({"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2}),
]


def stated(default: Any, description: str) -> Any:
    """Return a field whose default is written as in the file (text with a unit, an empty table)."""
    return Field(default=default, validate_default=True, description=description)


def listed(value: Any) -> Any:
    """Refuse anything but a list before the items are looked at."""
    if not isinstance(value, (list, tuple)):
        raise InputError("must be a list in square brackets")
    return value


def filled(value: Any) -> Any:
    """Refuse anything but a list with something in it."""
    if len(listed(value)) == 0:
        raise InputError("must not be empty")
    return value


Teeth = Annotated[tuple[ToothNumber, ...], BeforeValidator(filled)]
