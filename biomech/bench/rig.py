"""A set-up on the bench: a wire in a network whose held frames are moved, and what is read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from biomech.bench.specimen import Specimen
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.poses import Array, Pose

Held = Callable[[float], Pose]
Read = Callable[[Evaluation, Pose], float]
Check = Callable[[Evaluation, Pose], str | None]


def _nothing(_: Evaluation, __: Pose) -> str | None:
    return None


@dataclass(frozen=True)
class Rig:
    """One set-up with one specimen.

    `start` poses (1, frames) of the unloaded wire; `held(x)` the poses (1, frames) whose fixed frames are those at
    deflection, twist or opening `x`; `read` the force or moment that resists, positive with `x`. `quantity`, `unit` and
    `reading`, `reading_unit` name both; `x` is mm or rad inside. `check` returns what makes a reading doubtful, in
    words, or None. `also` are further readings by name with their unit. `wire` is the number of the group of its
    elements. `heading` (frames, 6): body twists per unit of x with which the frames set off, where the first step needs
    them. `one_sided`: the reading cannot turn negative, wire and support part instead.
    """

    name: str
    specimen: Specimen
    network: Network
    start: Pose
    held: Held
    read: Read
    quantity: str = "deflection"
    unit: str = "mm"
    reading: str = "force"
    reading_unit: str = "N"
    also: Mapping[str, Read] = field(default_factory=dict)
    wire: int = 0
    check: Check = _nothing
    heading: Array | None = None
    one_sided: bool = False
