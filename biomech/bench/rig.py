"""A set-up on the bench: a wire in a network whose held frames are moved, and what is read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from biomech.bench.specimen import Specimen
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.poses import Array, Pose
from biomech.wire.fibre_rod import FibreRod

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

    def at(self, temperature: float) -> Rig:
        """Return the rig with its wire at a temperature, C; states of the wire go on in it.

        InputError where the alloy's law does not reach.
        """
        if temperature == self.specimen.temperature:
            return self
        specimen = replace(self.specimen, temperature=temperature)
        section, groups = specimen.response, list(self.network.groups)
        law = groups[self.wire].law
        if isinstance(law, FibreRod):
            groups[self.wire] = groups[self.wire].with_law(replace(law, section=section))
        return replace(self, specimen=specimen, network=self.network.replaced(groups))
