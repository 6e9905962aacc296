"""Finished legs of a course on disk, so that a course that was killed goes on from its last visit."""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

import biomech
from biomech.cache import program
from biomech.errors import FileError
from biomech.mechanics.links import State
from biomech.mechanics.states import arrays_of, with_arrays
from biomech.movement.leg import Track
from biomech.scenario import Scenario
from biomech.studies.record import fingerprint

FORMAT = 4
"""Of the files; to be raised when what they hold changes."""


def first_key(scenario: Scenario) -> str:
    """Return the key of a course: a hash of the whole scenario, the program that computes and these files' layout."""
    return _hash(fingerprint(scenario), biomech.__version__, program(), str(FORMAT))


def next_key(key: str, number: int, track: Track) -> str:
    """Return the key of leg `number` + 1: a hash of all that came before it."""
    return _hash(key, str(number), *(a.tobytes().hex() for a in (track.times, track.rotation[-1], track.position[-1])))


class Store:
    """A folder with one file a leg; a file that is cut short, damaged or of other inputs is as good as none."""

    def __init__(self, folder: Path | str | None) -> None:
        self.folder = None if folder is None else Path(folder)

    def load(self, number: int, key: str, fresh: Sequence[State]) -> tuple[Track, tuple[str, ...]] | None:
        """Return the track of leg `number` and what happened at its start, or None when it must be computed.

        `fresh` are the states of its links before any load: the track's memory is kept in their form.
        """
        if self.folder is None:
            return None
        try:
            data = self._path(number).read_bytes()
        except OSError:
            return None
        head, _, body = data.partition(b"\n")
        if head.decode("ascii", "replace") != _head(key, body):
            return None
        with np.load(io.BytesIO(body), allow_pickle=False) as file:
            memory = [
                with_arrays(state, [file[f"memory{i}.{j}"] for j in range(len(arrays_of(state)))])
                for i, state in enumerate(fresh)
            ]
            last = (file["rate"], float(file["lasted"]), float(file["ahead"]), file["errors"], float(file["gone"]))
            track = Track(file["times"], file["rotation"], file["position"], tuple(memory), *last)
            return track, tuple(str(line) for line in file["history"])

    def save(self, number: int, key: str, track: Track, history: tuple[str, ...]) -> None:
        """Write leg `number`: beside, then renamed. Raises FileError naming path and reason."""
        if self.folder is None:
            return
        arrays: dict[str, Any] = {
            "times": track.times, "rotation": track.rotation, "position": track.position,
            "rate": track.rate, "lasted": track.lasted, "ahead": track.ahead,
            "errors": track.errors, "gone": track.gone, "history": np.array(history, dtype=str),
        }  # fmt: skip
        for i, state in enumerate(track.memory):
            arrays.update({f"memory{i}.{j}": array for j, array in enumerate(arrays_of(state))})
        body = io.BytesIO()
        np.savez(body, **arrays)
        path = self._path(number)
        draft = path.with_name(f".{path.name}.{os.getpid()}.part")
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            with open(draft, "wb") as file:
                file.write(_head(key, body.getvalue()).encode() + b"\n" + body.getvalue())
                file.flush()
                os.fsync(file.fileno())
            os.replace(draft, path)
        except OSError as error:
            raise FileError(f"{path}: cannot be written: {error.strerror or error}") from None
        finally:
            with contextlib.suppress(OSError):
                draft.unlink()

    def _path(self, number: int) -> Path:
        assert self.folder is not None
        return self.folder / f"leg-{number:03d}.leg"


def _head(key: str, body: bytes) -> str:
    return f"biomech leg {key} {hashlib.sha256(body).hexdigest()}"


def _hash(*parts: str) -> str:
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()
