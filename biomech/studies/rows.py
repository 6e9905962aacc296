"""The numbers of several solutions side by side: differences from the first, percent."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from biomech.outputs import REGISTRY

Cell = float | str | None

UNITS = {"N_mm": "N.mm", "deg_per_mm": "deg/mm", "mm": "mm", "N": "N", "deg": "deg", "kPa": "kPa", "gf": "gf",
         "MPa": "MPa", "mm_per_month": "mm/month", "percent": "%"}  # fmt: skip
"""Units by the end of a key, the longest first."""
SMALL = {"N.mm": 0.1, "deg/mm": 0.01, "mm": 1e-4, "N": 0.005, "gf": 0.5, "deg": 0.005, "kPa": 0.1, "MPa": 1.0,
         "mm/month": 1e-3, "%": 0.5, "": 1e-3}  # fmt: skip
"""By unit, what counts as nothing: no percentage is formed of it. A convention."""
SLIGHT = 0.05
"""Share of a value below which a reference is too small to form a percentage of. A convention."""
TITLES = {
    "width_change_mm": "gain in width",
    "palatal_cusp_drop_mm": "palatal cusps, occlusal",
    "cusp_difference_mm": "palatal below buccal cusps",
    "midline_to_left_mm": "midline, to the left",
    "peak_stress_MPa": "peak stress",
    "peak_over_limit": "peak stress over elastic limit",
    "share_past_limit": "share of the length past it",
    "bands": "published band:",
    "centre_of_resistance_mm": "centre of resistance",
    "inner_cusp_mm": "palatal (lingual) cusp",
    "crown_leads_root_mm": "crown leads root, buccally",
    "buccal_tip_deg": "buccal tip of the crown",
    "width_mm": "width",
    "width_mm_per_month": "gain in width at crowns a month, on average",
    "incisors_forward_mm": "central incisors' edges, forward",
    "perimeter_mm": "perimeter along the slots",
    "perimeter_change_mm": "gain in perimeter",
    "energy_N_mm": "elastic energy",
    "of_what_was_left_percent": "energy of what was left at the last visit",
    "balance_force_N": "forces left over",
    "balance_moment_N_mm": "moments left over",
}
"""Titles of what is no output of a tooth."""
SKIPPED = ("name", "source", "section", "alloy", "limit_MPa", "young_MPa", "holds", "near_tooth", "seen")
"""Keys (or their ends) that describe the input, not the result."""


@dataclass(frozen=True)
class Row:
    """One quantity in every variant; `path` as in result.json; None where it does not exist."""

    place: str
    path: str
    title: str
    unit: str
    values: tuple[Cell, ...]

    def difference(self, i: int, reference: int = 0) -> float | None:
        """Return the value of variant `i` less that of the reference; None unless both are numbers."""
        value, other = self.values[i], self.values[reference]
        return None if isinstance(value, str | None) or isinstance(other, str | None) else value - other

    def percent(self, i: int, reference: int = 0) -> float | None:
        """Return by how much the size of the value exceeds that of the reference, percent.

        None where the two go different ways, and where the reference is next to nothing: below SMALL, or below SLIGHT
        of the value.
        """
        change, other, value = self.difference(i, reference), self.values[reference], self.values[i]
        if change is None or not isinstance(other, float) or not isinstance(value, float):
            return None
        nothing = abs(other) < max(SMALL.get(self.unit, 1e-3), SLIGHT * abs(value))
        return None if nothing or value * other < 0 else 100.0 * (abs(value) / abs(other) - 1.0)

    @property
    def spread(self) -> float:
        """Largest less smallest value; 0 for words and where a value is missing."""
        numbers = [v for v in self.values if isinstance(v, float)]
        return max(numbers) - min(numbers) if len(numbers) == len(self.values) else 0.0

    @property
    def differs(self) -> bool:
        """Whether the variants differ by more than what counts as nothing."""
        if any(isinstance(v, str | None) for v in self.values):
            return len(set(self.values)) > 1
        return self.spread > SMALL.get(self.unit, 1e-3)


def rows(records: Sequence[Mapping[str, Any]]) -> list[Row]:
    """Return a row for every result of every tooth, of the arch and of the wires, over the records of solutions."""
    out = []
    for part, place in (("teeth", "tooth {}"), ("wires", "wire {}")):
        for name in dict.fromkeys(n for r in records for n in r[part]):
            tables = [_flat(r[part].get(name, {})) for r in records]
            out += _rows(place.format(name), f"{part}.{name}", tables)
    return out + _rows("arch", "arch", [_flat(r["arch"]) for r in records])


def _rows(place: str, stem: str, tables: list[dict[str, Cell]]) -> list[Row]:
    keys = [k for k in dict.fromkeys(k for t in tables for k in t) if not k.split(".")[0].endswith(SKIPPED)]
    # a table that is null in one variant and filled in another is no quantity of its own
    keys = [k for k in keys if not any(other.startswith(f"{k}.") for other in keys)]
    return [Row(place, f"{stem}.{k}", _title(k), unit(k), tuple(t.get(k) for t in tables)) for k in keys]


def _flat(table: Mapping[str, Any], before: str = "") -> dict[str, Cell]:
    out: dict[str, Cell] = {}
    for key, value in table.items():
        if isinstance(value, Mapping):
            out |= _flat(value, f"{before}{key}.")
        elif value is None or isinstance(value, str):
            out[before + key] = value
        elif isinstance(value, int | float):
            out[before + key] = float(value)
    return out


def unit(path: str) -> str:
    """Return the unit that a key names with its end, "" for none."""
    ends = (re.search(rf"_({'|'.join(UNITS)})$", step) for step in path.split("."))
    return next((UNITS[end[1]] for end in ends if end), "")


def _title(key: str) -> str:
    first, *rest = key.split(".")
    known = REGISTRY.get(first).title if first in REGISTRY.names() else TITLES.get(first, first.replace("_", " "))
    return ", ".join([known, " ".join(step.replace("_", " ") for step in rest)]) if rest else known
