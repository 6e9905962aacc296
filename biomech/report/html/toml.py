"""A scenario's tables written as TOML, so that the report can be run again."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import date, time
from typing import Any


def dump(document: Mapping[str, Any]) -> str:
    """Return TOML that reads back as `document` (tables, lists, text, numbers, truth values, dates and times).

    Raises TypeError for anything else.
    """
    lines: list[str] = []
    _table(document, (), lines)
    return "\n".join(lines).strip() + "\n"


def _table(table: Mapping[str, Any], path: tuple[str, ...], lines: list[str]) -> None:
    inner = {k: v for k, v in table.items() if isinstance(v, Mapping)}
    rows = {k: v for k, v in table.items() if _is_rows(v)}
    for key, value in table.items():
        if key not in inner and key not in rows:
            lines.append(f"{_key(key)} = {_value(value)}")
    for key, value in inner.items():
        here = (*path, str(key))
        if not value or not all(isinstance(v, Mapping) or _is_rows(v) for v in value.values()):
            lines += ["", f"[{_dotted(here)}]"]
        _table(value, here, lines)
    for key, value in rows.items():
        here = (*path, str(key))
        for row in value:
            lines += ["", f"[[{_dotted(here)}]]"]
            _table(row, here, lines)


def _is_rows(value: Any) -> bool:
    return isinstance(value, (list, tuple)) and bool(value) and all(isinstance(item, Mapping) for item in value)


def _dotted(path: tuple[str, ...]) -> str:
    return ".".join(_key(part) for part in path)


def _key(key: object) -> str:
    text = str(key)
    return text if re.fullmatch(r"[A-Za-z0-9_-]+", text) else _quoted(text)


def _quoted(text: str) -> str:
    """Return a basic string; JSON's escapes are TOML's, but TOML also wants DEL escaped."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + "}"
    raise TypeError(f"{type(value).__name__} has no form in a scenario file")
