"""A straight wire between two brackets that turn: the couples of the six classes, at any angle and with any alloy.

Both ends are held in passive brackets without play; the second bracket lets the wire slide. The path is a share of the
given angles, 1 being the whole.
"""

from __future__ import annotations

import numpy as np

from biomech.bench.ranges import RangeError, require
from biomech.bench.rig import Rig
from biomech.bench.specimen import Specimen
from biomech.mechanics.links import Linear, Links
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.poses import Pose, rotation_exp

STIFF = 1e6
"""N/mm and N.mm/rad with which the second bracket holds the wire (numerical choice)."""
DISTANCE = 7.0
"""mm between the brackets of the published classes (Burstone and Koenig 1974, AJO 65:270; page abstract only)."""
STEEPEST = np.radians(60.0)


def two_brackets(
    specimen: Specimen,
    first: float,
    second: float,
    *,
    distance: float = DISTANCE,
    edgewise: bool = False,
    elements: int = 12,
) -> Rig:
    """Return the rig of two brackets turned by `first` and `second`, rad, alike positive; reading: moment at the first.

    `distance` mm between them. `edgewise` turns them in the plane of the wire's larger size (first order), otherwise
    in that of its height (second order). Raises RangeError for angles beyond 60 degrees, both zero, or no distance.
    """
    require("distance", distance, 0.5, 50.0, "mm")
    if not max(abs(first), abs(second)) <= STEEPEST or not (first or second):
        shown = f"{np.degrees(first):g} and {np.degrees(second):g} deg"
        allowed = f"must be within {np.degrees(STEEPEST):g} deg, and not both zero"
        raise RangeError(f"angles {shown}: {allowed}", "first", allowed)
    x = np.linspace(0.0, distance, elements + 1)
    n, axis = len(x), 3 + (2 if edgewise else 1)
    position = np.zeros((n + 1, 3))
    position[:n, 0], position[n, 0] = x, distance
    start = Pose(np.broadcast_to(np.eye(3), (1, n + 1, 3, 3)).copy(), position[None])
    stiffness = np.diag([0.0, STIFF, STIFF, STIFF, STIFF, STIFF])[None]
    bracket = Links("bracket", np.array([n]), np.array([n - 1]), Linear(stiffness), "section", labels=("bracket",))
    fixed = np.zeros(n + 1, dtype=bool)
    fixed[[0, n]] = True
    wire = specimen.links(np.arange(n), Pose(start.rotation[0, :n], start.position[0, :n]))
    network = Network(n + 1, fixed, [wire, bracket], labels=[f"wire at {at:.2f} mm" for at in x] + ["second bracket"])

    def held(share: float) -> Pose:
        rotation = start.rotation.copy()
        for frame, angle in ((0, first), (n, second)):
            turn = np.zeros(3)
            turn[axis - 3] = share * angle
            rotation[0, frame] = rotation_exp(turn)
        return Pose(rotation, start.position)

    def read(evaluation: Evaluation, _: Pose) -> float:
        return moments(evaluation, axis)[0]

    def second_moment(evaluation: Evaluation, _: Pose) -> float:
        return moments(evaluation, axis)[1]

    def force(evaluation: Evaluation, _: Pose) -> float:
        return float(evaluation.forces[0][0, 0, 1 if edgewise else 2])

    name = f"two brackets {distance:g} mm apart, turned {np.degrees(first):g} and {np.degrees(second):g} deg"
    return Rig(
        name, specimen, network, start, held, read, "share of the angles", "", "moment at the first", "N.mm",
        also={"moment at the second, N.mm": second_moment, "force on the wire at the first, N": force},
    )  # fmt: skip


def moments(evaluation: Evaluation, axis: int) -> tuple[float, float]:
    """Return the moments, N.mm, that the first and the second bracket exert on the wire about section axis 4 or 5."""
    return float(evaluation.forces[0][0, 0, axis]), float(evaluation.forces[1][0, 0, axis])
