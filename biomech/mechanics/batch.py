"""Many variants of one network solved in one call: their numbers stacked on a leading axis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np

from biomech.errors import InputError
from biomech.mechanics import states as memory
from biomech.mechanics.links import Law, Links, State
from biomech.mechanics.network import Network
from biomech.mechanics.poses import Pose


def stack(networks: Sequence[Network], starts: Sequence[Pose]) -> tuple[Network, Pose]:
    """Return one network and start (batch, frames) of variants that share frames, links and law types.

    Numbers that differ between variants get a leading batch axis, those that do not are kept once. Raises InputError
    when the variants do not have the same topology, or differ in something that cannot be stacked.
    """
    first = networks[0]
    for other in networks[1:]:
        _same_topology(first, other)
    groups = [_stack_links([n.groups[i] for n in networks]) for i in range(len(first.groups))]
    loads = _stack([n.loads for n in networks], "loads")
    start = Pose(
        np.concatenate([s.rotation for s in starts]), np.concatenate([s.position for s in starts])
    )
    return first.replaced(groups, loads), start


def _same_topology(a: Network, b: Network) -> None:
    same = a.frames == b.frames and len(a.groups) == len(b.groups) and np.array_equal(a.fixed, b.fixed)
    same = same and all(
        np.array_equal(g.a, h.a) and np.array_equal(g.b, h.b) and type(g.law) is type(h.law)
        for g, h in zip(a.groups, b.groups, strict=False)
    )
    if not same:
        raise InputError(
            "the variants differ in their teeth, stations or holds; only numbers (sizes, moduli, bends, "
            "widening, stiffnesses) may differ in one batch"
        )


def _stack_links(groups: list[Links]) -> Links:
    first = groups[0]
    return replace(
        first,
        law=_stack([g.law for g in groups], f"law of {first.name}"),
        offset_a=_stack_pose([g.offset_a for g in groups]),
        offset_b=_stack_pose([g.offset_b for g in groups]),
        shift=_stack([g.shift for g in groups], f"shift of {first.name}"),
        _cache={},
    )


def _stack_pose(poses: list[Pose | None]) -> Pose | None:
    if poses[0] is None:
        return None
    rotation = _stack([p.rotation for p in poses if p is not None], "offsets")
    position = _stack([p.position for p in poses if p is not None], "offsets")
    return Pose(rotation, position)


def _stack(values: list[Any], what: str) -> Any:
    """Stack arrays on a new first axis where they differ; go into what holds arrays; refuse the rest unless equal."""
    first = values[0]
    if isinstance(first, Mapping):
        _same_places([set(v) for v in values], what)
        return {k: _stack([v[k] for v in values], f"{what}: {k}") for k in first}
    if isinstance(first, tuple | list):
        _same_places([len(v) for v in values], what)
        parts = [_stack(list(items), what) for items in zip(*values, strict=True)]
        return type(first)(*parts) if hasattr(first, "_fields") else type(first)(parts)
    if is_dataclass(first) and not isinstance(first, type):
        changed = {f.name: _stack([getattr(v, f.name) for v in values], f"{what}: {f.name}") for f in fields(first)}
        return replace(first, **changed)
    if isinstance(first, np.ndarray | float | int):
        same = all(np.array_equal(first, v) for v in values[1:])
        return first if same else np.stack([np.asarray(v) for v in values])
    if all(v is first or v == first for v in values[1:]):
        return first
    raise InputError(f"the variants differ in the {what}, which one batch cannot hold")


def _same_places(places: Sequence[Any], what: str) -> None:
    if any(p != places[0] for p in places[1:]):
        raise InputError(f"the variants differ in the {what}, which one batch cannot hold")


def pick(network: Network, which: np.ndarray) -> Network:
    """Return the network of some of the variants; `which` (k,) are their places in the batch."""
    groups = [
        replace(
            g,
            law=_pick(g.law, which),
            offset_a=_pick_pose(g.offset_a, which),
            offset_b=_pick_pose(g.offset_b, which),
            shift=_pick_array(g.shift, 2, which),
            _cache={},
        )
        for g in network.groups
    ]
    loads = replace(
        network.loads,
        point=_pick_array(network.loads.point, 2, which),
        force=_pick_array(network.loads.force, 2, which),
        moment=_pick_array(network.loads.moment, 2, which),
    )
    return network.replaced(groups, loads)


def pick_states(network: Network, states: Sequence[State], which: np.ndarray) -> list[State]:
    """Return the links' states of some of the variants; `network` tells how a state without batch looks."""
    return [memory.picked(s, start, which) for s, start in zip(states, network.start_states(), strict=True)]


def _pick(law: Any, which: np.ndarray) -> Any:
    """Take variants of a law's arrays, and of those of its parts; see Law.own_axes."""
    if not is_dataclass(law) or isinstance(law, type):
        return law
    base = law.own_axes if isinstance(law, Law) else {}
    changed = {}
    for f in fields(law):
        value = getattr(law, f.name)
        nested = is_dataclass(value) and not isinstance(value, type)
        changed[f.name] = _pick(value, which) if nested else _pick_array(value, base.get(f.name, 1), which)
    return replace(law, **changed)


def _pick_array(value: Any, axes: int, which: np.ndarray) -> Any:
    batched = isinstance(value, np.ndarray) and value.ndim > axes and value.shape[0] > 1
    return value[which] if batched else value


def _pick_pose(pose: Pose | None, which: np.ndarray) -> Pose | None:
    if pose is None:
        return None
    return Pose(_pick_array(pose.rotation, 3, which), _pick_array(pose.position, 2, which))
