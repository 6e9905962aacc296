"""Write a file beside its place and move it there, so that a reader never meets half a file."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from biomech.errors import FileError


def write_beside(path: Path, write: Callable[[Path], object]) -> Path:
    """Let `write` fill a temporary file with the ending of `path` in its folder, rename it to `path`, return `path`.

    Raises FileError naming the path when the folder cannot be written to; no part of a file is left then.
    """
    path = Path(path)
    draft = path.with_name(f".{path.stem}.{os.getpid()}.part{path.suffix}")
    try:
        write(draft)
        os.replace(draft, path)
    except OSError as error:
        raise FileError(f"{path}: cannot be written ({error.strerror or error})") from error
    finally:
        draft.unlink(missing_ok=True) if path.parent.is_dir() else None
    return path


def ready_folder(folder: Path) -> Path:
    """Create `folder` if needed and return it; FileError when that is not possible."""
    try:
        Path(folder).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileError(f"{folder}: no such folder can be made ({error.strerror or error})") from error
    return Path(folder)
