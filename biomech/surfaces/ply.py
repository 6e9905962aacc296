"""Points and polygons of PLY files, text and binary, by the format's public description; counts are checked first."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.tooth.meshes import Indices

_TYPES = {
    "char": "i1", "uchar": "u1", "short": "i2", "ushort": "u2", "int": "i4", "uint": "u4", "float": "f4",
    "double": "f8",
    "int8": "i1", "uint8": "u1", "int16": "i2", "uint16": "u2", "int32": "i4", "uint32": "u4", "float32": "f4",
    "float64": "f8",
}  # fmt: skip
_ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_LONGEST = 64  # corners of a polygon
_CUT = "is cut short: it holds fewer numbers than its header says"


class _Property(NamedTuple):
    name: str
    kind: str
    counted: str  # type of a list's length; "" for a single number


class _Element(NamedTuple):
    name: str
    rows: int
    properties: list[_Property]


def read_ply(data: bytes) -> tuple[Array, list[Indices]]:
    """Return points (V, 3) and blocks (n, k) of polygons. Raises InputError, ValueError, KeyError for damaged ones."""
    end = data.find(b"end_header")
    if not data.startswith(b"ply") or end < 0:
        raise InputError("has no complete header")
    order, elements = _header(data[:end].decode("ascii", "replace"))
    body = data[data.index(b"\n", end) + 1 :]
    source: Any = (body.split(), 0) if order == "" else (body, 0)
    points, polygons = np.zeros((0, 3)), []
    for element in elements:
        columns, source = (_text if order == "" else _binary)(element, source, order)
        if element.name == "vertex":
            points = np.stack([np.asarray(columns[axis], dtype=np.float64) for axis in "xyz"], axis=1)
        if element.name == "face":
            named = [columns.get(n) for n in ("vertex_indices", "vertex_index")]
            lists = [found for found in named if isinstance(found, list)]
            if not lists:
                raise InputError("has faces without vertex_indices")
            polygons = lists[0]
            break
    return points, polygons


def _header(text: str) -> tuple[str, list[_Element]]:
    order, elements = None, []
    for line in text.splitlines()[1:]:
        words = line.split()
        if not words or words[0] in ("comment", "obj_info"):
            continue
        if words[0] == "format" and words[1:2] and words[1] in _ORDERS:
            order = _ORDERS[words[1]]
        elif words[0] == "element" and len(words) == 3 and words[2].isdigit():
            elements.append(_Element(words[1], int(words[2]), []))
        elif words[0] == "property" and elements and len(words) in (3, 5):
            count = _TYPES[words[2]] if words[1] == "list" else ""
            elements[-1].properties.append(_Property(words[-1], _TYPES[words[-2]], count))
        else:
            raise InputError(f"has a header line that is not understood: {line.strip()[:40]!r}")
    if order is None:
        raise InputError("does not say whether it is text or binary")
    return order, elements


def _binary(element: _Element, source: tuple[bytes, int], order: str) -> tuple[dict[str, Any], tuple[bytes, int]]:
    """Return the columns of an element by name, and where the next one begins; lists become blocks of equal length."""
    data, at = source
    sizes = [0 if p.counted else np.dtype(p.kind).itemsize for p in element.properties]
    if not any(p.counted for p in element.properties):
        rows = np.dtype([(p.name, order + p.kind) for p in element.properties])
        if at + element.rows * sum(sizes) > len(data):
            raise InputError(_CUT)
        found = np.frombuffer(data, rows, element.rows, at)
        return {p.name: found[p.name] for p in element.properties}, (data, at + element.rows * rows.itemsize)
    fast = _equal_lists(element, data, at, order)
    if fast is not None:
        return fast
    lists: dict[str, list[list[int]]] = {p.name: [] for p in element.properties if p.counted}
    for _ in range(element.rows):
        for p in element.properties:
            if not p.counted:
                at += np.dtype(p.kind).itemsize
                continue
            number = _one(data, at, order + p.counted)
            at += np.dtype(p.counted).itemsize
            end = at + number * np.dtype(p.kind).itemsize
            if not 0 <= number <= _LONGEST or end > len(data):
                raise InputError(_CUT)
            lists[p.name].append(np.frombuffer(data, order + p.kind, number, at).astype(np.int64).tolist())
            at = end
    return {name: _blocks(rows) for name, rows in lists.items()}, (data, at)


def _equal_lists(
    element: _Element, data: bytes, at: int, order: str
) -> tuple[dict[str, Any], tuple[bytes, int]] | None:
    """Return what `_binary` does when all lists are as long as the first one, else None."""
    if [bool(p.counted) for p in element.properties] != [True] or not element.rows:
        return None
    p = element.properties[0]
    number = _one(data, at, order + p.counted)
    if not 0 <= number <= _LONGEST:
        return None
    rows = np.dtype([("count", order + p.counted), ("list", order + p.kind, (number,))])
    if at + element.rows * rows.itemsize > len(data):
        return None
    found = np.frombuffer(data, rows, element.rows, at)
    if (found["count"] != number).any():
        return None
    blocks = [found["list"].astype(np.int64)] if number >= 3 else []
    return {p.name: blocks}, (data, at + element.rows * rows.itemsize)


def _one(data: bytes, at: int, kind: str) -> int:
    if at + np.dtype(kind).itemsize > len(data):
        raise InputError(_CUT)
    return int(np.frombuffer(data, kind, 1, at)[0])


def _text(element: _Element, source: tuple[list[bytes], int], _: str) -> tuple[dict[str, Any], tuple[list[bytes], int]]:
    words, at = source
    plain = [p.name for p in element.properties if not p.counted]
    if len(plain) == len(element.properties):
        end = at + element.rows * len(plain)
        if end > len(words):
            raise InputError(_CUT)
        table = np.array(words[at:end], dtype=np.float64).reshape(element.rows, len(plain))
        return {name: table[:, i] for i, name in enumerate(plain)}, (words, end)
    lists: dict[str, list[list[int]]] = {p.name: [] for p in element.properties if p.counted}
    for _row in range(element.rows):
        for p in element.properties:
            number = int(words[at]) if p.counted and at < len(words) else 1
            at += bool(p.counted)
            if not 0 <= number <= _LONGEST or at + number > len(words):
                raise InputError(_CUT)
            if p.counted:
                lists[p.name].append([int(w) for w in words[at : at + number]])
            at += number
    return {name: _blocks(rows) for name, rows in lists.items()}, (words, at)


def _blocks(rows: list[list[int]]) -> list[Indices]:
    """Return lists gathered by their length, those of three numbers or more."""
    found: dict[int, list[list[int]]] = {}
    for row in rows:
        if len(row) >= 3:
            found.setdefault(len(row), []).append(row)
    return [np.array(block, dtype=np.int64) for block in found.values()]
