"""One tooth in an equilibrium, as the outputs see it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from biomech.appliance import Appliance, ToothPart
from biomech.appliance.words import directions, named
from biomech.mechanics.equilibrium import Equilibrium
from biomech.mechanics.poses import Array, Pose, pose_log
from biomech.tooth.kinds import Levels, levels
from biomech.tooth.resistance import CentreOfResistance, centre_of_resistance
from biomech.tooth.support import Pressures


@dataclass(frozen=True)
class ToothView:
    """One tooth of a solved variant.

    `motion` q (6,): how it has moved, in the axes of its socket, about the tooth frame's origin; `wrench` (6,): force
    and moment of wires and applied loads on it about that origin, N and N.mm, in tooth axes; `pose` its pose now.
    """

    part: ToothPart
    pose: Pose
    motion: Array
    wrench: Array

    @property
    def side(self) -> int:
        """+1 on the patient's right."""
        return self.part.tooth.side_sign

    @property
    def jaw(self) -> int:
        """+1 in the upper jaw."""
        return self.part.tooth.jaw_sign

    @cached_property
    def support(self) -> Array | None:
        """Stiffness (6, 6) of the unloaded tooth about its origin; None when it is held rigidly."""
        return self.part.stiffness

    @cached_property
    def centre(self) -> CentreOfResistance | None:
        """Centre of resistance of the unloaded tooth; None when it is held rigidly."""
        return None if self.support is None else _centre(self.support.tobytes())

    @cached_property
    def levels(self) -> Levels | None:
        """Depths of crown edge, centre of resistance and apex along the long axis."""
        if self.centre is None:
            return None
        marks = self.part.tooth.landmarks
        return levels(marks["edge"], self.centre.planar["buccolingual"].point, marks["apex"], self.jaw)

    @cached_property
    def pressures(self) -> Pressures | None:
        """Ligament pressure over the root, MPa; None when the tooth is held rigidly."""
        return self.part.pressures(self.motion)

    @property
    def bracket(self) -> Array:
        """Slot centre in the tooth frame (3,), mm."""
        return self.part.slot_in_tooth.position

    def moment_at(self, point: Array) -> Array:
        """Return the moment (3,) of the wrench about `point` (3,) of the tooth frame, N.mm."""
        out: Array = self.wrench[3:] - np.cross(point, self.wrench[:3])
        return out

    def displacement(self, point: Array) -> Array:
        """Return how far the point (3,) of the tooth frame has moved, in socket axes, mm (exact, any angle)."""
        return np.asarray(self.relative.point(point) - point)

    @cached_property
    def relative(self) -> Pose:
        """Pose of the tooth now seen from where it stood."""
        return self.part.pose.inverse() @ self.pose

    def words(self, vector: Array) -> dict[str, float]:
        """Return a vector in tooth axes as mesial, buccal, occlusal."""
        return directions(vector, self.side, self.jaw)

    def turns(self, vector: Array) -> dict[str, float]:
        """Return a rotation or moment in tooth axes as torque, tip, rotation."""
        return named(vector, self.side, self.jaw)


@lru_cache(maxsize=256)
def _centre(support: bytes) -> CentreOfResistance:
    """Return the centre of resistance of a stiffness: found once for all moments of a course and all variants."""
    return centre_of_resistance(np.frombuffer(support).reshape(6, 6))


def tooth_views(appliance: Appliance, solved: Equilibrium, variant: int = 0) -> dict[int, ToothView]:
    """Return the views of all teeth of one variant, from the patient's right to left."""
    forces = _wire_forces(appliance, solved, variant)
    out = {}
    for number, part in appliance.teeth.items():
        pose = Pose(solved.poses.rotation[variant, part.frame], solved.poses.position[variant, part.frame])
        motion = pose_log(part.pose.inverse() @ pose)
        out[number] = ToothView(part, pose, motion, forces[part.frame])
    return out


def tooth_view(appliance: Appliance, solved: Equilibrium, number: int, variant: int = 0) -> ToothView:
    """Return the view of one tooth."""
    return tooth_views(appliance, solved, variant)[number]


def _wire_forces(appliance: Appliance, solved: Equilibrium, variant: int) -> Array:
    """Return force and moment (frames, 6) on every frame by everything but the ligament, frame axes."""
    network = appliance.network
    total = np.zeros((network.frames, 6))
    for i, group in enumerate(network.groups):
        if i != appliance.ligament_group:
            force = solved.frame_forces(i)
            mine = force[min(variant, force.shape[0] - 1)]
            np.add.at(total, group.a, -mine[:, :6])
            np.add.at(total, group.b, -mine[:, 6:])
    if len(network.loads):
        loads = network.loads.wrenches(solved.poses)
        np.add.at(total, network.loads.frame, loads[min(variant, loads.shape[0] - 1)])
    return total


def station_points(appliance: Appliance, solved: Equilibrium, wire: str, variant: int = 0) -> Array:
    """Return the positions (n + 1, 3) of a wire's stations, global, mm."""
    part = appliance.wires[wire]
    poses = Pose(solved.poses.rotation[variant], solved.poses.position[variant])
    return part.stations(poses).position
