"""Triangles and quadrilaterals of MSH files (versions 2.2 and 4.1, text and binary).

The layout is that of the format's public description. Counts and numbers are checked before anything is made of them:
general readers trust them, and a damaged file then asks for all memory there is.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.tooth.meshes import Indices

_CORNERS = {1: 2, 2: 3, 3: 4, 8: 3, 9: 6, 10: 9, 15: 1, 16: 8}  # of the element types met on surfaces
_FLAT = (2, 3)


class _Stream:
    """Numbers of one section, taken in order; text and binary alike."""

    def __init__(self, data: bytes, binary: bool) -> None:
        self._at = 0
        self._bytes = data if binary else b""
        self._numbers = np.zeros(0) if binary else np.array(data.split(), dtype=np.float64)

    def take(self, kind: str, count: int) -> Any:
        """Return the next `count` numbers of a `kind`, a NumPy type for binary files."""
        size = np.dtype(kind).itemsize if self._bytes else 1
        end = self._at + count * size
        if count < 0 or end > (len(self._bytes) or len(self._numbers)):
            raise InputError("is damaged: a list is longer than the file")
        start, self._at = self._at, end
        if self._bytes:
            return np.frombuffer(self._bytes, kind, count, start)
        found = self._numbers[start:end]
        return found if kind == "<f8" else _whole(found)

    @property
    def left(self) -> bool:
        """Whether numbers are left."""
        return self._at < (len(self._bytes) or len(self._numbers))


def read_msh(data: bytes) -> tuple[Array, list[Indices]]:
    """Return points (V, 3) and blocks (n, k) of polygons. Raises InputError, ValueError for damaged files."""
    head = _section(data, "MeshFormat").split(b"\n", 1)
    words = head[0].split()
    if len(words) != 3 or words[0] not in (b"2.2", b"4.1") or words[1] not in (b"0", b"1"):
        raise InputError("is of an MSH version that is not known; allowed: 2.2 and 4.1")
    binary, size = words[1] == b"1", f"<u{4 if words[2] == b'4' else 8}"
    if binary and head[1][:4] != b"\x01\x00\x00\x00":
        raise InputError("has its numbers in the byte order of another machine; save it as text")
    nodes, elements = (_section(data, name) for name in ("Nodes", "Elements"))
    if words[0] == b"4.1":
        tags, points = _nodes_4(_Stream(nodes, binary), size)
        blocks = _elements_4(_Stream(elements, binary), size)
    else:
        tags, points = _nodes_2(nodes, binary)
        blocks = _elements_2(elements, binary)
    return points, [_numbered(block, tags) for block in blocks]


def _section(data: bytes, name: str) -> bytes:
    start, end = data.find(f"${name}\n".encode()), data.find(f"\n$End{name}".encode())
    if start < 0 or end < 0:
        start, end = data.find(f"${name}\r\n".encode()), data.find(f"$End{name}".encode())
    if start < 0 or end < start:
        raise InputError(f"has no complete section ${name}")
    return data[data.index(b"\n", start) + 1 : end]


def _nodes_4(stream: _Stream, size: str) -> tuple[Indices, Array]:
    tags, points = [], []
    for _ in range(int(stream.take(size, 4)[0])):
        if stream.take("<i4", 3)[2] != 0:
            raise InputError("has nodes with parameters; save it without")
        count = int(stream.take(size, 1)[0])
        tags.append(_whole(stream.take(size, count)))
        points.append(np.asarray(stream.take("<f8", 3 * count)).reshape(-1, 3))
    if not tags:
        raise InputError("holds no nodes")
    return np.concatenate(tags), np.concatenate(points)


def _elements_4(stream: _Stream, size: str) -> list[Indices]:
    blocks = []
    for _ in range(int(stream.take(size, 4)[0])):
        kind = int(stream.take("<i4", 3)[2])
        corners = _corners(kind)
        rows = stream.take(size, (1 + corners) * int(stream.take(size, 1)[0])).reshape(-1, 1 + corners)
        if kind in _FLAT:
            blocks.append(_whole(rows[:, 1:]))
    return blocks


def _nodes_2(section: bytes, binary: bool) -> tuple[Indices, Array]:
    first, _, rest = section.partition(b"\n")
    count = int(first)
    if binary:
        rows = np.dtype([("tag", "<i4"), ("at", "<f8", 3)])
        if not 0 <= count * rows.itemsize <= len(rest):
            raise InputError("is damaged: a list is longer than the file")
        found = np.frombuffer(rest, rows, count)
        return found["tag"].astype(np.int64), found["at"].astype(np.float64)
    numbers = _Stream(rest, False).take("<f8", 4 * count).reshape(-1, 4)
    return _whole(numbers[:, 0]), numbers[:, 1:]


def _elements_2(section: bytes, binary: bool) -> list[Indices]:
    first, _, rest = section.partition(b"\n")
    stream, total, done = _Stream(rest, binary), int(first), 0
    found: dict[int, list[Indices]] = {kind: [] for kind in _FLAT}
    while done < total and stream.left:
        if binary:
            kind, count, labels = (int(x) for x in stream.take("<i4", 3))
            skip = 1 + labels
        else:
            _, kind, labels = (int(x) for x in stream.take("<i4", 3))
            count, skip = 1, labels
        if count < 1 or labels < 0:
            raise InputError("is damaged: a list of elements is empty")
        corners = _corners(kind)
        rows = stream.take("<i4", count * (skip + corners)).reshape(count, -1)
        if kind in _FLAT:
            found[kind].append(_whole(rows[:, skip:]))
        done += count
    return [np.concatenate(blocks) for blocks in found.values() if blocks]


def _corners(kind: int) -> int:
    if kind not in _CORNERS:
        raise InputError(f"holds elements of type {kind}, which are no triangles; save the tooth's surface")
    return _CORNERS[kind]


def _numbered(block: Indices, tags: Indices) -> Indices:
    """Return polygons by place in the list of nodes instead of by tag."""
    order = np.argsort(tags, kind="stable")
    at = np.minimum(np.searchsorted(tags, block, sorter=order), len(tags) - 1)
    index = order[at]
    if (tags[index] != block).any():
        raise InputError("is damaged: a triangle names a node that is not there")
    return np.asarray(index, dtype=np.int64)


def _whole(numbers: Any) -> Indices:
    """Return numbers as integers; ValueError unless they are."""
    found = np.asarray(numbers)
    if found.size and not (np.abs(found.astype(np.float64)) < 2**53).all():
        raise InputError("is damaged: it holds numbers too large to count nodes")
    return found.astype(np.int64)
