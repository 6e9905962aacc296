"""The two ways a computation may refuse: the input is wrong, or no trustworthy answer was found."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches


class BiomechError(Exception):
    """Base of every error this package raises on purpose; its text is meant for the user."""


class InputError(BiomechError, ValueError):
    """The input cannot be used. The text names the key, the value and what is allowed."""


class SolveError(BiomechError, RuntimeError):
    """No trustworthy equilibrium was found. The text says where, what was reached and what to try."""


class FileError(BiomechError, OSError):
    """A file cannot be read or written. The text names the path and the reason."""


class UnreadableError(FileError, InputError):
    """A file that was named as input is not there, is none, or cannot be read: an error of the input as well."""


def nearest(word: str, known: Iterable[str]) -> str:
    """Return " Did you mean 'x'?" for the closest of `known` to `word`, or an empty text."""
    close = get_close_matches(word, list(known), n=1, cutoff=0.55)
    return f" Did you mean '{close[0]}'?" if close else ""
