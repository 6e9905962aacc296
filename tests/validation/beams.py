"""Builders shared by the checks of the beam: stations on curves, wires, springs, and the benchmarks A, B, C.

Station frames: first axis tangent, second in the plane of the arch (outward), third up. Section six-vectors
are (EA, kGA2, kGA3, GJ, EI2, EI3); bending 2 is about the outward axis, bending 3 about the vertical one.
"""

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from biomech.mechanics.equilibrium import Equilibrium, Settings, equilibrium
from biomech.mechanics.links import Linear, Links
from biomech.mechanics.loads import Loads
from biomech.mechanics.network import Network
from biomech.mechanics.poses import Pose, identity, pose_exp, rotation_exp, rotation_log
from biomech.section import Rectangular, Round
from biomech.wire.rod import rod

UP = np.array([0.0, 0.0, 1.0])


@dataclass
class Model:
    """A network, its start poses (frames,), frame numbers and data of things by name."""

    network: Network
    start: Pose
    at: dict[str, np.ndarray] = field(default_factory=dict)
    data: dict[str, np.ndarray] = field(default_factory=dict)

    def solve(self, target: Pose | None = None, **settings) -> Equilibrium:
        given = None if target is None else batch(target)
        return equilibrium(self.network, batch(self.start), settings=Settings(**settings), target=given)


def batch(pose: Pose, n: int = 1) -> Pose:
    return Pose(np.repeat(pose.rotation[None], n, axis=0), np.repeat(pose.position[None], n, axis=0))


def join(*poses: Pose) -> Pose:
    return Pose(np.concatenate([p.rotation for p in poses]), np.concatenate([p.position for p in poses]))


def along(points, tangents, up=UP) -> Pose:
    """Frames at `points` (n, 3) with the given directions of the wire; `up` is orthogonal to them."""
    t = np.asarray(tangents, dtype=float)
    t = t / np.linalg.norm(t, axis=-1, keepdims=True)
    third = np.broadcast_to(np.asarray(up, dtype=float), t.shape)
    return Pose(np.stack([t, np.cross(third, t), third], axis=-1), np.asarray(points, dtype=float))


def line(length: float, elements: int) -> Pose:
    """A straight wire along x from the origin."""
    x = np.linspace(0.0, length, elements + 1)[:, None] * [1.0, 0.0, 0.0]
    return along(x, np.tile([1.0, 0.0, 0.0], (elements + 1, 1)))


def arc(radius: float, angle: float, elements: int) -> Pose:
    """A circular wire: from the origin along +y, turning towards +x."""
    t = np.linspace(0.0, angle, elements + 1)
    x = radius * np.stack([1 - np.cos(t), np.sin(t), 0 * t], axis=-1)
    return along(x, np.stack([np.sin(t), np.cos(t), 0 * t], axis=-1))


def ellipse(t, half_width: float, depth: float) -> Pose:
    """Stations of x = half_width sin t, y = depth cos t; t in degrees."""
    t = np.deg2rad(t)
    x = np.stack([half_width * np.sin(t), depth * np.cos(t), 0 * t], axis=-1)
    return along(x, np.stack([half_width * np.cos(t), -depth * np.sin(t), 0 * t], axis=-1))


def subdivide(nodes, each: int) -> np.ndarray:
    """Values through all `nodes`, every span cut into `each` parts."""
    parts = [np.linspace(a, b, each + 1)[:-1] for a, b in pairwise(nodes)]
    return np.append(np.concatenate(parts), nodes[-1])


def wire(name: str, poses: Pose, frames, section, offsets: Pose | None = None) -> Links:
    """The rod through stress-free stations `poses`, riding on `frames`."""
    free = poses.take(slice(0, -1)).inverse() @ poses.take(slice(1, None))
    return rod(name, np.asarray(frames), section, free, offsets=offsets)


def springs(name: str, a, b, stiffness: float, turning: float = 0.0, offsets: Pose | None = None) -> Links:
    """Springs of zero rest length between points of the frames, N/mm, and of rotation, N.mm/rad."""
    k = np.zeros((len(a), 6, 6))
    k[:, [0, 1, 2], [0, 1, 2]], k[:, [3, 4, 5], [3, 4, 5]] = stiffness, turning
    return Links(name, np.asarray(a), np.asarray(b), Linear(k), "section", offsets, offsets)


def fixed(frames: int, which) -> np.ndarray:
    out = np.zeros(frames, dtype=bool)
    out[which] = True
    return out


def load(frame, force=(0, 0, 0), moment=(0, 0, 0), follows=False) -> Loads:
    one = np.array([force], dtype=float), np.array([moment], dtype=float)
    return Loads(np.array([frame]), np.zeros((1, 3)), *one, np.array([follows]))


def cantilever(poses: Pose, section, loads: Loads, clamped=(0,)) -> Model:
    n = len(poses.position)
    network = Network(n, fixed(n, list(clamped)), [wire("wire", poses, np.arange(n), section)], loads)
    return Model(network, poses)


def displacement(e: Equilibrium, model: Model, frame) -> np.ndarray:
    return e.poses.position[0, frame] - model.start.position[frame]


