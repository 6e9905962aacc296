"""`biomech list`: what a scenario can name."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from dataclasses import fields
from typing import TYPE_CHECKING

from biomech.report.words import table

if TYPE_CHECKING:
    from rich.table import Table

FORMS = {
    "beta": "y = D (1 - (2x/W)^2)^0.8",
    "ellipse": "half an ellipse",
    "parabola": "y = D (1 - (2x/W)^2)",
    "catenary": "a hanging chain of this width and depth",
    "straight": "a straight line",
    "points": "a smooth curve through given points",
}
"""Arch forms in words: W the width between the ends, D the depth."""


def run() -> None:
    """Print all families."""
    from biomech.report import terminal

    console = terminal()
    for found in families():
        console.print(found)
        console.print()


def families() -> Iterator[Table]:
    """Yield one table a family."""
    yield alloys()
    yield temperatures()
    yield ligaments()
    yield models()
    forms = table("Arch forms (arch.form, wire.NAME.shape)", "name", "summary", left=["summary"])
    from biomech.scenario.quantities import arch_forms

    for name in arch_forms():
        forms.add_row(name, FORMS.get(name, ""))
    yield forms
    yield holds()


def alloys() -> Table:
    """Return the alloys with the values used and the published ranges."""
    from biomech.alloys import REGISTRY

    out = table(
        "Alloys (wire.NAME.alloy): value used and published range",
        "name", "Young's modulus, GPa", "elastic limit, MPa", "note", left=["note"],
    )  # fmt: skip
    for name, alloy in REGISTRY.items():
        low, high = (e / 1e3 for e in alloy.young_range)
        least, most = alloy.elastic_limit_range
        out.add_row(
            name, f"{alloy.young / 1e3:g} ({low:g} to {high:g})", f"{alloy.elastic_limit:g} ({least:g} to {most:g})",
            alloy.note,
        )  # fmt: skip
    return out


def temperatures() -> Table:
    """Return what temperature does to the alloys; those that are alike share a row."""
    from biomech.alloys import REGISTRY

    out = table(
        "Alloys and temperature (temperature, wire.NAME.temperature)",
        "name",
        "what it does",
        left=["what it does"],
    )
    alike: dict[str, list[str]] = {}
    for name, alloy in REGISTRY.items():
        said = alloy.about_temperature().removeprefix(f"alloy '{name}': ").replace(f" of alloy '{name}'", "")
        alike.setdefault(said, []).append(name)
    for said, names in sorted(alike.items(), key=lambda pair: len(pair[1])):
        out.add_row(names[0] if len(names) == 1 else "all others", said)
    return out


def ligaments() -> Table:
    """Return the ligament laws with their default values."""
    from biomech.ligaments import REGISTRY

    out = table("Ligament laws (ligament.law)", "name", "summary", "default values", left=["summary", "default values"])
    units = {"young": " MPa", "second_young": " MPa", "thickness": " mm"}
    for name, law in REGISTRY.items():
        values = (f"{f.name} {f.default:g}{units.get(f.name, '')}" for f in fields(law))
        out.add_row(name, _summary(law), ", ".join(values))
    out.add_row("rigid", "Teeth that cannot move.", "")
    return out


def models() -> Table:
    """Return the ways a ligament may bear on a root."""
    from biomech.ligaments import MODELS

    out = table("Models of the ligament (ligament.model)", "name", "summary", left=["summary"])
    for name, summary in MODELS.items():
        out.add_row(name, summary)
    return out


def holds() -> Table:
    """Return the ways a tooth holds a wire."""
    from biomech.attachments import REGISTRY

    out = table("Holds (by, in wire.NAME.hold)", "name", "summary", left=["summary"])
    for name, kind in REGISTRY.items():
        out.add_row(name, kind.summary)
    return out


def _summary(law: type) -> str:
    """Return the first sentence of a class's docstring."""
    return (inspect.getdoc(law) or "").splitlines()[0]
