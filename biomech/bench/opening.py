"""An arch-shaped wire opened and closed between two molars: force against opening, and the set it keeps.

Half the wire is modelled, its middle held; by symmetry the other half does the same. The end moves straight sideways,
slides freely forwards and backwards, and is free to turn or held (as in a tube that allows no play).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from biomech.bench.ranges import require
from biomech.bench.rig import Rig
from biomech.bench.specimen import Specimen
from biomech.errors import InputError
from biomech.mechanics.links import Linear, Links
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.poses import Pose

STIFF = 1e6
"""N/mm and N.mm/rad with which the molar holds what it holds (numerical choice)."""
ELEMENTS = 24


def horseshoe(
    specimen: Specimen,
    *,
    radius: float = 25.0,
    legs: float = 25.0,
    ends: str = "free",
    elements: int = ELEMENTS,
) -> Rig:
    """Return the rig of a wire bent to half a circle of `radius` with two straight `legs`, mm, free of stress.

    `ends`: "free" to turn about the vertical at the molars, or "held". The deflection is the total opening between
    both ends. Raises InputError for sizes or a word that is no set-up.
    """
    require("radius", radius, 5.0, 60.0, "mm")
    require("legs", legs, 0.0, 80.0, "mm")
    if ends not in ("free", "held"):
        raise InputError(f"ends = '{ends}': must be 'free' or 'held'")
    quarter = 0.5 * np.pi * radius
    on_arc = max(4, round(elements * quarter / (quarter + legs)))
    s = np.linspace(0.0, quarter, on_arc + 1)
    if legs > 0:
        s = np.append(s, np.linspace(quarter, quarter + legs, max(2, elements - on_arc) + 1)[1:])

    def course(at: np.ndarray) -> Pose:
        turn = np.minimum(at, quarter) / radius
        beyond = np.maximum(at - quarter, 0.0)
        point = np.stack([radius * np.sin(turn), radius * (np.cos(turn) - 1) - beyond, 0 * turn], axis=-1)
        along = np.stack([np.cos(turn), -np.sin(turn), 0 * turn], axis=-1)
        up = np.broadcast_to([0.0, 0.0, 1.0], along.shape)
        return Pose(np.stack([along, np.cross(up, along), up], axis=-1), point)

    name = f"opening between molars, radius {radius:g} mm, legs {legs:g} mm, ends {ends}"
    return _opened(specimen, course, s, ends, name)


def _opened(specimen: Specimen, course: Callable[[np.ndarray], Pose], s: np.ndarray, ends: str, name: str) -> Rig:
    n = len(s)
    stations = course(s)
    frames = np.arange(n)
    end = Pose(np.eye(3)[None], stations.position[-1:])
    rotation = np.concatenate([stations.rotation, end.rotation])[None]
    start = Pose(rotation, np.concatenate([stations.position, end.position])[None])
    # seen from the molar: sideways and up held, forwards free; turning about the vertical free or held
    held_turn = STIFF if ends == "held" else 0.0
    stiffness = np.diag([STIFF, 0.0, STIFF, STIFF, STIFF, held_turn])[None]
    offset = Pose(np.swapaxes(stations.rotation[-1:], -1, -2).copy(), np.zeros((1, 3)))
    molar = Links(
        "molar", np.array([n]), np.array([n - 1]), Linear(stiffness), "section", None, offset, labels=("molar",)
    )
    fixed = np.zeros(n + 1, dtype=bool)
    fixed[[0, n]] = True
    labels = [f"wire at {at:.1f} mm from the middle" for at in s] + ["molar"]
    network = Network(n + 1, fixed, [specimen.links(frames, stations), molar], labels=labels)

    def held(opening: float) -> Pose:
        position = start.position.copy()
        position[0, n, 0] += 0.5 * opening
        return Pose(start.rotation, position)

    def read(evaluation: Evaluation, _: Pose) -> float:
        return float(evaluation.forces[1][0, 0, 0])

    return Rig(name, specimen, network, start, held, read, "opening", "mm")
