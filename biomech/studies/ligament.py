"""What a solid ligament bears under a load on the tooth: one given in words, or that of a solved scenario."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from biomech.appliance.words import turn, vector
from biomech.cache import cached
from biomech.errors import InputError
from biomech.ligaments import Ligament
from biomech.mechanics.poses import Array
from biomech.solid import MidLayer, SolidSupport, stresses, support
from biomech.solid.loaded import under_wrench
from biomech.solid.support import embedded_root
from biomech.studies.support import PLANES, ToothSupport
from biomech.tooth.model import Tooth
from biomech.tooth.ratios import moment_to_force
from biomech.tooth.resistance import centre_of_resistance
from biomech.tooth.roots import Paraboloid

FORCES = ("mesial", "buccal", "occlusal")
"""Components of a force at the bracket, N."""
MOMENTS = ("torque", "tip", "rotation")
"""Components of a moment about the bracket, N.mm."""


@dataclass(frozen=True, eq=False)
class Load:
    """A `wrench` (6,) about the origin of the tooth frame, in its axes, N and N.mm; `words`: where it comes from."""

    wrench: Array
    words: str


@dataclass(frozen=True, eq=False)
class LoadedLigament:
    """One tooth in its solid ligament: small-load `support`, the `solid` behind it, and its `layer` under `load`.

    `motion` (6,) of the tooth, mm and rad, in its frame; `stress` (E, 8, 6) at the Gauss points of all elements, MPa,
    anatomical axes, see SolidSupport.stress.
    """

    support: ToothSupport
    solid: SolidSupport
    load: Load
    motion: Array
    layer: MidLayer
    stress: Array


def load_at_bracket(tooth: Tooth, parts: Mapping[str, float]) -> Load:
    """Return the load of forces (N) and moments (N.mm) by name at the bracket; see FORCES and MOMENTS.

    An unknown name or an empty load raises InputError.
    """
    for key in parts:
        if key not in (*FORCES, *MOMENTS):
            raise InputError(f"load {key}: unknown; allowed: {', '.join((*FORCES, *MOMENTS))}")
    if not any(parts.values()):
        raise InputError(f"load {dict(parts)!r}: nothing acts; give at least one of {', '.join((*FORCES, *MOMENTS))}")
    mesial, buccal, occlusal = (parts.get(key, 0.0) for key in FORCES)
    torque, tip, rotation = (parts.get(key, 0.0) for key in MOMENTS)
    force = vector(mesial, buccal, occlusal, tooth.side_sign, tooth.jaw_sign)
    moment = turn(torque, tip, rotation, tooth.side_sign, tooth.jaw_sign)
    wrench = np.concatenate([force, moment + np.cross(tooth.landmark("bracket"), force)])
    units = {**dict.fromkeys(FORCES, "N"), **dict.fromkeys(MOMENTS, "N.mm")}
    return Load(wrench, ", ".join(f"{key} {value:g} {units[key]}" for key, value in parts.items()) + " at the bracket")


def load_of_scenario(path: Path, number: int) -> tuple[Tooth, Ligament, Load]:
    """Return tooth `number` of a scenario file as it stands there, its ligament, and the load it receives.

    Raises InputError where the scenario has no such tooth or holds it rigidly, and what reading and solving raise.
    """
    from biomech.scenario.loader import load
    from biomech.studies.solve import solve

    solution = solve(load(path))
    if number not in solution.teeth:
        known = ", ".join(map(str, solution.teeth))
        raise InputError(f"{path}: has no tooth {number}; allowed: {known}")
    view = solution.teeth[number]
    if view.part.ligament is None:
        raise InputError(f"{path}: tooth {number} is held rigidly there and has no ligament")
    words = f"wires and applied loads of {path}"
    if solution.scenario.title:
        words += f", {solution.scenario.title}"
    return view.part.tooth, view.part.ligament, Load(view.wrench, words)


def loaded_ligament(
    tooth: Tooth, layer: Ligament, load: Load, *, waist: float = 1.0, fineness: float = 1.0
) -> LoadedLigament:
    """Return what the ligament `layer` of `tooth`, as a solid, bears under `load`.

    A law that stiffens is solved at the load (biomech.solid.loaded); the support is that of small loads. Raises
    InputError and SolveError as biomech.solid.support does.
    """
    found = support(tooth, layer, waist=waist, fineness=fineness)
    k = found.stiffness
    bracket, apex, edge = (tooth.landmarks[name] for name in ("bracket", "apex", "edge"))
    ratios = {plane: moment_to_force(k, bracket, apex, edge, tooth.jaw_sign, plane) for plane in PLANES}
    small = ToothSupport(tooth, layer, k, centre_of_resistance(k), ratios, "solid")
    if layer.is_linear:
        motion = found.motion(load.wrench)
        everywhere = found.stress(found.fields @ motion, np.arange(len(found.mesh.hexes)))
        return LoadedLigament(small, found, load, motion, stresses(found, motion), everywhere)
    at_rest = under_wrench(found, load.wrench)
    return LoadedLigament(small, found, load, at_rest.motion, at_rest.layer, at_rest.stress)


def bracket_compliances(tooth: Tooth, layer: Ligament, bone: float = 0.0) -> dict[str, Array]:
    """Return by name what the bracket gives (3,), um per N mesially, buccally and occlusally, under small loads.

    The tooth rigid, the tooth itself deformable, and with `bone` mm of it around the socket that too; see
    biomech.solid.whole. From the cache on disk where it was computed before. Raises InputError for teeth of several
    roots or from a surface file.
    """
    from biomech.solid.whole import at_bracket, whole

    root = deformable_root(tooth)
    inputs = {
        "root": asdict(root), "anatomy": asdict(tooth.anatomy), "sizes": [tooth.crown_length, tooth.bracket_height],
        "level": tooth.bone_level, "number": tooth.number, "whole": [asdict(part) for part in tooth.roots],
        "young": layer.young, "poisson": layer.poisson, "thickness": layer.thickness,
    }  # fmt: skip
    names: dict[str, float | None] = {"rigid tooth": None, "deformable tooth": 0.0}
    if bone > 0.0:
        names[f"the same in {bone:g} mm of bone"] = bone
    out = {}
    for name, around in names.items():

        def found(around: float | None = around) -> dict[str, Array]:
            if around is None:
                return {"compliance": at_bracket(support(tooth, layer).compliance, tooth)}
            return {"compliance": whole(tooth, layer, bone=around).compliance}

        matrix = cached("bracket", {**inputs, "bone": around}, found)["compliance"]
        out[name] = 1e3 * np.diag(matrix)[:3]
    return out


def deformable_root(tooth: Tooth) -> Paraboloid:
    """Return the embedded root of a tooth that can be deformable; InputError for several roots and surface files."""
    if tooth.shape is not None:
        raise InputError(f"tooth {tooth.number}: a tooth from a surface file stays rigid; deformable are single-rooted "
                         "teeth of the handbook")  # fmt: skip
    return embedded_root(tooth)
