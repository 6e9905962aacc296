"""What is compared: several scenarios, or one with a key varied over values."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from biomech.errors import InputError
from biomech.scenario import Scenario
from biomech.scenario.problems import written
from biomech.scenario.quantities import CROWN, FACING, ROOT, ROTATION, TIP, UPWARD

WAYS = (ROOT, CROWN, TIP, ROTATION, FACING, UPWARD)
"""Families of direction words with their signs."""
_COURSE_WORDS = {
    "course.most": "largest speed",
    "course.lag": "rest before movement",
    "course.law": "rate law",
    "course.rule.most": "largest torque of the rule",
    "course.rule.lead": "tolerated lead",
    "course.rule.torque": "torque of the rule",
    "course.visit.after": "visit after",
}
"""What some keys of a course are called whose last step alone says too little."""
_LONGEST = 24  # letters of a list or table that serve as a label
_QUANTITY = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([^\d\s]\S*)?\s*(.*?)\s*")


@dataclass(frozen=True)
class Variant:
    """One scenario of a comparison and what it is called in tables; `value` of the varied key, if one is varied."""

    label: str
    scenario: Scenario
    value: Any = None


@dataclass(frozen=True)
class Axis:
    """Numbers behind the values of a varied key, in the `unit` of the values, counted positive the way of `word`."""

    numbers: tuple[float, ...]
    unit: str
    word: str


def vary(scenario: Scenario, keys: str | Sequence[str], values: Sequence[Any]) -> list[Variant]:
    """Return `scenario` with `keys` (dotted, several take the same value) set to each of `values`.

    Raises InputError for fewer than two values, for values that appear twice, and as `Scenario.changed`.
    """
    names = [keys] if isinstance(keys, str) else list(keys)
    if len(values) < 2:
        raise InputError(f"{' + '.join(names)}: at least two values are needed for a comparison, got {len(values)}")
    twice = [value for value in values if values.count(value) > 1]
    if twice:
        raise InputError(f"{' + '.join(names)}: the value {_label(twice[0]) or 'none'} is given twice")
    labels = [_label(value) or f"value {i}" for i, value in enumerate(values, 1)]
    return [
        Variant(label, _changed(scenario, names, value), value) for label, value in zip(labels, values, strict=True)
    ]


def _label(value: Any) -> str:
    """Return a value as a label; "" for a table or list that is too long for one."""
    if isinstance(value, bool | list | dict):
        text = written(value) if isinstance(value, bool) or value else "none"
        return text if len(text) <= _LONGEST else ""
    return str(value)


def _changed(scenario: Scenario, keys: Sequence[str], value: Any) -> Scenario:
    try:
        return scenario.changed(dict.fromkeys(keys, value))
    except InputError as error:
        raise InputError("\n".join(line.removeprefix("scenario: ") for line in str(error).splitlines())) from None


def read_vary(text: str) -> tuple[list[str], list[Any]]:
    """Return the keys and values of "KEY=V1,V2,..."; several keys, joined by "+", take the same values together.

    A value that is a number, true, false or a list in TOML is read as such, all else as text without quotes; commas in
    brackets or quotes do not part values. Raises InputError when keys or values are missing.
    """
    left, equals, right = text.partition("=")
    keys = [key.strip() for key in left.split("+")]
    values = [part.strip() for part in _split(right)]
    if not equals or not all(keys) or not all(values):
        raise InputError(
            f'"{text}" varies nothing: write KEY=VALUE,VALUE,..., such as "bracket.prescription=A,B,C", or '
            '"wire.main.torque.16 + wire.main.torque.26 = 0 deg, 18 deg buccal root"'
        )
    return keys, [_value(value) for value in values]


def _split(text: str) -> list[str]:
    """Split at the commas that lie outside brackets and quotes."""
    parts, depth, quote = [""], 0, ""
    for sign in text:
        quote = ("" if sign == quote else quote) if quote else (sign if sign in "\"'" else "")
        depth += 0 if quote else (sign in "[{") - (sign in "]}")
        if sign == "," and depth == 0 and not quote:
            parts.append("")
        else:
            parts[-1] += sign
    return parts


def _value(text: str) -> Any:
    try:
        found = tomllib.loads(f"value = {text}")["value"]
    except tomllib.TOMLDecodeError:
        return text
    return found if isinstance(found, bool | int | float | list | dict | str) else text


def axis(variants: Sequence[Variant]) -> Axis | None:
    """Return the varied values as numbers, or None when they are no quantities of one unit.

    Words such as "buccal root" give the sign; the word that counts positive is the one most values use.
    """
    found = [_QUANTITY.fullmatch(str(v.value)) for v in variants]
    if any(v.value is None or isinstance(v.value, bool) for v in variants) or not all(found):
        return None
    parts = [(float(m[1]), m[2] or "", m[3]) for m in found if m]
    units, words = {unit for _, unit, _ in parts}, [word for _, _, word in parts if word]
    if len(units) > 1:
        return None
    if not words:
        return Axis(tuple(number for number, _, _ in parts), units.pop(), "")
    family = next((ways for ways in WAYS if all(word in ways for word in words)), None)
    if family is None:
        return None
    ahead = max(dict.fromkeys(words), key=words.count)
    return Axis(tuple(n * (family[w] * family[ahead] if w else 1) for n, _, w in parts), units.pop(), ahead)


def key_words(keys: Sequence[str]) -> list[str]:
    """Return the steps of varied keys as words, without tooth numbers and without a last step in which they differ.

    ["wire.overlay.widen.left", "wire.overlay.widen.right"] gives ["wire", "overlay", "widening"].
    """
    steps = [[s for s in key.split(".") if not s.isdigit()] for key in keys]
    words = steps[0]
    if any(other != words and other[:-1] == words[:-1] for other in steps[1:]):
        words = words[:-1]
    named = _COURSE_WORDS.get(re.sub(r"\[\d+\]", "", keys[0])) if len(keys) == 1 else None
    if named is not None:
        words = [*words[:-1], named]
    elif len(words) > 1 and words[-2] == "reactivate":
        words = [*words[:-2], f"re-activation of {words[-1]}"]
    return [{"widen": "widening"}.get(word, re.sub(r"\[(\d+)\]", r" \1", word).replace("_", " ")) for word in words]
