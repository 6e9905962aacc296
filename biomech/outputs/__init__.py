"""What is reported of every tooth: one file per quantity, found by the registry.

Each file registers an `Output`: key (with its unit, as it stands in result.json), title, unit, and how it is computed
from a `ToothView`. A value is a number, a text, None where the quantity does not exist, or a table of those by name.
Adding a quantity is adding a file; JSON, CSV, the terminal and the tests pick it up.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from biomech.outputs._view import ToothView, tooth_view, tooth_views
from biomech.registry import Registry

Value = float | str | None | Mapping[str, float | str | None]

__all__ = ["REGISTRY", "Output", "ToothView", "Value", "report", "tooth_view", "tooth_views"]


@dataclass(frozen=True)
class Output:
    """One quantity of a tooth: `key` in files, `title` for people, `unit`, `compute`."""

    key: str
    title: str
    unit: str
    compute: Callable[[ToothView], Value]


REGISTRY: Registry[Output] = Registry("output", "biomech.outputs")


def add(key: str, title: str, unit: str) -> Callable[[Callable[[ToothView], Value]], Callable[[ToothView], Value]]:
    """Register the decorated function as the output `key`."""

    def register(compute: Callable[[ToothView], Value]) -> Callable[[ToothView], Value]:
        REGISTRY.register(key, Output(key, title, unit, compute))
        return compute

    return register


def report(view: ToothView) -> dict[str, Value]:
    """Return all quantities of one tooth by key."""
    return {key: output.compute(view) for key, output in REGISTRY.items()}
