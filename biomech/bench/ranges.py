"""Sizes of a set-up and the ranges they must lie in, and the error that says so."""

from __future__ import annotations

from biomech.errors import InputError


class RangeError(InputError):
    """A size is no set-up: `argument` names that of the rig's builder, `allowed` says what it must be."""

    def __init__(self, text: str, argument: str = "", allowed: str = "") -> None:
        super().__init__(text)
        self.argument, self.allowed = argument, allowed


def require(argument: str, value: float, low: float, high: float, unit: str = "", words: str | None = None) -> None:
    """Raise RangeError unless a builder's argument, called `words` in the text, is within [low, high]."""
    if low <= value <= high:
        return
    lowest, highest, given = (f"{number:g} {unit}".rstrip() for number in (low, high, value))
    allowed = f"must be between {lowest} and {highest}"
    raise RangeError(f"{words or argument} = {given}: {allowed}", argument, allowed)
