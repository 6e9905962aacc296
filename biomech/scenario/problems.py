"""One clear line per problem: file, dotted key, value as written, what is allowed, nearest known word."""

from __future__ import annotations

import datetime
import json
import re
import types
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails, PydanticCustomError

from biomech.errors import nearest

Path = tuple[str | int, ...]
ABSENT = object()
"""Stands for the value of a key that is not written."""


@dataclass(frozen=True)
class Problem:
    """What is wrong with the value under `path`; `text` continues the sentence "key = value ..."."""

    path: Path
    text: str
    value: Any = ABSENT

    def line(self) -> str:
        """Return the problem as one line; list entries are counted from 1."""
        key = dotted(self.path)
        shown = "" if self.value is ABSENT else f" = {written(self.value)}"
        return f"{key}{shown} {self.text}".strip()


def refuse(problems: Iterable[Problem]) -> None:
    """Raise the error that carries `problems` (paths relative to the model), unless there are none."""
    found = list(problems)
    if found:
        raise PydanticCustomError("problems", "several problems", {"problems": found})


def dotted(path: Path) -> str:
    """Return a path as written in TOML, list entries counted from 1: "wire.main.hold[2].teeth"."""
    text = ""
    for step in path:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{_quoted(step)}"
    return text.removeprefix(".")


def _quoted(step: str) -> str:
    return step if re.fullmatch(r"[\w-]+", step) else json.dumps(step, ensure_ascii=False)


def written(value: Any) -> str:
    """Return a value as it would be written in TOML, shortened to 60 characters."""
    if isinstance(value, Mapping):
        text = "{" + ", ".join(f"{_quoted(str(k))} = {written(v)}" for k, v in value.items()) + "}"
    elif isinstance(value, (list, tuple)):
        text = "[" + ", ".join(written(v) for v in value) + "]"
    elif isinstance(value, (datetime.date, datetime.time)):
        text = value.isoformat()
    elif isinstance(value, str):
        text = json.dumps(value, ensure_ascii=False)
    elif isinstance(value, bool):
        text = str(value).lower()
    else:
        text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def translate(error: ValidationError, model: type[BaseModel], document: Any) -> list[Problem]:
    """Return the problems behind a validation error of `model` on `document`."""
    problems: list[Problem] = []
    for detail in error.errors():
        path = tuple(detail["loc"])
        if detail["type"] == "problems":
            for inner in detail["ctx"]["problems"]:
                whole = path + inner.path
                value = _look_up(document, whole) if inner.value is ABSENT else inner.value
                problems.append(Problem(whole, inner.text, value))
        elif path and path[-1] == "[key]":
            problems.append(Problem(path[:-1], _sentence(detail, ())))
        elif detail["type"] == "missing":
            problems.append(Problem(path, _missing(path, model)))
        else:
            known = _known_keys(path, model)
            problems.append(Problem(path, _sentence(detail, known), _look_up(document, path)))
    return problems


def _look_up(document: Any, path: Path) -> Any:
    for step in path:
        try:
            document = document[step]
        except (KeyError, IndexError, TypeError):
            return ABSENT
    return document


_TYPES = {
    "model_type": "must be a table",
    "model_attributes_type": "must be a table",
    "dict_type": "must be a table",
    "tuple_type": "must be a list in square brackets",
    "list_type": "must be a list in square brackets",
    "string_type": "must be text in quotes",
    "bool_type": "must be true or false",
    "int_type": "must be a whole number",
    "float_type": "must be a number",
    "finite_number": "must be a finite number",
    "string_too_short": "must not be empty",
    "too_short": "must not be empty",
    "string_pattern_mismatch": "must be a dotted path without spaces, like teeth.16.force_N.buccal",
}


def _sentence(detail: ErrorDetails, known: tuple[str, ...]) -> str:
    kind = detail["type"]
    if kind == "value_error":
        return str(detail["ctx"]["error"])
    if kind == "extra_forbidden":
        hint = nearest(str(detail["loc"][-1]), known)
        return f"is an unknown key; known here: {', '.join(known)}.{hint}"
    if kind == "literal_error":
        words = re.findall(r"'([^']*)'", detail["ctx"]["expected"])
        listed = detail["ctx"]["expected"].replace(" or ", ", ")
        return f"is not known; allowed: {listed}.{nearest(str(detail['input']), words)}"
    if kind in _TYPES:
        return _TYPES[kind]
    return detail["msg"].replace("Input should be", "must be")


def _missing(path: Path, model: type[BaseModel]) -> str:
    owner = _model_at(path[:-1], model)
    for name, field in owner.model_fields.items() if owner else ():
        if path[-1] in (field.alias or name, name) and field.description:
            return f"is missing: {field.description}"
    return "is missing"


def _known_keys(path: Path, model: type[BaseModel]) -> tuple[str, ...]:
    owner = _model_at(path[:-1], model)
    return tuple(f.alias or name for name, f in owner.model_fields.items()) if owner else ()


def _model_at(path: Path, model: type[BaseModel]) -> type[BaseModel] | None:
    """Return the model that describes the table under `path`."""
    here: Any = model
    for step in path:
        if isinstance(here, type) and issubclass(here, BaseModel):
            fields = {f.alias or name: f.annotation for name, f in here.model_fields.items()}
            here = _bare(fields.get(str(step)))
        else:
            here = _bare(get_args(here)[-1 if get_origin(here) is dict else 0])
    return here if isinstance(here, type) and issubclass(here, BaseModel) else None


def _bare(annotation: Any) -> Any:
    """Return an annotation without `| None` and `Annotated`."""
    if isinstance(annotation, types.UnionType):
        annotation = next(a for a in get_args(annotation) if a is not types.NoneType)
    while hasattr(annotation, "__metadata__"):
        annotation = get_args(annotation)[0]
    return annotation
