"""Teeth that hardly move in one variant of a comparison: told so, instead of a kind of movement by chance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from biomech.studies.rows import SLIGHT, Cell, Row

HARDLY = "hardly moves"
"""What stands for a kind of movement where there is next to none."""
SAME_MOVE = 0.001
"""Displacement, mm, below which variants count as alike and a tooth as not moving. A convention."""
ALONG = ("intrusion", "extrusion")
"""Kinds that are not buccolingual: they go with small sideways displacements."""
RATIOS = ("apex_to_crown", "tip_deg_per_mm")
"""Results that say nothing of a tooth that hardly moves."""


def told(rows: Sequence[Row]) -> list[Row]:
    """Return rows in which teeth that hardly move in a variant have HARDLY as `movement` there, and no ratios.

    That is where crown and apex of the long axis go buccolingually less than SAME_MOVE, or less than SLIGHT of the
    most they go in any variant: what a rounding or a ligature does beside what is compared.
    """
    known = {row.path: row for row in rows}
    return [_told(known, row) for row in rows]


def _told(known: dict[str, Row], row: Row) -> Row:
    stem, _, key = row.path.rpartition(".")
    if key != "movement" and key not in RATIOS:
        return row
    rests = _rests(known, stem, len(row.values))
    return replace(row, values=tuple(_cell(key, *pair) for pair in zip(row.values, rests, strict=True)))


def _rests(known: dict[str, Row], stem: str, count: int) -> list[bool]:
    """Return for each variant whether the tooth hardly moves in it."""
    path = f"{stem}.long_axis_mm"
    kinds = known[f"{stem}.movement"].values if f"{stem}.movement" in known else (None,) * count
    if f"{path}.crown" not in known:
        return [False] * count
    pairs = zip(known[f"{path}.crown"].values, known[f"{path}.apex"].values, strict=True)
    sizes = [max(abs(c), abs(a)) if isinstance(c, float) and isinstance(a, float) else None for c, a in pairs]
    least = max([SAME_MOVE, *(SLIGHT * s for s in sizes if s is not None)])
    return [s is not None and s < least and kind not in ALONG for s, kind in zip(sizes, kinds, strict=True)]


def _cell(key: str, value: Cell, rests: bool) -> Cell:
    if not rests:
        return value
    return HARDLY if key == "movement" else None
