"""Frames joined by links, assembled into one banded system.

Unknowns are six per free frame (body twist: x <- x + R v, R <- R exp(w)), renumbered so that the tangent has a
narrow band. The tangent is symmetrised: its skew part vanishes at equilibrium, but for loads without a potential.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from biomech.mechanics.bundles import Bundle, bundles_of, share_offsets
from biomech.mechanics.kinematics import Kinematics
from biomech.mechanics.links import Law, Links, Response, State
from biomech.mechanics.loads import Loads
from biomech.mechanics.numbering import narrowest
from biomech.mechanics.poses import Array, Pose

Respond = Callable[[int, Law, Array, State], Response]


@dataclass(frozen=True)
class Evaluation:
    """All groups of links at one configuration; `bundled` is the kinematics of every bundle of `bundles`."""

    kinematics: list[Kinematics]
    responses: list[Response]
    forces: list[Array]
    bundles: list[Bundle]
    bundled: list[Kinematics]

    def materials(self, coupled: bool = False) -> list[Array]:
        """Return the laws' tangents (batch, N, 6, 6) by bundle; `coupled`: with what friction couples in."""
        tangents = [r.tangent for r in self.responses]
        if coupled:
            tangents = [r.tangent if r.coupling is None else r.tangent + r.coupling for r in self.responses]
        return [bundle.gathered(tangents, 3) for bundle in self.bundles]

    @property
    def states(self) -> list[State]:
        """The states a converged step keeps, one per group."""
        return [r.state for r in self.responses]


