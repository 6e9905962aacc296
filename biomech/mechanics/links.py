"""Links between frames: relative-pose kinematics, the laws they carry, loads on a frame.

A link joins frame a to frame b, each end with a fixed offset. Its strain e (6) depends only on the relative
pose, its law gives the stress m (6) dual to e. Two kinematics exist:

* "pose": e = log(Ga^-1 Gb), the SE(3) logarithm (beam elements, the ligament of a tooth);
* "section": e = (Ra^T (xb - xa), log(Ra^T Rb)), the position of b seen in a's axes and the relative rotation
  (attachments and ties, where b may slide far along a).

Every array may carry leading batch axes before the link axis.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, ClassVar, Literal, NamedTuple

import numpy as np

from biomech.mechanics.poses import (
    Array,
    Pose,
    adjoint,
    apply,
    coad,
    even_coefficients,
    hat,
    jacobian_inverse,
    log_coefficients,
    pose_log,
    rotation_log,
)

_EYE3 = np.eye(3)
State = Any


class Response(NamedTuple):
    """Stress (..., n, 6), tangent (..., n, 6, 6) and the state that a converged step would keep.

    `coupling` (..., n, 6, 6) is what the tangent leaves out to stay symmetric: friction grows with what presses the
    parts together, but not the other way round.
    """

    stress: Array
    tangent: Array
    state: State
    coupling: Array | None = None


class Law(ABC):
    """A constitutive law of n links: stress from strain, with memory.

    `own_axes`: by name of a field, how many axes its array has without those of a batch, where that is not one (the
    links). For states see mechanics.states.
    """

    own_axes: ClassVar[Mapping[str, int]] = {}
    goes_by_path: ClassVar[bool] = False
    """Whether the state is to be kept at every step of a growing activation, not only at its end."""

    @abstractmethod
    def respond(self, strain: Array, state: State) -> Response:
        """Return stress, tangent and the new state at `strain` (..., n, 6), coming from `state`."""

    @abstractmethod
    def energy(self, strain: Array, state: State) -> Array:
        """Return the stored (for laws with memory: incremental) energy (..., n), N.mm."""

    def start(self) -> State:
        """Return the state of links that have never been loaded, without batch axes; None for no memory."""
        return None

    def resting(self, state: State) -> Array | float:
        """Return the strain (..., n, 6) from which links in this state are loaded when the activation grows."""
        return 0.0

    def keeps_memory_of(self, other: Law) -> bool:
        """Return whether links that followed the law `other` until now go on with what they remember."""
        return type(other) is type(self)

    def elastic_from(self, state: State) -> Law:
        """Return these links as they are for small steps back from `state`; the laws that go by a path must say."""
        return self

    def respond_beside(self, strain: Array, expected: Array, state: State) -> Response:
        """Return the response at `expected` with the rest of the strain answered elastically, see `foresight`."""
        return self.respond(strain, state)


@dataclass(frozen=True)
class Linear(Law):
    """m = K (e - rest): stiffness (..., n, 6, 6), rest strain (..., n, 6)."""

    own_axes: ClassVar[Mapping[str, int]] = {"stiffness": 3, "rest": 2}

    stiffness: Array
    rest: Array | float = 0.0

    def respond(self, strain: Array, state: State) -> Response:
        """See Law.respond; the state is passed through."""
        return Response(apply(self.stiffness, strain - self.rest), self.stiffness, state)

    def resting(self, state: State) -> Array | float:
        """See Law.resting: free of stress."""
        return self.rest

    def take(self, rows: np.ndarray) -> Linear:
        """Return the law of some of the links."""
        rest: Array | float = self.rest if np.ndim(self.rest) == 0 else np.asarray(self.rest)[..., rows, :]
        return Linear(self.stiffness[..., rows, :, :], rest)

    def energy(self, strain: Array, state: State) -> Array:
        """Return (e - rest)^T K (e - rest) / 2."""
        e = strain - self.rest
        out: Array = 0.5 * np.einsum("...i,...i", e, apply(self.stiffness, e))
        return out


@dataclass(frozen=True)
class Links:
    """A group of n links that share kinematics and law.

    `a`, `b`: frame indices (n,). `offset_a`, `offset_b`: poses with shapes (..., n, 3, 3) and (..., n, 3), or None.
    `shift` (..., n, 6) is the strain subtracted while the activation is below one: the law sees
    e - (1 - activation) shift, so that shift = (strain at the start) - (stress-free strain) makes the start
    passive at activation zero. `labels` name the links in messages.
    """

    name: str
    a: np.ndarray
    b: np.ndarray
    law: Law
    kinematics: Literal["pose", "section"] = "pose"
    offset_a: Pose | None = None
    offset_b: Pose | None = None
    shift: Array | float = 0.0
    labels: tuple[str, ...] = ()
    _cache: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)

    def __len__(self) -> int:
        return len(self.a)

    def with_law(self, law: Law) -> Links:
        """Return the same links with another law."""
        return replace(self, law=law, _cache={})

    def passive_at(self, poses: Pose, free: Array | float = 0.0) -> Links:
        """Return the links with a `shift` that makes them passive at `poses` while the activation is zero.

        `free` (..., n, 6) is the strain at which the law is stress-free (its rest strain).
        """
        shift = self.strain(poses) - free
        return replace(self, shift=shift[0] if shift.ndim == 3 and shift.shape[0] == 1 else shift, _cache={})

    def effective(self, strain: Array, activation: float) -> Array:
        """Return the strain that the law sees at an activation below one."""
        return strain if activation == 1.0 else strain - (1 - activation) * self.shift

    def ends(self, poses: Pose) -> tuple[Pose, Pose]:
        """Return the poses of both link ends, offsets included."""
        ga, gb = poses.take(self.a), poses.take(self.b)
        if self.offset_a is not None:
            ga = ga @ self.offset_a
        if self.offset_b is not None:
            gb = gb @ self.offset_b
        return ga, gb

    def strain(self, poses: Pose) -> Array:
        """Return the strains e (..., n, 6) of all links at the given frame poses."""
        ga, gb = self.ends(poses)
        relative = ga.inverse() @ gb
        if self.kinematics == "pose":
            return pose_log(relative)
        return np.concatenate([relative.position, rotation_log(relative.rotation)], axis=-1)

    def evaluate(self, poses: Pose) -> Kinematics:
        """Return strains and the matrices needed for forces and tangents."""
        ga, gb = self.ends(poses)
        relative = ga.inverse() @ gb
        kind = _PoseKinematics if self.kinematics == "pose" else _SectionKinematics
        return kind.at(relative, self._end_adjoints())

    def _end_adjoints(self) -> tuple[Array | None, Array | None]:
        if "ad" not in self._cache:
            self._cache["ad"] = tuple(
                None if o is None else adjoint(o.inverse()) for o in (self.offset_a, self.offset_b)
            )
        out: tuple[Array | None, Array | None] = self._cache["ad"]
        return out


class Kinematics(ABC):
    """Strain of links, its derivative B (..., n, 6, 12) and the geometric part of the tangent."""

    strain: Array
    b: Array

    def to_frames(self, stress: Array) -> Array:
        """Return B^T m (..., n, 12): generalised forces on both frames, body axes."""
        out: Array = np.matmul(stress[..., None, :], self.b)[..., 0, :]
        return out

    def flat_tangent(self, material: Array) -> Array:
        """Return B^T K B (..., n, 12, 12)."""
        out: Array = np.swapaxes(self.b, -1, -2) @ material @ self.b
        return out

    @abstractmethod
    def tangent(self, material: Array, stress: Array, exact: bool = False) -> Array:
        """Return B^T K B + d(B^T m)/dq at fixed m (..., n, 12, 12), not symmetrised; K is `material`, m `stress`.

        Without `exact`, terms of third order in the turn between the link's ends are left out of the second part: below
        0.3 % of it at 0.3 rad. Newton keeps its pace without; stability and sensitivities need them.
        """


def _with_offsets(b: Array, adjoints: tuple[Array | None, Array | None]) -> Array:
    ad_a, ad_b = adjoints
    if ad_a is not None:
        b[..., :6] = b[..., :6] @ ad_a
    if ad_b is not None:
        b[..., 6:] = b[..., 6:] @ ad_b
    return b


def _from_offsets(k: Array, adjoints: tuple[Array | None, Array | None]) -> Array:
    """Bring rows of generalised forces at the offset ends (..., 12, m) back to the frames."""
    ad_a, ad_b = adjoints
    if ad_a is not None:
        k[..., :6, :] = np.swapaxes(ad_a, -1, -2) @ k[..., :6, :]
    if ad_b is not None:
        k[..., 6:, :] = np.swapaxes(ad_b, -1, -2) @ k[..., 6:, :]
    return k


@dataclass(frozen=True)
class _PoseKinematics(Kinematics):
    strain: Array
    b: Array
    ad: Array
    a2: Array
    adjoints: tuple[Array | None, Array | None]

    @classmethod
    def at(cls, relative: Pose, adjoints: tuple[Array | None, Array | None]) -> _PoseKinematics:
        h = pose_log(relative)
        right, left, k, a2 = jacobian_inverse(h)
        b = np.concatenate([-left, right], axis=-1)
        return cls(h, _with_offsets(b, adjoints), k, a2, adjoints)

    def tangent(self, material: Array, stress: Array, exact: bool = False) -> Array:
        # d/dh of Jr^-T(h) m = m + ad^T m / 2 + a2 (ad^T)^2 m + a4 (ad^T)^4 m
        adt = np.swapaxes(self.ad, -1, -2)
        first = apply(adt, stress)
        c = coad(stress)
        square = coad(first) + adt @ c
        even = self.a2[..., None, None] * square
        if exact:
            even += self._third_order(adt, first, square)
        half = 0.5 * c
        # g_a = -Jr^-T(-h) m, hence dg_a/dh = half - even; g_b = Jr^-T(h) m, hence dg_b/dh = half + even
        rows = _from_offsets(np.concatenate([half - even, half + even], axis=-2), self.adjoints)
        rows += np.swapaxes(self.b, -1, -2) @ material
        return rows @ self.b

    def _third_order(self, adt: Array, first: Array, square: Array) -> Array:
        """Return the derivative of a4 (ad^T)^4 m and of a2; `first` = ad^T m, `square` = d((ad^T)^2 m)/dh."""
        w = self.strain[..., 3:]
        _, a4, a2_rate, a4_rate = even_coefficients(np.einsum("...i,...i", w, w))
        second = apply(adt, first)
        third = apply(adt, second)
        out: Array = a4[..., None, None] * (coad(third) + adt @ (coad(second) + adt @ square))
        along = a2_rate[..., None] * second + a4_rate[..., None] * apply(adt, third)
        out[..., 3:] += 2 * along[..., :, None] * w[..., None, :]
        return out


@dataclass(frozen=True)
class _SectionKinematics(Kinematics):
    strain: Array
    b: Array
    relative: Array
    c: Array
    b_end: Array
    adjoints: tuple[Array | None, Array | None]

    @classmethod
    def at(cls, relative: Pose, adjoints: tuple[Array | None, Array | None]) -> _SectionKinematics:
        r, p = relative
        w = rotation_log(r)
        c = log_coefficients(np.einsum("...i,...i", w, w))
        k = hat(w)
        even = _EYE3 + c[..., None, None] * (k @ k)
        b = np.zeros((*p.shape[:-1], 6, 12))
        b[..., :3, :3] = -_EYE3
        b[..., :3, 3:6] = hat(p)
        b[..., :3, 6:9] = r
        b[..., 3:, 3:6] = 0.5 * k - even
        b[..., 3:, 9:] = 0.5 * k + even
        full = _with_offsets(b.copy(), adjoints) if any(x is not None for x in adjoints) else b
        return cls(np.concatenate([p, w], axis=-1), full, r, c, b, adjoints)

    def tangent(self, material: Array, stress: Array, exact: bool = False) -> Array:
        f, mu = stress[..., :3], stress[..., 3:]
        w = self.strain[..., 3:]
        fhat, mhat = hat(f), 0.5 * hat(mu)
        quad = self.c[..., None, None] * (
            np.einsum("...i,...i", w, mu)[..., None, None] * _EYE3
            + w[..., :, None] * mu[..., None, :]
            - 2 * mu[..., :, None] * w[..., None, :]
        )
        if exact:  # c depends on the angle: dc/d(theta^2) = -a4
            t2 = np.einsum("...i,...i", w, w)
            a4 = even_coefficients(t2)[1]
            square = np.einsum("...i,...i", w, mu)[..., None] * w - t2[..., None] * mu  # w x (w x mu)
            quad -= 2 * a4[..., None, None] * square[..., :, None] * w[..., None, :]
        dp, dw = self.b_end[..., :3, :], self.b_end[..., 3:, :]
        out = np.zeros((*f.shape[:-1], 12, 12))
        out[..., 3:6, :] = fhat @ dp + (mhat - quad) @ dw
        rt = np.swapaxes(self.relative, -1, -2)
        out[..., 6:9, 3:6] = -rt @ fhat
        out[..., 6:9, 9:] = hat(apply(rt, f))
        out[..., 9:, :] = (mhat + quad) @ dw
        out = _columns_to_frames(_from_offsets(out, self.adjoints), self.adjoints)
        out += np.swapaxes(self.b, -1, -2) @ (material @ self.b)
        return out


def _columns_to_frames(k: Array, adjoints: tuple[Array | None, Array | None]) -> Array:
    ad_a, ad_b = adjoints
    if ad_a is not None:
        k[..., :, :6] = k[..., :, :6] @ ad_a
    if ad_b is not None:
        k[..., :, 6:] = k[..., :, 6:] @ ad_b
    return k
