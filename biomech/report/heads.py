"""Variants side by side in tables: names broken where a reader would, or letters with a legend; as many as fit."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from biomech.studies.phrases import broken

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

LINES = 4
"""Lines of a name in the head of a table; a name that needs more makes room for a letter."""
NAME, WORD = 26, 14
"""Letters of a quantity's name, and of words in a cell, on one line."""
_UNIT = re.compile(r"(?<=\d) (?=(?:N|N\.mm|mm|um|deg|deg/mm|kPa|MPa|C|%)(?![\w/]))")
"""The space between a number and its unit."""
_TIED = "\N{NO-BREAK SPACE}"


class Heads(NamedTuple):
    """What stands above the columns of variants, and the lines of the legend, none where names stand themselves."""

    names: tuple[str, ...]
    legend: tuple[str, ...]


def heads(labels: Sequence[str], line: int) -> Heads:
    """Return the heads of variants: their labels on lines of at most `line` letters, or letters for all of them."""
    names = [broken(label, line, LINES) for label in labels]
    if all(name is not None for name in names):
        return Heads(tuple(name for name in names if name is not None), ())
    letters = [_letter(i) for i in range(len(labels))]
    about = [f"{letter}: {label}" for letter, label in zip(letters, labels, strict=True)]
    return Heads(tuple(letters), (f"{about[0]} (reference)", *about[1:]))


def _letter(i: int) -> str:
    """Return A, B, ... Z, AA, AB, ... for 0, 1, ..."""
    return (_letter(i // 26 - 1) if i >= 26 else "") + chr(ord("A") + i % 26)


def side_by_side(
    count: int, most: int, console: Console, make: Callable[[Sequence[int]], Sequence[Table]]
) -> list[Table]:
    """Return the tables of `count` variants: in each the reference and as many others as fit, `most` at most in all.

    `make` returns the tables that show the variants of some numbers, the reference (0) being the first.
    """
    from rich.measure import Measurement

    wide = console.options.update(max_width=10_000)
    for size in range(min(most, count) - 1, 0, -1):
        shown = [[0, *range(i, min(i + size, count))] for i in range(1, count, size)]
        out = [table for columns in shown for table in make(columns)]
        if size == 1 or all(Measurement.get(console, wide, table).maximum <= console.width for table in out):
            break
    return out


def in_lines(text: str, width: int) -> str:
    """Return a text in lines of at most `width` letters, broken between words only, a number kept with its unit."""
    whole = _UNIT.sub(_TIED, text)
    return textwrap.fill(whole, width, break_long_words=False, break_on_hyphens=False).replace(_TIED, " ")
