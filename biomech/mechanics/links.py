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

from biomech.mechanics.kinematics import Adjoints, Kinematics, PoseKinematics, SectionKinematics
from biomech.mechanics.poses import Array, Pose, adjoint, apply, pose_log, rotation_log

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
        kind = PoseKinematics if self.kinematics == "pose" else SectionKinematics
        return kind.at(ga.inverse() @ gb, self.end_adjoints())

    def end_adjoints(self) -> Adjoints:
        """Return what brings twists of the frames to both ends of the links (..., n, 6, 6), None without offset."""
        if "ad" not in self._cache:
            self._cache["ad"] = tuple(
                None if o is None else adjoint(o.inverse()) for o in (self.offset_a, self.offset_b)
            )
        out: Adjoints = self._cache["ad"]
        return out
