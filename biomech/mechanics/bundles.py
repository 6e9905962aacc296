"""Groups of links of the same kinematics evaluated as one: a small model's time goes into calls, not into numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from biomech.mechanics.links import Linear, Links
from biomech.mechanics.poses import Array, Pose, identity


@dataclass(frozen=True)
class Bundle:
    """The links of several groups one behind the other; `members`: number of every group and its rows."""

    links: Links
    members: tuple[tuple[int, slice], ...]

    def gathered(self, values: Sequence[Array], axes: int) -> Array:
        """Return the members' values (batch, n, ...) as one array (batch, N, ...); `values` are those of all groups.

        A value has `axes` axes without those of a batch, which may be missing.
        """
        mine = [(values[i], rows) for i, rows in self.members]
        sizes = {v.shape[0] for v, _ in mine} if all(v.ndim > axes for v, _ in mine) else set()
        if len(sizes) == 1:
            return np.concatenate([v for v, _ in mine], axis=1)
        batch = max((v.shape[0] for v, _ in mine if v.ndim > axes), default=1)
        out = np.empty((batch, len(self.links), *mine[0][0].shape[mine[0][0].ndim - axes + 1 :]))
        for value, rows in mine:
            out[:, rows] = value
        return out

    def scattered(self, values: Array) -> dict[int, Array]:
        """Return an array (batch, N, ...) by number of the group."""
        return {i: values[:, rows] for i, rows in self.members}


def bundles_of(groups: Sequence[Links]) -> list[Bundle]:
    """Return the bundles of all groups; their links have no law of their own."""
    out = []
    for kind in dict.fromkeys(g.kinematics for g in groups):
        mine = [(i, g) for i, g in enumerate(groups) if g.kinematics == kind]
        ends = np.cumsum([0, *(len(g) for _, g in mine)])
        members = tuple((i, slice(int(ends[k]), int(ends[k + 1]))) for k, (i, _) in enumerate(mine))
        links = Links(
            kind,
            np.concatenate([g.a for _, g in mine]),
            np.concatenate([g.b for _, g in mine]),
            Linear(np.zeros((6, 6))),
            kind,
            _joined([g.offset_a for _, g in mine], [len(g) for _, g in mine]),
            _joined([g.offset_b for _, g in mine], [len(g) for _, g in mine]),
        )
        out.append(Bundle(links, members))
    return out


def share_offsets(groups: Sequence[Links], others: Sequence[Links]) -> bool:
    """Return whether two lists of groups have the very same offsets, so that their bundles are the same."""
    return all(g.offset_a is h.offset_a and g.offset_b is h.offset_b for g, h in zip(groups, others, strict=True))


def _joined(offsets: Sequence[Pose | None], sizes: Sequence[int]) -> Pose | None:
    """Return the offsets one behind the other; None when there are none."""
    if all(o is None for o in offsets):
        return None
    whole = [identity(n) if o is None else o for o, n in zip(offsets, sizes, strict=True)]
    batch = np.broadcast_shapes(*(o.position.shape[:-2] for o in whole))
    rotations = [np.broadcast_to(o.rotation, (*batch, n, 3, 3)) for o, n in zip(whole, sizes, strict=True)]
    positions = [np.broadcast_to(o.position, (*batch, n, 3)) for o, n in zip(whole, sizes, strict=True)]
    return Pose(np.concatenate(rotations, axis=-3), np.concatenate(positions, axis=-2))
