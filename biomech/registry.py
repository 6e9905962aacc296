"""Families of interchangeable parts: a folder whose files register themselves by name."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Any, Generic, TypeVar

from biomech.errors import InputError, nearest

T = TypeVar("T")


class Registry(Generic[T]):
    """Named members of one family.

    `family` is the word used in messages ("alloy"). With `package` (a dotted name), every module of
    that package is imported on the first look-up, so that adding a member is adding one file.
    """

    def __init__(self, family: str, package: str | None = None) -> None:
        self.family = family
        self._package = package
        self._items: dict[str, T] = {}
        self._loaded = package is None

    def register(self, name: str, item: T) -> T:
        """Add `item` under `name` and return it. A second item of the same name is a programming error."""
        if name in self._items:
            raise RuntimeError(f"{self.family} '{name}' is registered twice")
        self._items[name] = item
        return item

    def get(self, name: str) -> T:
        """Return the member called `name`; an unknown name raises InputError listing the known ones."""
        self._load()
        try:
            return self._items[name]
        except KeyError:
            known = ", ".join(f"'{k}'" for k in sorted(self._items))
            hint = nearest(str(name), self._items)
            raise InputError(f"unknown {self.family} '{name}'; known: {known}.{hint}") from None

    def names(self) -> list[str]:
        """Return the names of all members, sorted."""
        self._load()
        return sorted(self._items)

    def items(self) -> Iterator[tuple[str, T]]:
        """Iterate over (name, member), sorted by name."""
        self._load()
        yield from sorted(self._items.items())

    def _load(self) -> None:
        if self._loaded:
            return
        self._loaded = True
        assert self._package is not None
        package = importlib.import_module(self._package)
        for module in pkgutil.iter_modules(package.__path__):
            if not module.name.startswith("_"):
                importlib.import_module(f"{self._package}.{module.name}")


def with_values(kind: type[T], values: Mapping[str, float], what: str) -> T:
    """Return a member of a family of dataclasses with the given `values`, the rest at their defaults.

    An unknown key raises InputError that names it, `what` it was given for, the known keys and the nearest.
    """
    known = [f.name for f in fields(kind)]  # type: ignore[arg-type]
    for key in values:
        if key not in known:
            hint = nearest(key, known)
            raise InputError(f"unknown key '{key}' of the {what}; known: {', '.join(known)}.{hint}")
    made: Any = kind(**values)
    out: T = made
    return out
