"""Numbers in words: which way, how many decimals, and the tables they stand in."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rich.table import Table

WAYS = {
    "mesial": ("mesial", "distal"),
    "buccal": ("buccal", "lingual"),
    "occlusal": ("occlusal", "apical"),
    "torque": ("buccal root", "lingual root"),
    "tip": ("mesial crown", "distal crown"),
    "rotation": ("mesial out", "mesial in"),
}
"""Words for a positive and a negative value of each direction and turn of biomech.outputs."""
WIDTH = 100
"""Columns of a report that does not go to a terminal."""
WIDTHS = "widths: at crowns between edges or buccal cusps, at apices between root tips"
"""Which points widths of an arch are measured between."""
NONE = "-"
"""Stands where a quantity does not exist."""


def decimals(values: Iterable[float | None], figures: int = 3) -> int:
    """Return how many decimals show the largest of `values` with so many figures: 0 to 4."""
    largest = max((abs(v) for v in values if v is not None), default=0.0)
    if largest <= 0.0:
        return 1
    return min(4, max(0, figures - 1 - math.floor(math.log10(largest))))


def number(value: float | None, places: int) -> str:
    """Return a number, without a minus before a zero."""
    if value is None:
        return NONE
    text = f"{value:.{places}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def way(key: str, value: float | None, places: int) -> str:
    """Return a value as the way it goes and its size: way("buccal", -1.2, 2) is "lingual 1.20"."""
    return either(*WAYS[key], value, places)


def either(plus: str, minus: str, value: float | None, places: int) -> str:
    """Return `plus` or `minus` by the sign of a value, and its size; no word for zero."""
    if value is None:
        return NONE
    text = number(abs(value), places)
    return text if float(text) == 0.0 else f"{plus if value > 0 else minus} {text}"


def table(title: str, *columns: str, left: Iterable[str] = ()) -> Table:
    """Return an empty table; columns are set right except the first and those in `left`."""
    from rich import box
    from rich.table import Table

    out = Table(title=title, box=box.SIMPLE_HEAD, title_justify="left", title_style="bold", pad_edge=False)
    for i, column in enumerate(columns):
        ragged = i == 0 or column in left
        out.add_column(column, justify="left" if ragged else "right", overflow="fold")
    return out


def values(tables: Iterable[Mapping[str, Any] | None], keys: Iterable[str]) -> list[float]:
    """Return the numbers under `keys` in all tables that exist."""
    wanted = list(keys)
    return [float(t[key]) for t in tables if t is not None for key in wanted if t[key] is not None]
