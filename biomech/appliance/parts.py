"""What an appliance is made of: teeth, wires and holds, and where each sits in the network."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from biomech.alloys import Alloy
from biomech.archform import Curve
from biomech.ligaments import Ligament
from biomech.mechanics.network import Network
from biomech.mechanics.poses import Array, Pose
from biomech.scenario import Scenario
from biomech.section import Section
from biomech.tooth.model import Tooth


@dataclass(frozen=True)
class ToothPart:
    """One tooth in the network.

    `frame`, `socket`: frame indices (`socket` is -1 for a tooth held rigidly); `bed` its row in the ligament law, -1
    for none; `pose` of the tooth frame at the start; `slot` pose of the passive slot, global, and `slot_in_tooth` with
    its malposition and prescription, in the tooth frame; `body_in_tooth` the same without the prescription, which turns
    the slot in the bracket and not the bracket: ties and round tubes go by it; `s` of its slot on the bracket line, mm.
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

    @property
    def number(self) -> int:
        """ISO 3950 number."""
        return self.tooth.number


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
    frame; `elements`: (n, 2) group and row of each element; `length` (n,) stress-free lengths, mm.
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
