"""Bending rigs: three points and cantilever, wire sliding on round supports, large deflections.

Both are half a story: the three-point rig is symmetric, so half of the wire is modelled and its middle keeps its
direction; the cantilever is held at one end. Deflection is positive downwards, the reading with it.
"""

from __future__ import annotations

import numpy as np

from biomech.bench.ranges import require
from biomech.bench.rest import Rest
from biomech.bench.rig import Rig
from biomech.bench.specimen import Specimen
from biomech.mechanics.links import Links
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.poses import Array, Pose

SPAN = 10.0
"""mm between the supports in the published standard (ISO 15841: from memory)."""
NOSE = 0.1
"""Radius of support and indenter, mm (ISO 15841: 0.05 to 0.13 mm, from memory)."""
ELEMENTS = 12
GRADING = 1.4
"""Elements are smaller where the moment is large: stations at a (1 - (1 - u)^GRADING)."""
PIECE = 0.08
"""Length of the elastic last piece, before the support, as a part of the span modelled."""


def three_point(
    specimen: Specimen,
    *,
    span: float = SPAN,
    nose: float = NOSE,
    edgewise: bool = False,
    friction: float = 0.0,
    elements: int = ELEMENTS,
) -> Rig:
    """Return the three-point bending rig: `span` mm between supports of radius `nose`, the indenter in the middle.

    `edgewise` bends a rectangular wire across its larger size (depth) instead of its height. `friction` acts on the
    supports. The indenter is a knife edge. RangeError for a span or radius that is no set-up.
    """
    _check("span", span, nose, friction, elements)
    half = 0.5 * span
    rig = _Bent(specimen, half, nose, edgewise, friction, elements)

    def held(x: float) -> Pose:
        start = rig.start
        position = start.position.copy()
        position[0, 0, rig.across] = -x
        return Pose(start.rotation, position)

    def read(evaluation: Evaluation, _: Pose) -> float:
        # what holds the wire's middle, twice: the other half pushes as much
        return -2.0 * float(evaluation.forces[0][0, 0, rig.across])

    return Rig(
        f"three-point bending, span {span:g} mm", specimen, rig.network, rig.start, held, read,
        check=rig.check, heading=rig.heading(-1.0), one_sided=True,
    )  # fmt: skip


def cantilever(
    specimen: Specimen,
    *,
    length: float = 5.0,
    nose: float = NOSE,
    edgewise: bool = False,
    friction: float = 0.0,
    elements: int = ELEMENTS,
) -> Rig:
    """Return the cantilever rig: clamped at one end, a blade of radius `nose` at `length` mm pushes the wire down.

    The blade moves on a straight line and the wire slides along it. Arguments and errors as for `three_point`.
    """
    _check("length", length, nose, friction, elements)
    rig = _Bent(specimen, length, nose, edgewise, friction, elements, side=-1.0)

    def held(x: float) -> Pose:
        position = rig.start.position.copy()
        position[0, -1, rig.across] -= x
        return Pose(rig.start.rotation, position)

    def read(evaluation: Evaluation, poses: Pose) -> float:
        body = evaluation.forces[1][0, 0, 6:9]
        return -float((poses.rotation[0, -1] @ body)[rig.across])

    return Rig(
        f"cantilever, length {length:g} mm", specimen, rig.network, rig.start, held, read,
        check=rig.check, heading=rig.heading(0.0), one_sided=True,
    )  # fmt: skip


class _Bent:
    """A straight wire from a held station to a support of centre (length, -+ reach) across."""

    def __init__(
        self, specimen: Specimen, length: float, nose: float, edgewise: bool, friction: float, elements: int,
        side: float = 1.0,
    ) -> None:  # fmt: skip
        self.specimen = specimen
        self.across = 1 if edgewise else 2
        reach = nose + 0.5 * specimen.size(self.across)
        piece = PIECE * length
        u = np.linspace(0.0, 1.0, elements + 1)
        x = (length - piece) * (1 - (1 - u) ** GRADING)
        stations = _straight(x)
        centre = np.zeros(3)
        centre[0], centre[self.across] = length, -side * reach
        frames = np.arange(elements + 1)
        last = elements + 1
        elastic = specimen.elastic
        shear, bending = (elastic[1], elastic[5]) if edgewise else (elastic[2], elastic[4])
        one = np.ones(1)
        law = Rest(bending * one, shear * one, reach * one, self.across, side, friction, piece * one)
        wire = specimen.links(frames, stations)
        support = Links("support", np.array([elements]), np.array([last]), law, "section", labels=("support",))
        fixed = np.zeros(elements + 2, dtype=bool)
        fixed[[0, last]] = True
        labels = [f"wire at {at:.2f} mm" for at in x] + ["support"]
        self.network = Network(elements + 2, fixed, [wire, support], labels=labels)
        position = np.concatenate([stations.position, centre[None]])
        self.start = Pose(np.broadcast_to(np.eye(3), (1, elements + 2, 3, 3)).copy(), position[None])
        self._side, self._length, self._x = side, length, x
        self._limit = specimen.alloy.elastic_limit
        self._modulus = 2 * bending / (specimen.size(self.across) * specimen.alloy.young)

    def heading(self, middle: float) -> Array:
        """Return body twists (frames, 6) per mm of deflection while small; the held station moves by `middle`."""
        s, length = self._x, self._length
        aside = middle + self._side * (3 * s**2 * length - s**3) / (2 * length**3)
        slope = self._side * (6 * s * length - 3 * s**2) / (2 * length**3)
        out = np.zeros((len(s) + 1, 6))
        out[:-1, self.across] = aside
        out[:-1, 3 + (2 if self.across == 1 else 1)] = slope if self.across == 1 else -slope
        return out

    def check(self, evaluation: Evaluation, _: Pose) -> str | None:
        """Return what is wrong when the last piece is no longer elastic, or the wire has slipped off the support."""
        strain = evaluation.kinematics[1].strain
        law = self.network.groups[1].law
        assert isinstance(law, Rest)
        if float(strain[0, 0, 0]) <= 0.0:
            return "the wire has slid so far that its last station lies beyond the support; use more elements or less"
        stress = float(law.root_moment(strain)[0, 0]) / self._modulus
        if stress > self._limit and not self.specimen.response.is_linear:
            return (
                f"the piece next to the support is bent to {stress:.0f} MPa, past its elastic limit of "
                f"{self._limit:g} MPa, but taken as elastic: forces are too high there"
            )
        return None


def _straight(x: Array) -> Pose:
    position = np.zeros((len(x), 3))
    position[:, 0] = x
    return Pose(np.broadcast_to(np.eye(3), (len(x), 3, 3)).copy(), position)


def _check(name: str, length: float, nose: float, friction: float, elements: int) -> None:
    require(name, length, 1.0, 100.0, "mm")
    require("nose", nose, 0.0, 5.0, "mm", "radius of the supports")
    require("friction", friction, 0.0, 1.0)
    require("elements", elements, 4, 400)
