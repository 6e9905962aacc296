"""States of links: arrays, or tuples, lists, mappings and dataclasses of arrays, nested as a law likes.

Every array has the links as its first axis, as `Law.start` returns it, and behind that whatever the law needs; in a
batch of variants it has one more axis in front.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np


def mapped(change: Callable[..., Any], state: Any, *others: Any) -> Any:
    """Return `state` with every array replaced by `change(array, *arrays of the others at the same place)`.

    All must have the structure of `state`; whatever is no array (numbers, texts, None) is kept.
    """
    if isinstance(state, np.ndarray):
        return change(state, *others)
    if is_dataclass(state) and not isinstance(state, type):
        names = [f.name for f in fields(state) if f.init]
        parts = {k: mapped(change, getattr(state, k), *(getattr(o, k) for o in others)) for k in names}
        return replace(state, **parts)
    if isinstance(state, Mapping):
        return {k: mapped(change, v, *(o[k] for o in others)) for k, v in state.items()}
    if isinstance(state, tuple | list):
        items = [mapped(change, *one) for one in zip(state, *others, strict=True)]
        return type(state)(*items) if hasattr(state, "_fields") else type(state)(items)
    return state


def arrays_of(state: Any) -> list[np.ndarray]:
    """Return all arrays of a state, in the order in which `mapped` meets them."""
    found: list[np.ndarray] = []

    def note(array: np.ndarray) -> np.ndarray:
        found.append(array)
        return array

    mapped(note, state)
    return found


def with_arrays(state: Any, arrays: Sequence[np.ndarray]) -> Any:
    """Return `state` with its arrays replaced by others, in the order of `arrays_of`."""
    left = iter(arrays)
    return mapped(lambda _: next(left), state)


def picked(state: Any, start: Any, which: np.ndarray) -> Any:
    """Return the state of some of the variants, `which` (k,) being their places; `start` is that of a single one.

    Arrays with no axis in front of those of `start`, or with one variant for all, are kept.
    """
    return mapped(lambda a, one: a[which] if a.ndim > one.ndim and a.shape[0] > 1 else a, state, start)


def joined(states: Sequence[Any], start: Any) -> Any:
    """Return the states of several blocks of variants as one; arrays without an axis of variants are kept once."""
    first, *others = states
    return mapped(lambda one, a, *more: np.concatenate([a, *more]) if a.ndim > one.ndim else a, start, first, *others)


def alike(state: Any, other: Any) -> bool:
    """Return whether two states have the same structure, and arrays with the same axes behind those of variants."""
    try:
        pairs: list[bool] = []

        def compare(a: np.ndarray, b: np.ndarray) -> np.ndarray:
            least = min(a.ndim, b.ndim)
            pairs.append(a.shape[a.ndim - least :] == b.shape[b.ndim - least :])
            return a

        mapped(compare, state, other)
    except (TypeError, ValueError, KeyError, AttributeError):
        return False
    return type(state) is type(other) and all(pairs)


def same(states: Sequence[Any], others: Sequence[Any]) -> bool:
    """Return whether two lists of states of the same links hold the very same numbers."""
    pairs = zip(states, others, strict=True)
    return all(
        a is b or all(np.array_equal(x, y) for x, y in zip(arrays_of(a), arrays_of(b), strict=True)) for a, b in pairs
    )
