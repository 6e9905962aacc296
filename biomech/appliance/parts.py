"""What an appliance is made of: teeth, wires and holds, and where each sits in the network."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from biomech.alloys import Alloy
from biomech.appliance.rods import Past
from biomech.archform import Curve
from biomech.ligaments import Ligament
from biomech.mechanics.network import Network
from biomech.mechanics.poses import Array, Pose
from biomech.scenario import Scenario
from biomech.section import Section
from biomech.tooth.model import Tooth
from biomech.tooth.roots import Surface
from biomech.tooth.support import Pressures, pressures, support_matrix
from biomech.tooth.tractions import Support


@dataclass(frozen=True)
class ToothPart:
    """One tooth in the network.

    `frame`, `socket`: frame indices (`socket` is -1 for a tooth held rigidly); `bed` its row in the ligament law, -1
    for none; `pose` of the tooth frame at the start; `slot` pose of the passive slot, global, and `slot_in_tooth` with
    its malposition and prescription, in the tooth frame; `body_in_tooth` the same without the prescription, which turns
    the slot in the bracket and not the bracket: ties and round tubes go by it; `s` of its slot on the bracket line, mm;
    `support`: what a model of the ligament other than springs makes of it.
    """

    tooth: Tooth
    ligament: Ligament | None
    frame: int
    socket: int
    bed: int
    s: float
    pose: Pose
    slot: Pose
    slot_in_tooth: Pose
    body_in_tooth: Pose
    support: Support | None = None

    @property
    def number(self) -> int:
        """ISO 3950 number."""
        return self.tooth.number

    @property
    def model(self) -> str:
        """Name of the model of its ligament in a scenario."""
        return "springs" if self.support is None else self.support.model

    @cached_property
    def stiffness(self) -> Array | None:
        """Stiffness (6, 6) of the unloaded tooth about its origin; None when it is held rigidly."""
        if self.ligament is None:
            return None
        return support_matrix(self.tooth.surface, self.ligament) if self.support is None else self.support.stiffness

    @property
    def modulus(self) -> float:
        """What the mesiodistal stiffness has to be divided by to give the area of a bed of springs, N/mm3.

        The normal modulus kn on springs. Another model of the same ligament has another stiffness and the same area: a
        force means the same stress.
        """
        assert self.ligament is not None
        kn = self.ligament.normal_modulus
        if self.support is None:
            return kn
        return kn * float(self.support.stiffness[0, 0] / support_matrix(self.tooth.surface, self.ligament)[0, 0])

    @property
    def bearing(self) -> Surface:
        """The points (P,) of the ligament's middle surface that `pressures` are given at, in tooth axes."""
        return self.tooth.surface if self.support is None else self.support.surface

    def pressures(self, q: Array) -> Pressures | None:
        """Return the ligament's pressures (..., P), MPa, for motions q (..., 6); None when it is held rigidly."""
        if self.ligament is None:
            return None
        return pressures(self.tooth.surface, self.ligament, q) if self.support is None else self.support.pressures(q)


@dataclass(frozen=True)
class HoldPart:
    """One tooth's hold on one wire: link group, rows in it, and the other tooth of a tie between two."""

    wire: str
    tooth: int
    kind: str
    group: int
    rows: np.ndarray
    partner: int | None = None


@dataclass(frozen=True)
class WirePart:
    """One wire in the network, n elements between n + 1 stations.

    `s` (n + 1,) material coordinate, mm; `frames` (n + 1,) the frame each station rides on, `offsets` its pose in that
    frame; `elements`: (n, 2) group and row of each element; `length` (n,) stress-free lengths, mm; `past` of a wire
    with memory, None for an elastic one.
    """

    name: str
    section: Section
    alloy: Alloy
    s: Array
    frames: np.ndarray
    offsets: Pose
    elements: np.ndarray
    length: Array
    stiffness: Array
    past: Past | None = None

    def stations(self, poses: Pose) -> Pose:
        """Return the poses (..., n + 1) of the stations for frame poses (..., frames)."""
        return poses.take(self.frames) @ self.offsets


@dataclass(frozen=True)
class Appliance:
    """Network and start poses (batch of one) of a scenario, with the parts by name and what to warn of."""

    scenario: Scenario
    curve: Curve
    network: Network
    start: Pose
    teeth: Mapping[int, ToothPart]
    wires: Mapping[str, WirePart]
    holds: tuple[HoldPart, ...]
    ligament_group: int
    warnings: tuple[str, ...]
