"""Moment-to-force ratios at the bracket for the textbook movements, from the support of one tooth.

With the bracket at distance H (mm) occlusal of the centre of resistance, a force F across the long axis at
the bracket and a couple M that moves the root the way the force goes (positive M/F, mm), the tooth turns
about a point at D = sigma^2 / (H - M/F) apical of the centre of resistance. (Derived from K; exact for a
linear ligament of any root shape.) M/F = H translates; more leads with the root.

Loads and motion are those in the plane that contains the long axis. A mesiodistal force at the bracket, which
lies facially of it, also turns the tooth about its long axis; here that turn is taken to be held by a couple,
as a tied bracket does. With roots symmetric to the plane it makes no difference to these ratios.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.tooth.resistance import PLANES, PlanarCentre, planar_centre


@dataclass(frozen=True, eq=False)
class MomentToForce:
    """Ratios of one tooth in one plane. Lengths and ratios in mm, areas in mm2.

    `distance`: H, bracket to centre of resistance along the long axis; `apex`, `edge`: where those lie,
    apical of the centre of resistance (edge negative); `centre`: the planar centre they were found from.
    """

    centre: PlanarCentre
    distance: float
    apex: float
    edge: float
    jaw_sign: int

    @property
    def translation(self) -> float:
        """M/F for translation, equal to H."""
        return self.distance

    @property
    def about_apex(self) -> float:
        """M/F for tipping about the apex."""
        return self.ratio(self.apex)

    @property
    def about_bracket(self) -> float:
        """M/F for root movement about the bracket."""
        return self.ratio(-self.distance)

    @property
    def about_edge(self) -> float:
        """M/F for root movement about the incisal edge or cusp."""
        return self.ratio(self.edge)

    def ratio(self, depth: float) -> float:
        """Return M/F, mm, that turns the tooth about a point `depth` mm apical of the centre of resistance.

        Infinite depth of either sign is translation; zero needs a couple alone and raises InputError.
        """
        if depth == 0.0 or np.isnan(depth):
            raise InputError(f"rotation centre depth = {depth:g} mm: no force-and-couple gives it; "
                             "allowed: any distance from the centre of resistance but 0")  # fmt: skip
        return self.distance - self.centre.sigma_squared / depth

    def depth(self, ratio: float) -> float:
        """Return D, mm, apical of the centre of resistance, for M/F = `ratio` mm; inf in translation."""
        if not np.isfinite(ratio):
            raise InputError(f"M/F = {ratio!r} mm: must be a finite number")
        lever = self.distance - ratio
        return float("inf") if lever == 0.0 else self.centre.sigma_squared / lever

    def moment(self, ratio: float, force: float) -> float:
        """Return the moment, N.mm, about the plane's normal (a1 or a2, right-handed) that M/F stands for.

        `force`: N along the plane's lateral axis (a2 or a1).
        """
        return -PLANES[self.centre.plane].sign * self.jaw_sign * ratio * force


def moment_to_force(
    k: Array, bracket: Array, apex: Array, edge: Array, jaw_sign: int, plane: str = "buccolingual"
) -> MomentToForce:
    """Return the ratios for a tooth of stiffness `k` (6, 6) about the origin of its frame, on the long axis.

    `bracket`, `apex`, `edge` (3,): points of the tooth frame, mm; `jaw_sign`: +1 in the upper jaw. Planes:
    "buccolingual", "mesiodistal"; another raises InputError.
    """
    if plane not in ("buccolingual", "mesiodistal"):
        raise InputError(f"plane '{plane}' has no M/F; allowed: buccolingual, mesiodistal")
    centre = planar_centre(k, plane, np.zeros(3))
    deep = [float(jaw_sign * (point[2] - centre.point[2])) for point in (bracket, apex, edge)]
    return MomentToForce(centre, -deep[0], deep[1], deep[2], jaw_sign)
