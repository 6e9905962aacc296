"""A rectangular wire twisted in a slot: moment against twist, with play, there and back.

The wire is clamped at the far ends of one or two spans; a bracket between (or at the end) is turned about the wire's
axis. The slot's corners and walls are those of a bracket in an arch, so play and engagement come out of the geometry.
"""

from __future__ import annotations

import numpy as np

from biomech.attachments._parts import Sliding
from biomech.attachments.slot import FAR, Slot
from biomech.bench.ranges import require
from biomech.bench.rig import Rig
from biomech.bench.specimen import Specimen
from biomech.errors import InputError
from biomech.mechanics.links import Links
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.poses import Pose, rotation_exp

SLOT, DEPTH, WIDTH, SPAN = 0.5588, 0.7112, 3.0, 4.0
"""Slot height (0.022 in), depth of a closed slot (0.028 in), bracket width and distance from bracket to clamp, mm. The
distance is that of a published measurement (Meling 1997, AJODO 111:310, abstract only: 4 mm between brackets); the
others are common practice."""
CONTACT = 1e4
"""Stiffness of one corner contact, N/mm, as in the arch. Assumed."""
ELEMENTS = 4


def torsion(
    specimen: Specimen,
    *,
    slot: float = SLOT,
    depth: float = DEPTH,
    width: float = WIDTH,
    span: float = SPAN,
    spans: int = 2,
    closed: bool = True,
    elements: int = ELEMENTS,
) -> Rig:
    """Return the torsion rig: a bracket (`slot` height, `depth`, `width`, mm) turns a wire clamped `span` mm away.

    `spans` 2: clamped on both sides; 1: on one side, the other end free. `closed`: the slot has an outer wall at
    `depth` (a tube or a clip); otherwise it is open on that side. Raises InputError for a round
    wire, for one that does not fit into the slot, and for sizes that are no set-up.
    """
    section = specimen.section
    if section.bevel >= 0.5 * min(section.height, section.depth) - 1e-12:
        raise InputError(f"{specimen.label}: a round wire turns freely in a slot; torsion needs a rectangular one")
    if section.height > slot:
        raise InputError(
            f"{specimen.label}: a height of {section.height:.4g} mm does not fit into a slot of {slot:.4g} mm"
        )
    for key, value, low, high in (("slot", slot, 0.2, 2.0), ("width", width, 0.5, 10.0), ("span", span, 0.5, 50.0)):
        require(key, value, low, high, "mm")
    if spans not in (1, 2):
        raise InputError(f"spans = {spans}: must be 1 or 2")
    x = _stations(width, span, spans, elements)
    n = len(x)
    position = np.zeros((n + 1, 3))
    position[:n, 0] = x
    start = Pose(np.broadcast_to(np.eye(3), (1, n + 1, 3, 3)).copy(), position[None])
    groups = [
        specimen.links(np.arange(n), Pose(start.rotation[0, :n], start.position[0, :n])),
        _edges(specimen, x, n, slot, width, max(depth, section.depth) if closed else FAR),
    ]
    network = Network(n + 1, _held(n, spans), groups, labels=[f"wire at {at:.2f} mm" for at in x] + ["bracket"])

    def held(angle: float) -> Pose:
        rotation = start.rotation.copy()
        rotation[0, n] = rotation_exp(np.array([angle, 0.0, 0.0]))
        return Pose(rotation, start.position)

    def read(evaluation: Evaluation, _: Pose) -> float:
        return float(evaluation.forces[1][0, :, 9].sum())

    name = f"torsion, slot {slot:.4g} mm, {'two spans' if spans == 2 else 'one span'} of {span:g} mm"
    return Rig(name, specimen, network, start, held, read, "twist", "rad", "moment", "N.mm")


def _stations(width: float, span: float, spans: int, elements: int) -> np.ndarray:
    right = np.linspace(0.5 * width, 0.5 * width + span, elements + 1)
    middle = np.linspace(-0.5 * width, 0.5 * width, 3)
    left = -right[:0:-1] if spans == 2 else np.zeros(0)
    return np.concatenate([left, middle[:-1], right])


def _held(n: int, spans: int) -> np.ndarray:
    fixed = np.zeros(n + 1, dtype=bool)
    fixed[[n - 1, n]] = True
    fixed[0] = spans == 2
    return fixed


def _edges(specimen: Specimen, x: np.ndarray, bracket: int, slot: float, width: float, closed: float) -> Links:
    section, one = specimen.section, np.ones(2)
    at = np.array([int(np.argmin(np.abs(x + 0.5 * width))), int(np.argmin(np.abs(x - 0.5 * width)))])
    law = Slot(
        slot * one, closed * one, section.height * one, section.depth * one,
        section.bevel * one, CONTACT * one, 0 * one, 0 * one, Sliding(0.01 * one, 0 * one),
    )  # fmt: skip
    offset = np.zeros((2, 3))
    offset[:, 0] = [-0.5 * width, 0.5 * width]
    holder = Pose(np.broadcast_to(np.eye(3), (2, 3, 3)).copy(), offset)
    return Links("slot", at, np.array([bracket, bracket]), law, "section", None, holder, labels=("slot", "slot"))