def turn(e: Equilibrium, model: Model, frame) -> np.ndarray:
    """Rotation vectors (..., 3) in global axes."""
    return rotation_log(e.poses.rotation[0, frame] @ np.swapaxes(model.start.rotation[frame], -1, -2))


# ---- benchmarks; statement and values: see the tests that use them

POLAR, SAINT_VENANT = 1 / 6, 0.140577


def benchmark_a(elements: int, force: float, torsion: float = POLAR, shear: float = 5e6 * 5 / 6) -> Model:
    """45-degree arc of radius 100, 1 x 1 section, dead tip load upwards."""
    section = np.array([1e7, shear, shear, 5e6 * torsion, 1e7 / 12, 1e7 / 12])
    model = cantilever(arc(100.0, np.pi / 4, elements), section, load(elements, (0, 0, force)))
    model.data["section"] = section
    return model


OVERLAY_TIES = (-95.0, -60.0, -25.0, 25.0, 60.0, 95.0)


def overlay(each: int) -> tuple[Pose, np.ndarray, np.ndarray]:
    """Stations of the overlay wire, the numbers of its six tie stations, and the parameters t of all."""
    t = subdivide((-100.0, *OVERLAY_TIES, 100.0), each)
    return ellipse(t, 33.0, 42.0), np.arange(1, 7) * each, t


def overlay_section() -> np.ndarray:
    return Round(0.9144).stiffness(190e3, 0.3, shear_factor=0.9)


def benchmark_b(each: int, stiffness: float = 0.8) -> Model:
    """The overlay on six springs, 0.8 N/mm, with `each` elements a span (seven spans)."""
    poses, ties, _ = overlay(each)
    n = len(poses.position)
    anchors = Pose(poses.rotation[ties], poses.position[ties] * [0.8, 1.0, 1.0])
    groups = [
        wire("overlay", poses, np.arange(n), overlay_section()),
        springs("springs", ties, n + np.arange(6), stiffness),
    ]
    network = Network(n + 6, fixed(n + 6, slice(n, None)), groups)
    at = {"ties": ties, "anchors": n + np.arange(6), "front": np.array(n // 2)}
    return Model(network, join(poses, anchors), at)


TEETH = (-90.0, -75.0, -60.0, -40.0, -22.0, -7.0, 7.0, 22.0, 40.0, 60.0, 75.0, 90.0)
TIED_TEETH = (0, 2, 4, 7, 9, 11)


def main_section() -> np.ndarray:
    return Rectangular(height=0.4826, depth=0.635).stiffness(190e3, 0.3, shear_factor=5 / 6)


def benchmark_c(each: int, tie: float = 2.0, overlay_each: int | None = None, torque: float = -12.0) -> Model:
    """Two wires and twelve teeth on ground springs; `tie` N/mm, `each` elements a span."""
    t = subdivide((-95.0, *TEETH, 95.0), each)
    main = ellipse(t, 26.5, 36.0)
    over, ties, to = overlay(overlay_each or each)
    n, m = len(t), len(to)
    order = np.argsort(np.concatenate([t, to]), kind="stable")  # neighbours along the arch, for a narrow band
    number = np.empty(n + m, dtype=int)
    number[order] = np.arange(n + m)
    clamps = np.arange(1, 13) * each
    teeth, sockets = number[clamps], n + m + np.arange(12)
    twist = np.zeros((n, 6))
    twist[clamps, 3] = np.deg2rad(np.where(np.abs(TEETH) >= 40.0, torque, 0.0))
    below = identity(12)
    below.position[:, 2] = -13.0
    groups = [
        wire("main", main, number[:n], main_section(), pose_exp(twist)),
        wire("overlay", over, number[n:], overlay_section()),
        springs("ties", number[n + ties], teeth[list(TIED_TEETH)], tie),
        springs("ground", sockets, teeth, 60.0, 3000.0, below),
    ]
    start = join(join(main, over).take(order), main.take(clamps))
    network = Network(n + m + 12, fixed(n + m + 12, slice(n + m, None)), groups)
    at = {"teeth": teeth, "overlay": number[n:], "ties": number[n + ties], "tied": teeth[list(TIED_TEETH)]}
    data = {"t": np.array(TEETH), "main section": main_section(), "overlay section": overlay_section()}
    return Model(network, start, at, data)


def passive_start(model: Model) -> Model:
    """The same model, its links free of stress at the start while the activation is zero."""
    groups = [g.passive_at(model.start, getattr(g.law, "rest", 0.0)) for g in model.network.groups]
    network = Network(model.network.frames, model.network.fixed, groups, model.network.loads)
    return Model(network, model.start, model.at)


def rotated(model: Model, w) -> Model:
    """The same model turned as a whole by the rotation vector `w`; its dead loads turn too."""
    r = rotation_exp(np.asarray(w, dtype=float))
    network, old = model.network, model.network.loads
    loads = Loads(old.frame, old.point, old.force @ r.T, old.moment @ r.T, old.follows)
    start = Pose(r @ model.start.rotation, model.start.position @ r.T)
    return Model(Network(network.frames, network.fixed, network.groups, loads), start, model.at)