class Network:
    """`frames` frames, some of them fixed, joined by groups of links and loaded.

    `fixed` (frames,) bool: True for frames whose pose is given. `labels` name the frames in messages.
    """

    def __init__(
        self,
        frames: int,
        fixed: np.ndarray,
        groups: Sequence[Links],
        loads: Loads | None = None,
        labels: Sequence[str] = (),
    ) -> None:
        self.frames = frames
        self.fixed = np.asarray(fixed, dtype=bool)
        self.groups = list(groups)
        self.loads = loads if loads is not None else Loads.none()
        self.labels = tuple(labels) or tuple(f"frame {i}" for i in range(frames))

    def replaced(self, groups: Sequence[Links] | None = None, loads: Loads | None = None) -> Network:
        """Return the same network with other laws or loads; the topology must be unchanged."""
        new = Network(self.frames, self.fixed, groups or self.groups, loads or self.loads, self.labels)
        self.tangent_places()
        for name in ("order", "band", "_maps", "free", "bundles"):
            if name in self.__dict__ and (name != "bundles" or share_offsets(new.groups, self.groups)):
                new.__dict__[name] = self.__dict__[name]
        return new

    @cached_property
    def free(self) -> np.ndarray:
        """Indices of the free frames, in the order of the unknowns."""
        found: np.ndarray = self.order[0]
        return found

    @property
    def unknowns(self) -> int:
        """Number of scalar unknowns."""
        return 6 * len(self.free)

    @cached_property
    def order(self) -> tuple[np.ndarray, np.ndarray]:
        """(free frames in elimination order, position of every frame in it or -1)."""
        free = np.flatnonzero(~self.fixed)
        best = narrowest(free, self._pairs(), self.frames)
        place = np.full(self.frames, -1)
        place[best] = np.arange(len(best))
        return best, place

    def _pairs(self) -> np.ndarray:
        pairs = [np.stack([g.a, g.b], axis=1) for g in self.groups] or [np.zeros((0, 2), dtype=int)]
        both = np.concatenate(pairs)
        free: np.ndarray = both[~self.fixed[both].any(axis=1)]
        return free

    @cached_property
    def band(self) -> int:
        """Number of sub-diagonals of the tangent."""
        _, place = self.order
        pairs = place[self._pairs()]
        width = int(np.abs(pairs[:, 0] - pairs[:, 1]).max(initial=0))
        return min(6 * width + 5, self.unknowns - 1)

    @cached_property
    def _maps(self) -> tuple[list[np.ndarray], np.ndarray, np.ndarray, dict[int, np.ndarray]]:
        """Which of a bundle's 144 n entries (loads last, 36 n) count; where they go; where the groups' forces go.

        Last what `unknowns_of` has been asked for.
        """
        _, place = self.order
        loaded = _dofs(place[self.loads.frame])
        dofs = [self._both(g) for g in (*(bundle.links for bundle in self.bundles), *self.groups)]
        count = len(self.bundles)
        pairs = [self._band_map(dof) for dof in (*dofs[:count], loaded)]
        forces = np.concatenate([dof.ravel() for dof in (*dofs[count:], loaded)]) % (self.unknowns + 1)
        return [keep for keep, _ in pairs], np.concatenate([where for _, where in pairs]), forces, {}

    def unknowns_of(self, group: int) -> np.ndarray:
        """Return the unknowns (n, 12) of both frames of a group's links; the number of unknowns for a fixed one's."""
        known = self._maps[3]
        if group not in known:
            known[group] = self._both(self.groups[group]) % (self.unknowns + 1)
        return known[group]

    def _both(self, links: Links) -> np.ndarray:
        _, place = self.order
        return np.concatenate([_dofs(place[links.a]), _dofs(place[links.b])], axis=1)

    @cached_property
    def bundles(self) -> list[Bundle]:
        """The groups of links, those of the same kinematics together."""
        return bundles_of(self.groups)

    def tangent_places(self) -> None:
        """Work out once where everything goes, so that copies made with `replaced` share it."""
        _ = self._maps

    def _band_map(self, dof: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        row, col = np.broadcast_arrays(dof[:, :, None], dof[:, None, :])
        keep = np.flatnonzero(((row >= col) & (col >= 0)).ravel())
        row, col = row.ravel()[keep], col.ravel()[keep]
        return keep, col * (self.band + 1) + (row - col)

    def evaluate(
        self, poses: Pose, states: Sequence[State], activation: float = 1.0, respond: Respond | None = None
    ) -> Evaluation:
        """Evaluate every group at `poses` (batch..., frames); `activation` scales the links' shifts.

        `respond(number, law, strain, state)` may stand in for the laws' own response.
        """
        bundled = [bundle.links.evaluate(poses) for bundle in self.bundles]
        parts = {i: k.part(rows) for b, k in zip(self.bundles, bundled, strict=True) for i, rows in b.members}
        kinematics = [parts[i] for i in range(len(self.groups))]
        responses = []
        for i, (g, k, state) in enumerate(zip(self.groups, kinematics, states, strict=True)):
            strain = g.effective(k.strain, activation)
            responses.append(g.law.respond(strain, state) if respond is None else respond(i, g.law, strain, state))
        stresses = [r.stress for r in responses]
        forces: dict[int, Array] = {}
        for bundle, whole in zip(self.bundles, bundled, strict=True):
            forces |= bundle.scattered(whole.to_frames(bundle.gathered(stresses, 2)))
        return Evaluation(
            kinematics, responses, [forces[i] for i in range(len(self.groups))], self.bundles, bundled
        )

    def residual(self, evaluation: Evaluation, poses: Pose, activation: float = 1.0) -> Array:
        """Return internal minus applied generalised forces (batch, unknowns)."""
        where = self._maps[2]
        batch = poses.position.shape[0]
        size = self.unknowns + 1  # the last entry collects what falls on fixed frames
        values = [force.reshape(force.shape[0], -1) for force in evaluation.forces]
        if len(self.loads):
            values.append(-activation * self.loads.wrenches(poses).reshape(batch, -1))
        return _summed(where, values, batch, size)[:, :-1]

    def tangent(
        self,
        evaluation: Evaluation,
        poses: Pose,
        stresses: Sequence[Array] | None = None,
        activation: float = 1.0,
        exact: bool = False,
        coupled: bool = False,
    ) -> Array:
        """Return the symmetrised tangent in lower band storage (batch, unknowns, band + 1).

        `stresses` are the link stresses of the geometric part: those predicted by the previous step for the mixed
        Newton scheme, the true ones when left out. `exact` adds the small terms that Newton does without (see
        Kinematics.tangent); use it for stability and sensitivities. `coupled` adds what friction couples in.
        """
        parts = self._parts(evaluation, poses, stresses, activation, exact, coupled)
        return self._assembled(parts, poses, 1.0)

    def flat_tangent(self, evaluation: Evaluation, poses: Pose) -> Array:
        """Return the tangent without any geometric part, as `tangent` does: Gauss-Newton, never negative."""
        whole = zip(evaluation.bundled, evaluation.materials(), strict=True)
        parts = [k.flat_tangent(material) for k, material in whole]
        return self._assembled([*parts, np.zeros((1, len(self.loads), 6, 6))], poses, 1.0)

    def skew(
        self,
        evaluation: Evaluation,
        poses: Pose,
        stresses: Sequence[Array] | None = None,
        activation: float = 1.0,
        exact: bool = False,
        coupled: bool = False,
    ) -> Array:
        """Return the lower triangle of the tangent's skew part, arguments and storage as for `tangent`.

        At equilibrium it vanishes unless some load has no potential or something slides with friction.
        """
        parts = self._parts(evaluation, poses, stresses, activation, exact, coupled)
        return self._assembled(parts, poses, -1.0)

    def has_potential(self, evaluation: Evaluation) -> bool:
        """Return whether the exact tangent is symmetric at equilibrium."""
        return self.loads.has_potential and all(r.coupling is None for r in evaluation.responses)

    def _parts(
        self,
        evaluation: Evaluation,
        poses: Pose,
        stresses: Sequence[Array] | None,
        activation: float,
        exact: bool,
        coupled: bool,
    ) -> list[Array]:
        """Return the matrices of all bundles (batch, N, 12, 12) and of the loads (..., n, 6, 6)."""
        if stresses is None:
            stresses = [r.stress for r in evaluation.responses]
        whole = zip(self.bundles, evaluation.bundled, evaluation.materials(coupled), strict=True)
        parts = [k.tangent(material, bundle.gathered(stresses, 2), exact) for bundle, k, material in whole]
        return [*parts, -activation * self.loads.tangent(poses)]

    def _assembled(self, parts: Sequence[Array], poses: Pose, sign: float) -> Array:
        """Assemble half of every matrix plus or minus its transpose."""
        keeps, where, *_ = self._maps
        batch, width = poses.position.shape[0], self.band + 1
        values = []
        for keep, part in zip(keeps, parts, strict=True):
            if not part.shape[-3]:
                continue
            turned = np.swapaxes(part, -1, -2)
            both = part + turned if sign > 0 else part - turned
            values.append(both.reshape(part.shape[0], -1).take(keep, axis=1))
        flat = _summed(where, values, batch, self.unknowns * width)
        flat *= 0.5  # of each matrix and its transpose
        return flat.reshape(batch, self.unknowns, width)

    def energy(
        self, poses: Pose, states: Sequence[State], activation: float = 1.0, evaluation: Evaluation | None = None
    ) -> Array:
        """Return stored energy plus potential of the dead forces (batch,), N.mm; `evaluation` at `poses` saves work."""
        total = np.zeros(poses.position.shape[0])
        for i, (g, state) in enumerate(zip(self.groups, states, strict=True)):
            strain = g.strain(poses) if evaluation is None else evaluation.kinematics[i].strain
            total = total + g.law.energy(g.effective(strain, activation), state).sum(axis=-1)
        if len(self.loads):
            total = total + activation * self.loads.potential(poses)
        return total

    def start_states(self) -> list[State]:
        """Return the states of links that have never been loaded."""
        return [g.law.start() for g in self.groups]

    def frame_steps(self, dq: Array) -> Array:
        """Return body twists (batch, frames, 6) of all frames from unknowns (batch, unknowns); fixed ones zero."""
        out = np.zeros((dq.shape[0], self.frames, 6))
        out[:, self.free] = dq.reshape(dq.shape[0], -1, 6)
        return out


def _dofs(place: np.ndarray) -> np.ndarray:
    return np.where(place[:, None] >= 0, 6 * place[:, None] + np.arange(6), -1)


def _summed(where: np.ndarray, values: list[Array], batch: int, size: int) -> Array:
    """Return (batch, size) with the values, group by group, added up at the places `where`."""
    if not values:
        return np.zeros((batch, size))
    if batch == 1:
        whole = np.concatenate(values, axis=1)[0]
        return np.asarray(np.bincount(where, weights=whole, minlength=size), dtype=float)[None]
    out = np.empty((batch, size))
    for i in range(batch):
        mine = np.concatenate([v[min(i, v.shape[0] - 1)] for v in values])
        out[i] = np.bincount(where, weights=mine, minlength=size)
    return out
