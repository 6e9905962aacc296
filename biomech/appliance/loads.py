"""Forces and moments that a scenario applies to teeth directly."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from biomech.appliance.parts import ToothPart
from biomech.appliance.words import turn, vector
from biomech.mechanics.loads import Loads
from biomech.mechanics.poses import Array, apply
from biomech.scenario import Force, Scenario
from biomech.tooth.resistance import centre_of_resistance


def tooth_loads(scenario: Scenario, teeth: Mapping[int, ToothPart]) -> Loads:
    """Return the loads of the scenario; an empty set when it has none."""
    given = scenario.force
    if not given:
        return Loads.none()
    rows = [_row(load, teeth[load.tooth]) for load in given]
    return Loads(
        np.array([teeth[load.tooth].frame for load in given]),
        np.stack([row[0] for row in rows]),
        np.stack([row[1] for row in rows]),
        np.stack([row[2] for row in rows]),
        np.array([load.follows == "tooth" for load in given]),
    )


def _row(load: Force, part: ToothPart) -> tuple[Array, Array, Array]:
    """Return point (tooth axes), force and moment (tooth axes when following, else global) of one load."""
    tooth = part.tooth
    side, jaw = tooth.side_sign, tooth.jaw_sign
    force = vector(*load.force.anatomical, side, jaw)
    moment = turn(load.moment.torque, load.moment.tip, load.moment.rotation, side, jaw)
    if load.follows != "tooth":
        force, moment = apply(part.pose.rotation, force), apply(part.pose.rotation, moment)
    return _point(load.at, part), force, moment


def _point(name: str, part: ToothPart) -> Array:
    if name == "centre of resistance":
        return part.tooth.landmark("cej") if part.stiffness is None else centre_of_resistance(part.stiffness).point
    if name == "bracket":
        return part.slot_in_tooth.position
    return part.tooth.landmark(name)
