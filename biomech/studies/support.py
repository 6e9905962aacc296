"""The support of one tooth by its ligament: stiffness, centre of resistance, moment-to-force ratios."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from biomech.appliance.teeth import support_of
from biomech.ligaments import Ligament, make_ligament
from biomech.mechanics.poses import Array
from biomech.tooth.model import Tooth, make_tooth
from biomech.tooth.ratios import MomentToForce, moment_to_force
from biomech.tooth.resistance import CentreOfResistance, centre_of_resistance
from biomech.tooth.support import support_matrix

PLANES = ("buccolingual", "mesiodistal")


@dataclass(frozen=True, eq=False)
class ToothSupport:
    """One unloaded tooth: `stiffness` (6, 6) about its frame's origin, its `centre`, `ratios` by plane.

    `model`: name of the model of its ligament.
    """

    tooth: Tooth
    ligament: Ligament
    stiffness: Array
    centre: CentreOfResistance
    ratios: Mapping[str, MomentToForce]
    model: str = "springs"


def tooth_support(
    number: int,
    *,
    bone_level: float = 1.5,
    root_length: float | None = None,
    law: str = "bilinear",
    model: str = "springs",
    **ligament: float,
) -> ToothSupport:
    """Return the support of tooth `number` (ISO 3950) under small loads; lengths in mm, moduli in MPa.

    `ligament`: values of the law, see biomech.ligaments; `model`: see `biomech.appliance.teeth.support_of`. M/F is
    taken at the bracket, about the mean of the apices, the bracket, and the incisal edge or buccal cusp. Raises
    InputError for what is unknown or out of range.
    """
    layer = make_ligament(law, **ligament)
    tooth = make_tooth(
        number, bone_level=bone_level, root_length=root_length, ligament_thickness=layer.thickness
    )
    return support_on(tooth, layer, model)


def support_on(tooth: Tooth, layer: Ligament, model: str = "springs") -> ToothSupport:
    """Return the support of a `tooth`, from the handbook or a surface file, on the ligament `layer`; see above."""
    other = support_of(tooth, layer, model)
    k = support_matrix(tooth.surface, layer) if other is None else other.stiffness
    bracket, apex, edge = (tooth.landmarks[name] for name in ("bracket", "apex", "edge"))
    ratios = {plane: moment_to_force(k, bracket, apex, edge, tooth.jaw_sign, plane) for plane in PLANES}
    return ToothSupport(tooth, layer, k, centre_of_resistance(k), ratios, model)
