"""States of links in any form that holds arrays: variants picked, blocks joined, stored."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, NamedTuple

import numpy as np
import pytest

from biomech.errors import InputError
from biomech.mechanics.batch import pick, pick_states, stack
from biomech.mechanics.links import Law, Links, Response, State
from biomech.mechanics.network import Network
from biomech.mechanics.poses import Array, identity
from biomech.mechanics.states import alike, arrays_of, joined, mapped, picked, with_arrays


class Pair(NamedTuple):
    strain: np.ndarray
    share: np.ndarray


@dataclass(frozen=True)
class Memory:
    fibres: np.ndarray
    turned: Pair
    name: str = "wire"


def start(n: int = 3) -> State:
    """Links first, then what each needs: more axes than a batch of numbers would have."""
    return {"m": Memory(np.zeros((n, 4, 2)), Pair(np.zeros(n), np.zeros((n, 5)))), "last": [np.zeros((n, 2)), None]}


def batch(size: int, n: int = 3) -> State:
    count = iter(range(100))
    return mapped(lambda a: np.random.default_rng(next(count)).normal(size=(size, *a.shape)), start(n))


def test_variants_are_picked_in_every_form_and_a_state_without_batch_is_kept() -> None:
    state, which = batch(7), np.array([5, 1])
    some = picked(state, start(), which)
    for a, b in zip(arrays_of(some), arrays_of(state), strict=True):
        np.testing.assert_array_equal(a, b[which])
    assert some["m"].name == "wire" and some["last"][1] is None and isinstance(some["m"].turned, Pair)
    # as many links as variants: still told apart by the number of axes
    kept = picked(start(7), start(7), which)
    assert [a.shape for a in arrays_of(kept)] == [a.shape for a in arrays_of(start(7))]
    for a, b in zip(arrays_of(picked(batch(1), start(), np.array([0]))), arrays_of(batch(1)), strict=True):
        np.testing.assert_array_equal(a, b)


def test_blocks_are_joined_as_they_were_cut() -> None:
    state = batch(5)
    parts = [picked(state, start(), np.array(w)) for w in ([0, 1], [2, 3, 4])]
    for a, b in zip(arrays_of(joined(parts, start())), arrays_of(state), strict=True):
        np.testing.assert_array_equal(a, b)
    assert arrays_of(joined([start(), start()], start()))[0].shape == (3, 4, 2)


def test_arrays_out_and_in_again() -> None:
    state = batch(2)
    again = with_arrays(start(), arrays_of(state))
    for a, b in zip(arrays_of(again), arrays_of(state), strict=True):
        assert a is b
    assert alike(start(), state) and not alike(start(), start(4)) and not alike(start(), None)
    assert not alike(start(), {"m": 1.0, "last": [np.zeros((3, 2)), None]})


@dataclass(frozen=True)
class Remembering(Law):
    """Three links; the fibres' table has two axes of its own, the part inside a mapping one."""

    own_axes: ClassVar = {"table": 2}
    table: Array
    parts: dict[str, Array]

    def respond(self, strain: Array, state: State) -> Response:
        grown = {"peak": np.maximum(np.abs(strain[..., 0]), state["peak"]), "all": state["all"] + self.table}
        return Response(self.parts["k"] * strain, np.broadcast_to(np.eye(6), (*strain.shape, 6)), grown)

    def energy(self, strain: Array, state: State) -> Array:
        return 0.5 * (strain**2).sum(axis=-1)

    def start(self) -> State:
        return {"peak": np.zeros(3), "all": np.zeros((3, 2))}


def network(table: float, stiffness: float, key: str = "k") -> Network:
    law = Remembering(np.full((3, 2), table), {key: np.array(stiffness)})
    return Network(4, np.array([True, False, False, False]), [Links("r", np.arange(3), np.arange(1, 4), law)])


def test_a_law_with_a_mapping_of_arrays_is_stacked_evaluated_and_picked() -> None:
    alone = [network(t, 2.0) for t in (1.0, 2.0, 3.0)]
    poses = [identity(1, 4) for _ in alone]
    for i, pose in enumerate(poses):
        pose.position[0, :, 0] = (1 + i) * np.arange(4)
    many, start_poses = stack(alone, poses)
    evaluation = many.evaluate(start_poses, many.start_states())
    which = np.array([2, 0])
    some, theirs = pick(many, which), pick_states(many, evaluation.states, which)
    np.testing.assert_array_equal(some.groups[0].law.table[:, 0, 0], [3.0, 1.0])  # type: ignore[attr-defined]
    np.testing.assert_array_equal(theirs[0]["peak"], [[3.0] * 3, [1.0] * 3])
    np.testing.assert_array_equal(theirs[0]["all"][:, 0, 0], [3.0, 1.0])
    with pytest.raises(InputError, match="parts"):
        stack([network(1.0, 2.0), network(1.0, 2.0, "other")], poses[:2])
