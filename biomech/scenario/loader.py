"""Scenario files: reading, extending one by another, and naming the file a problem comes from."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from biomech.errors import FileError, InputError, UnreadableError, nearest
from biomech.scenario.model import Scenario
from biomech.scenario.problems import Problem

OWN_KEYS = ("title", "question", "note", "expect", "extends")
"""Keys that describe one file and are not inherited by a file that extends it."""

_LARGEST = 4_000_000  # bytes: larger than any scenario, small enough to read a wrong file without harm


def load(path: str | Path) -> Scenario:
    """Return the scenario of a TOML file, with all it `extends` merged in.

    Tables are merged key by key, everything else (lists too) is replaced; title, question, note and expect
    are not inherited. Surface files are named in a file from its own folder, in what is returned from where the
    program runs. Raises FileError when the file cannot be read and InputError, one line for each
    problem, when what it says cannot be used.
    """
    chain = read_chain(Path(path))
    document = merge_chain([with_reachable_files(table, file.parent) for file, table in chain])
    return Scenario.parse(document, lambda problem: _origin(problem, chain))


def read_chain(path: Path) -> list[tuple[Path, dict[str, Any]]]:
    """Return (file, its own tables) for `path`, the file it extends, and so on to the last."""
    chain = [(path, read_document(path))]
    while True:
        child, document = chain[-1]
        if "extends" not in document:
            return chain
        parent = _parent(child, document["extends"])
        seen = [file.resolve() for file, _ in chain]
        if parent.resolve() in seen:
            names = " -> ".join(file.name for file in [*(f for f, _ in chain), parent])
            raise InputError(f'{child}: extends = "{document["extends"]}" leads in a circle: {names}')
        chain.append((parent, read_document(parent)))


def _parent(child: Path, extends: Any) -> Path:
    if not isinstance(extends, str) or not extends:
        raise InputError(f"{child}: extends = {extends!r} must be the name of a file, as text")
    parent = child.parent / extends
    if not parent.is_file():
        there = sorted(p.name for p in parent.parent.glob("*.toml")) if parent.parent.is_dir() else []
        raise InputError(
            f'{child}: extends = "{extends}": there is no such file.{nearest(parent.name, there)}'
        )
    return parent


def read_document(path: Path) -> dict[str, Any]:
    """Return the tables of one TOML file. Raises FileError or InputError naming the file."""
    text = _text(path)
    if not text.strip():
        raise InputError(f"{path}: the file is empty; a scenario begins with format = 1 and a title")
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        twice = (
            "; the same key or table is written twice"
            if "overwrite" in str(error) or "twice" in str(error)
            else ""
        )
        raise InputError(f"{path}: is no valid TOML: {error}{twice}") from None


def _text(path: Path) -> str:
    try:
        if path.is_dir():
            raise UnreadableError(f"{path}: is a folder; name a scenario file in it")
        if not path.exists():
            there = sorted(p.name for p in path.parent.glob("*.toml")) if path.parent.is_dir() else []
            raise UnreadableError(f"{path}: there is no such file.{nearest(path.name, there)}")
        if path.stat().st_size > _LARGEST:
            raise InputError(f"{path}: has more than {_LARGEST // 1_000_000} MB and is no scenario")
        data = path.read_bytes()
    except FileError:
        raise
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        reason = error.strerror if isinstance(error, OSError) and error.strerror else error
        raise UnreadableError(f"{path}: cannot be read: {reason}") from None
    if b"\0" in data:
        raise InputError(f"{path}: is a binary file; a scenario is TOML text")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputError(f"{path}: is not UTF-8 text (line {line}); save it as UTF-8") from None


def merge_chain(tables: list[dict[str, Any]]) -> dict[str, Any]:
    """Return the tables of a file (first) merged over those of the files it extends (last: the base)."""
    merged: dict[str, Any] = {}
    for table in reversed(tables):
        inherited = {key: value for key, value in merged.items() if key not in OWN_KEYS}
        merged = merge(inherited, table)
    return merged


def with_reachable_files(document: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Return a document whose surface files, named from its own `folder`, are named from where the program runs."""
    teeth = document.get("tooth")
    changed = {}
    for number, entry in teeth.items() if isinstance(teeth, Mapping) else ():
        mesh = entry.get("mesh") if isinstance(entry, Mapping) else None
        if isinstance(mesh, Mapping) and isinstance(mesh.get("file"), str) and mesh["file"]:
            there = Path(os.path.normpath(folder / mesh["file"])).as_posix()
            changed[number] = {"mesh": {"file": there}}
    return merge(document, {"tooth": changed}) if changed else document


def merge(base: Mapping[str, Any], over: Mapping[str, Any]) -> dict[str, Any]:
    """Return `base` with `over` on top: tables key by key, everything else replaced."""
    result = dict(base)
    for key, value in over.items():
        below = result.get(key)
        both = isinstance(value, Mapping) and isinstance(below, Mapping)
        result[key] = merge(below, value) if both else value  # type: ignore[arg-type]
    return result


def _origin(problem: Problem, chain: list[tuple[Path, dict[str, Any]]]) -> str:
    """Return the file loaded and, when another one wrote the value of a problem, that one's name.

    The value's file is the one with the deepest match, and the most derived among equals.
    """
    depths = [(_depth(problem, document), -i) for i, (_, document) in enumerate(chain)]
    at = -max(depths)[1]
    return str(chain[0][0]) if at == 0 else f"{chain[0][0]} (from {chain[at][0].name})"


def _depth(problem: Problem, document: Any) -> int:
    for depth, step in enumerate(problem.path):
        try:
            document = document[step]
        except (KeyError, IndexError, TypeError):
            return depth
    return len(problem.path)
