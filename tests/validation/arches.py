"""Whole arches for the tests: solve a scenario, add up forces independently of the solver, move a model rigidly."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from biomech.appliance import Appliance, build
from biomech.mechanics.equilibrium import Equilibrium, equilibrium
from biomech.mechanics.poses import Pose, rotation_exp
from biomech.scenario import Scenario, load
from biomech.studies.solve import settings_of

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@cache
def scenario(name: str) -> Scenario:
    return load(SCENARIOS / f"{name}.toml")


def solve(found: Scenario | str, refine: int = 1, **settings) -> tuple[Appliance, Equilibrium]:
    """Build and solve a scenario (or the example of that name)."""
    from dataclasses import replace

    found = scenario(found) if isinstance(found, str) else found
    appliance = build(found, refine=refine)
    chosen = replace(settings_of(found), **settings)
    return appliance, equilibrium(appliance.network, appliance.start, settings=chosen)


@cache
def solved(name: str) -> tuple[Appliance, Equilibrium]:
    return solve(name)


def global_wrenches(appliance: Appliance, e: Equilibrium, groups: list[int], variant: int = 0) -> np.ndarray:
    """Force and moment about the global origin (frames, 6) that the links of `groups` put on every frame."""
    rotation, position = e.poses.rotation[variant], e.poses.position[variant]
    total = np.zeros((appliance.network.frames, 6))
    for i in groups:
        links, force = appliance.network.groups[i], e.frame_forces(i)[variant]
        for frames, mine in ((links.a, -force[:, :6]), (links.b, -force[:, 6:])):
            f = np.einsum("nij,nj->ni", rotation[frames], mine[:, :3])
            m = np.einsum("nij,nj->ni", rotation[frames], mine[:, 3:]) + np.cross(position[frames], f)
            np.add.at(total, frames, np.hstack([f, m]))
    return total


def load_wrenches(appliance: Appliance, e: Equilibrium, variant: int = 0) -> np.ndarray:
    """The same of the applied loads."""
    loads, total = appliance.network.loads, np.zeros((appliance.network.frames, 6))
    if len(loads):
        rotation, position = e.poses.rotation[variant], e.poses.position[variant]
        body = loads.wrenches(e.poses)[variant]
        f = np.einsum("nij,nj->ni", rotation[loads.frame], body[:, :3])
        m = np.einsum("nij,nj->ni", rotation[loads.frame], body[:, 3:]) + np.cross(position[loads.frame], f)
        np.add.at(total, loads.frame, np.hstack([f, m]))
    return total


def imbalance(appliance: Appliance, e: Equilibrium, variant: int = 0) -> float:
    """Largest force or moment (over 10 mm) left on the wires as a whole, on a tooth, over all forces on teeth.

    On the wires: whatever they put on all teeth must add up to nothing. On a tooth: what its ligament puts on it plus
    wires plus loads must be nothing (teeth held rigidly need no ligament).
    """
    ligament = appliance.ligament_group
    groups = [i for i in range(len(appliance.network.groups)) if i != ligament]
    wires = global_wrenches(appliance, e, groups, variant)
    loads = load_wrenches(appliance, e, variant)
    teeth = [part.frame for part in appliance.teeth.values()]
    left = [wires[teeth].sum(axis=0)] if appliance.wires else []
    if ligament >= 0:
        movable = [part.frame for part in appliance.teeth.values() if part.socket >= 0]
        left += list((global_wrenches(appliance, e, [ligament], variant) + wires + loads)[movable])
    through = np.linalg.norm(wires[teeth, :3], axis=1).sum() + np.linalg.norm(loads[:, :3], axis=1).sum()
    worst = np.abs(np.array(left)) / np.array([1, 1, 1, 10, 10, 10])
    return float(worst.max(initial=0.0) / max(through, 1.0))


def crown(appliance: Appliance, e: Equilibrium, number: int, landmark: str = "edge", variant: int = 0) -> np.ndarray:
    """Displacement (3,) of a landmark, global axes, mm."""
    part = appliance.teeth[number]
    point = part.tooth.landmark(landmark)
    now = Pose(e.poses.rotation[variant, part.frame], e.poses.position[variant, part.frame])
    return now.point(point) - part.pose.point(point)


def crowns(appliance: Appliance, e: Equilibrium, variant: int = 0) -> np.ndarray:
    """Displacements (teeth, 2, 3) of crown edge and apex of all teeth, global axes, mm."""
    return np.array([[crown(appliance, e, t, mark, variant) for mark in ("edge", "apex")] for t in appliance.teeth])


def moved(poses: Pose, w: tuple[float, float, float], x: tuple[float, float, float]) -> Pose:
    """Poses carried along by a rigid motion."""
    return Pose(rotation_exp(np.array(w)), np.array(x)) @ poses
