"""Arrays that are costly to compute and depend on their inputs alone, kept on disk between runs.

Files lie in the user's cache folder (`folder`); the environment variable BIOMECH_CACHE names another, or "off" for
none. A file is named by a hash of everything the arrays depend on, the program's own code included, and begins with a
checksum: one that was cut short, altered or made by other code is computed again, never trusted. Deleting the folder is
always safe.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import io
import json
import os
import re
import sys
import threading
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Arrays = dict[str, NDArray[Any]]

VARIABLE = "BIOMECH_CACHE"
"""Environment variable: a folder to use instead of the user's cache folder, or "off"."""
KEPT = 4
"""Versions of the program whose files are kept; those of older ones are removed when a new one first writes."""
_WITHOUT = ("cli", "render", "report")  # they do not compute: a change of theirs leaves what was computed as it was


def folder() -> Path | None:
    """Return the cache folder, whether it is there or not; None when the cache is switched off."""
    named = os.environ.get(VARIABLE, "").strip()
    if named:
        return None if named.lower() == "off" else Path(named)
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA")
        return Path(base) / "biomech" / "Cache" if base else Path.home() / "AppData/Local/biomech/Cache"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "biomech"
    given = os.environ.get("XDG_CACHE_HOME", "")
    return (Path(given) if os.path.isabs(given) else Path.home() / ".cache") / "biomech"


def cached(kind: str, inputs: Mapping[str, Any], make: Callable[[], Mapping[str, NDArray[Any]]]) -> Arrays:
    """Return the arrays that `make()` returns for `inputs`, from disk when they are there.

    `kind`: a word for the file's name. `inputs`: everything the arrays depend on besides the code: numbers, text,
    arrays, tuples and mappings of them; another type raises TypeError. Errors of `make` pass; a disk that cannot be
    read or written costs time only. Numbers are told apart to the last digit.
    """
    base = folder()
    if base is None:
        return dict(make())
    digest = hash_of(inputs)
    path = base / program()[:16] / f"{kind}-{digest[:32]}.npz"
    found = _read(path, digest)
    if found is None:
        found = {key: np.asarray(value) for key, value in make().items()}
        _write(path, digest, found)
    return found


@functools.cache
def program() -> str:
    """Return a hash of the package's own code, pictures, report and command line left out."""
    return hash_of_code(Path(__file__).parent)


def hash_of_code(place: Path) -> str:
    """Return a hash of the names and contents of all Python files in `place` that have a part in computing."""
    found = sorted(p.relative_to(place) for p in place.rglob("*.py"))
    digest = hashlib.sha256()
    for path in found:
        if path.parts[0] not in _WITHOUT:
            digest.update(f"{path.as_posix()} {hashlib.sha256((place / path).read_bytes()).hexdigest()}\n".encode())
    return digest.hexdigest()


def hash_of(inputs: Any) -> str:
    """Return a hash of nested `inputs`, see `cached`."""
    return hashlib.sha256(json.dumps(_plain(inputs), sort_keys=True).encode()).hexdigest()


def _plain(value: Any) -> Any:
    """Return `value` as JSON would have it, floats in hexadecimal and arrays as the hash of their bytes."""
    if value is None or isinstance(value, (bool, str)):
        return value
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return float(value).hex()
    if isinstance(value, np.ndarray):
        body = hashlib.sha256(np.ascontiguousarray(value).tobytes()).hexdigest()
        return ["array", value.dtype.str, list(value.shape), body]
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (tuple, list)):
        return [_plain(item) for item in value]
    raise TypeError(f"inputs of the cache cannot hold a {type(value).__name__}")


def _read(path: Path, digest: str) -> Arrays | None:
    """Return the arrays of a file; None when it is not there or is not exactly what was written."""
    try:
        data = path.read_bytes()
    except OSError:
        return None
    head, _, body = data.partition(b"\n")
    if head != _head(digest, body):
        return None
    with np.load(io.BytesIO(body), allow_pickle=False) as file:
        return {key: file[key] for key in file.files}


def _write(path: Path, digest: str, arrays: Arrays) -> None:
    """Write a file beside and rename it; a folder that cannot be written is left alone."""
    body = io.BytesIO()
    np.savez(body, **arrays)  # type: ignore[arg-type]
    draft = path.with_name(f".{path.name}.{os.getpid()}.{threading.get_ident()}.part")
    with contextlib.suppress(OSError):
        new = not path.parent.is_dir()
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            draft.write_bytes(_head(digest, body.getvalue()) + b"\n" + body.getvalue())
            os.replace(draft, path)
        finally:
            draft.unlink(missing_ok=True)
        if new:
            _forget(path.parent.parent)


def _forget(base: Path) -> None:
    """Remove the files of all but the newest versions of the program."""
    versions = [p for p in base.iterdir() if p.is_dir() and re.fullmatch("[0-9a-f]{16}", p.name)]
    for old in sorted(versions, key=lambda p: p.stat().st_mtime, reverse=True)[KEPT:]:
        for file in old.glob("*.npz"):
            file.unlink()
        with contextlib.suppress(OSError):  # something else lies there
            old.rmdir()


def _head(digest: str, body: bytes) -> bytes:
    return f"biomech cache {digest} {hashlib.sha256(body).hexdigest()}".encode()
