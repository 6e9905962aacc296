"""Where the strains of links with memory are expected after a step, and what such links answer on the way.

A step that turns the frames of a thin wire stretches it on paper, by half the square of the turn: a linear law pushes
that stretch out again in the next step, but a section that yields to it has forgotten its bending. On the way such
links are therefore looked at where the step was to lead, B dq further, and the rest of their strain is answered
elastically. The rest vanishes with the steps, so that the solution is that of the law itself; the last evaluation is.
"""

from __future__ import annotations

from biomech.mechanics.links import Law, Response, State
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.poses import Array
from biomech.mechanics.steps import strain_step


class Foresight:
    """Strains (batch, n, 6) expected for the groups whose law goes by its path; none before the first step."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.groups = [i for i, g in enumerate(network.groups) if g.law.goes_by_path]
        self.strains: dict[int, Array] = {}

    def respond(self, number: int, law: Law, strain: Array, state: State) -> Response:
        """Stand in for a law's own response."""
        expected = self.strains.get(number)
        return law.respond(strain, state) if expected is None else law.respond_beside(strain, expected, state)

    def look(self, evaluation: Evaluation, step: Array, activation: float) -> None:
        """Take note of where body twists `step` (batch, frames, 6) lead from the strains in `evaluation`."""
        for i in self.groups:
            group, kinematics = self.network.groups[i], evaluation.kinematics[i]
            now = group.effective(kinematics.strain, activation)
            self.strains[i] = now + strain_step(group, kinematics, step)

    def forget(self) -> bool:
        """Let every law answer for itself again; return whether any did not."""
        used = bool(self.strains)
        self.strains = {}
        return used
