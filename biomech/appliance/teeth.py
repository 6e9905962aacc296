"""Teeth of a scenario: anatomy, ligament, place along the arch, slots."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from biomech.appliance.parts import ToothPart
from biomech.appliance.prescribed import prescribed
from biomech.appliance.words import malposition
from biomech.archform import Curve, arch_form, through_points
from biomech.errors import InputError, nearest
from biomech.ligaments import MODELS, Ligament, make_ligament
from biomech.mechanics.poses import Pose
from biomech.scenario import Bracket, Scenario, ToothEntry, ToothMesh
from biomech.tooth.model import Tooth, make_tooth
from biomech.tooth.roof import roof_warning
from biomech.tooth.setup import Placement, set_up
from biomech.tooth.tractions import Support

if TYPE_CHECKING:
    from biomech.surfaces import Source


@dataclass(frozen=True)
class TeethSetUp:
    """Teeth along the arch before frames are numbered.

    `ligaments`: None for teeth held rigidly; `supports`: None for them and for those on springs.
    """

    curve: Curve
    teeth: Mapping[int, Tooth]
    ligaments: Mapping[int, Ligament | None]
    supports: Mapping[int, Support | None]
    placed: Mapping[int, Placement]
    models: Mapping[int, ToothEntry]
    warnings: tuple[str, ...]


def bracket_line(scenario: Scenario) -> Curve:
    """Return the curve on which the slots of the levelled arch lie."""
    arch = scenario.arch
    if arch.form == "points":
        return through_points(np.array(arch.points))
    if arch.form == "straight":
        return arch_form("straight", 4.0 * len(arch.teeth) * (arch.spacing or 12.0))
    assert arch.width is not None and arch.depth is not None
    return arch_form(arch.form, arch.width, arch.depth)


def set_up_teeth(scenario: Scenario) -> TeethSetUp:
    """Return the scenario's teeth in place. Raises InputError for teeth that overlap or cannot be built.

    Scenarios that say the same of their teeth share them; those with teeth from files read these again.
    """
    if any(tooth.mesh is not None for tooth in scenario.tooth.values()):
        return _set_up(scenario)
    return _remembered(_Asked(scenario))


class _Asked:
    """A scenario that equals others with the same arch, ligaments, deviations of single teeth and brackets."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        single = (f"{number}: {tooth.model_dump_json()}" for number, tooth in scenario.tooth.items())
        parts = (scenario.arch, scenario.ligament, scenario.bracket)
        self.key = (*(part.model_dump_json() for part in parts), *single)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Asked) and self.key == other.key

    def __hash__(self) -> int:
        return hash(self.key)


@lru_cache(maxsize=8)
def _remembered(asked: _Asked) -> TeethSetUp:
    return _set_up(asked.scenario)


def _set_up(scenario: Scenario) -> TeethSetUp:
    arch = scenario.arch
    models = {t: scenario.tooth_of(t) for t in arch.teeth}
    ligaments = {t: ligament_of(scenario, t) for t in arch.teeth}
    teeth = {t: tooth_of(t, models[t], ligaments[t]) for t in arch.teeth}
    curve = bracket_line(scenario)
    placed = set_up(
        curve,
        teeth,
        spacing=arch.spacing,
        crowding=arch.crowding or 0.0,
        stand_off=scenario.bracket.stand_off,
        inclinations={t: m.inclination for t, m in models.items() if m.inclination is not None},
        angulations={t: m.angulation for t, m in models.items() if m.angulation is not None},
    )
    modelled = {t: scenario.ligament_of(t).model for t in arch.teeth}
    supports = {t: support_of(teeth[t], ligaments[t], modelled[t]) for t in arch.teeth}
    repaired = [
        f"tooth {t}, {tooth.shape.source}: {line}"
        for t, tooth in teeth.items() if tooth.shape is not None for line in tooth.shape.repairs
    ]  # fmt: skip
    found = dict.fromkeys(w for t, law in ligaments.items() if law is not None for w in law.warnings(modelled[t]))
    roofs = roof_warning((teeth[t], law.poisson) for t, law in ligaments.items() if law is not None)
    return TeethSetUp(curve, teeth, ligaments, supports, placed, models, (*repaired, *found, *roofs))


def ligament_of(scenario: Scenario, number: int) -> Ligament | None:
    """Return the ligament of one tooth; None when it is held rigidly."""
    law, values, _ = scenario.ligament_of(number)
    return None if law == "rigid" else make_ligament(law, **values)


def support_of(tooth: Tooth, ligament: Ligament | None, model: str) -> Support | None:
    """Return the support that a `model` makes of a tooth's ligament; None on springs and when it is held rigidly.

    Raises InputError for an unknown model and for a ligament the model cannot take.
    """
    if ligament is None or model == "springs":
        return None
    if model == "surface":
        from biomech.tooth.layer.supports import surface_support

        return surface_support(tooth, ligament)
    if model == "solid":
        from biomech.solid.bearing import solid_bearing

        return solid_bearing(tooth, ligament)
    known = ", ".join(f"'{name}'" for name in MODELS)
    raise InputError(f"unknown ligament model '{model}'; known: {known}.{nearest(model, MODELS)}")


def tooth_of(number: int, model: ToothEntry, ligament: Ligament | None) -> Tooth:
    """Return a tooth from the handbook with the scenario's deviations, or with the shape of its surface file."""
    given = {
        key: value
        for key in ("bone_level", "crown_length", "root_length", "bracket_height")
        if (value := getattr(model, key)) is not None
    }
    if ligament is not None:
        given["ligament_thickness"] = ligament.thickness
    if model.mesh is None:
        return make_tooth(number, **given)
    from biomech.surfaces import mesh_tooth

    return mesh_tooth(number, _source(model.mesh), **given)


def _source(mesh: ToothMesh) -> Source:
    from biomech.surfaces import Crest, Source

    found = {key: getattr(mesh, key) for key in ("unit", "long_axis", "buccal", "bracket", "cej", "mirrored")}
    crest = None if mesh.crest is None else Crest(**mesh.crest.model_dump())
    return Source(Path(mesh.file), crest=crest, **found)


def number_teeth(
    prepared: TeethSetUp, frames: Mapping[int, int], sockets: Mapping[int, int], bracket: Bracket
) -> dict[int, ToothPart]:
    """Return the teeth with their frames; those with a socket get consecutive rows of the ligament law."""
    out = {}
    bed = 0
    for t, place in prepared.placed.items():
        tooth, model = prepared.teeth[t], prepared.models[t]
        moved = malposition(
            model.slot_torque, model.slot_tip, model.slot_rotation, model.slot_out, model.slot_up,
            tooth.side_sign, tooth.jaw_sign,
        )
        row = bed if t in sockets else -1
        bed += t in sockets
        turned = prescribed(bracket.prescription, place, tip=bracket.prescription_angles != "torque")
        turned = Pose(turned.rotation @ moved.rotation, moved.position)
        passive = place.pose.inverse() @ place.slot
        out[t] = ToothPart(
            tooth, prepared.ligaments[t], frames[t], sockets.get(t, -1), row, place.s, place.pose, place.slot,
            passive @ turned, passive @ moved, prepared.supports[t],
        )
    return out
