"""The arch, the ligament, the brackets and the single teeth of a scenario file."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field, StrictBool, model_validator

from biomech.errors import nearest
from biomech.scenario import quantities as q
from biomech.scenario.mesh import ToothMesh
from biomech.scenario.problems import Problem, refuse
from biomech.scenario.table import Part

__all__ = [
    "Arch", "Bracket", "Length", "Ligament", "LigamentChange", "Part", "ToothEntry", "ligament_problems",
    "model_problems", "place_along",
]  # fmt: skip
Length = Annotated[float, q.length("0 mm", "100 mm")]


def place_along(number: int) -> int:
    """Return a key that sorts teeth of one jaw from the patient's right end to the left end."""
    quadrant, place = divmod(number, 10)
    return -place if quadrant in (1, 4) else place


def _from_right_to_left(teeth: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(sorted(teeth, key=place_along))


class Arch(Part):
    """The jaw, its bracket line (the curve through the slots) and the teeth present."""

    jaw: Literal["upper", "lower"] = Field(description='which jaw: "upper" or "lower"')
    form: Annotated[str, q.Name("arch form", q.arch_forms)] = q.stated(
        "beta", "shape of the bracket line, seen from above"
    )
    width: Annotated[float | None, q.length("15 mm", "90 mm")] = Field(
        default=None, description="width of the bracket line between its ends"
    )
    depth: Annotated[float | None, q.length("5 mm", "80 mm")] = Field(
        default=None, description="depth of the bracket line, from its front to the line joining its ends"
    )
    points: Annotated[tuple[q.Point, ...], BeforeValidator(q.listed)] = Field(
        default=(), description='for form = "points": [x, y] pairs, x to the patient\'s left, y forward'
    )
    teeth: Annotated[q.Teeth, AfterValidator(_from_right_to_left)] = Field(
        description="the teeth present (ISO 3950), in any order; kept from the patient's right to the left"
    )
    spacing: Annotated[float | None, q.length("2 mm", "25 mm")] = Field(
        default=None, description="constant distance between neighbouring brackets along the line"
    )
    crowding: Annotated[float | None, q.length("0 mm", "20 mm")] = Field(
        default=None, description="overlap of the teeth along the arch in all, shared among the contacts"
    )

    @model_validator(mode="after")
    def _check(self) -> Arch:
        refuse([*self._shape_problems(), *self._teeth_problems()])
        return self

    def _shape_problems(self) -> list[Problem]:
        sized = self.form not in ("points", "straight")
        found = []
        for key in ("width", "depth"):
            given = getattr(self, key) is not None
            if sized and not given:
                found.append(Problem((key,), f'is missing: form = "{self.form}" needs width and depth'))
            if not sized and given:
                found.append(Problem((key,), f'has no meaning with form = "{self.form}"'))
        if self.form == "points" and len(self.points) < 2:
            found.append(Problem(("points",), 'must hold at least two points for form = "points"'))
        if self.form != "points" and self.points:
            found.append(Problem(("points",), f'has no meaning with form = "{self.form}"'))
        if self.spacing is not None and self.crowding is not None:
            found.append(Problem(("crowding",), "cannot be given together with spacing"))
        return found

    def _teeth_problems(self) -> list[Problem]:
        quadrants = (1, 2) if self.jaw == "upper" else (3, 4)
        found = []
        for number in dict.fromkeys(self.teeth):
            if number // 10 not in quadrants:
                allowed = " and ".join(f"{k}1-{k}7" for k in quadrants)
                found.append(
                    Problem(
                        ("teeth",), f"lists {number}, which is not in the {self.jaw} jaw; allowed: {allowed}"
                    )
                )
            if self.teeth.count(number) > 1:
                found.append(Problem(("teeth",), f"lists {number} twice"))
        return found


MODEL = (
    'how the ligament bears on the root: "springs" side by side, each point for itself, good to poisson = 0.45; '
    '"surface": the pressure in it from one equation over the root, good to 0.499, for law = "linear"; '
    '"solid": a solid between root and bone, for law = "linear" and teeth with one root or of a file'
)


class LigamentChange(Part):
    """Values of the ligament that differ at one tooth; those left out are the arch's."""

    law: Annotated[str | None, q.Name("ligament law", q.ligament_laws)] = Field(
        default=None, description="ligament law"
    )
    young: Annotated[float | None, q.Quantity("pressure", "0.0001 MPa", "1000 MPa")] = Field(
        default=None, description="Young's modulus (of the first branch)"
    )
    second_young: Annotated[float | None, q.Quantity("pressure", "0.0001 MPa", "1000 MPa")] = Field(
        default=None, description="Young's modulus of the second branch of a bilinear law"
    )
    transition_strain: q.Share | None = Field(
        default=None, description="strain at which the second branch begins"
    )
    poisson: float | None = Field(default=None, ge=0.0, lt=0.5, description="Poisson's ratio")
    thickness: Annotated[float | None, q.length("0.02 mm", "1 mm")] = Field(
        default=None, description="thickness"
    )
    model: Annotated[str | None, q.Name("ligament model", q.ligament_models)] = Field(default=None, description=MODEL)

    @property
    def values(self) -> dict[str, float]:
        """The parameters given, in MPa and mm; what is left out is the law's own default."""
        return {k: v for k, v in self.model_dump(exclude={"law", "model"}).items() if v is not None}


class Ligament(LigamentChange):
    """The periodontal ligament of all teeth; `values` left out take the law's own sourced defaults."""

    law: Annotated[str, q.Name("ligament law", q.ligament_laws)] = q.stated(
        "bilinear", 'ligament law, or "rigid" for teeth that cannot move'
    )

    @model_validator(mode="after")
    def _check(self) -> Ligament:
        refuse([*ligament_problems(self.law, self.values), *model_problems(self.law, self.model)])
        return self


def ligament_problems(law: str, values: dict[str, float]) -> list[Problem]:
    """Return a problem for each of `values` that the ligament `law` does not know."""
    if law == "rigid":
        known: list[str] = []
    else:
        from dataclasses import fields

        from biomech.ligaments import REGISTRY

        known = [f.name for f in fields(REGISTRY.get(law))]
    listed = f"its keys: {', '.join(known)}" if known else "it has no values"
    return [
        Problem((key,), f'has no meaning with law = "{law}"; {listed}.{nearest(key, known)}')
        for key in values
        if key not in known
    ]


def model_problems(law: str, model: str | None) -> list[Problem]:
    """Return a problem when a ligament of this `law` cannot have this `model` (None: springs)."""
    if model in (None, "springs"):
        return []
    if law == "rigid":
        return [Problem(("model",), 'has no meaning with law = "rigid"')]
    if law == "linear":
        return []
    text = f'is a model of linear elasticity: it needs law = "linear"; allowed with law = "{law}": "springs"'
    return [Problem(("model",), text)]


class Bracket(Part):
    """The brackets and rectangular tubes of the main wire; a slot of 0.022 x 0.028 in unless stated."""

    slot_height: Annotated[float, q.length("0.3 mm", "1 mm")] = q.stated(
        "0.022 in", "occlusogingival height of slot and rectangular tube"
    )
    slot_depth: Annotated[float, q.length("0.3 mm", "1.5 mm")] = q.stated(
        "0.028 in", "buccolingual depth of slot and rectangular tube"
    )
    width: Annotated[float, q.length("0.5 mm", "6 mm")] = q.stated(
        "3 mm", "mesiodistal width of a bracket (common practice, no source)"
    )
    tube_length: Annotated[float, q.length("0.5 mm", "10 mm")] = q.stated(
        "4 mm", "mesiodistal length of a tube (common practice, no source)"
    )
    stand_off: Annotated[float, q.length("0 mm", "5 mm")] = q.stated(
        "1 mm", "from the tooth's surface to the slot's centre (common practice, no source)"
    )
    prescription: Annotated[str | None, q.Name("prescription", q.prescriptions)] = Field(
        default=None,
        description="how the slots are turned in the teeth: so that a level wire brings each crown to the angles of a "
        "torque prescription; left out: the slots of the teeth as they stand are level",
    )
    prescription_angles: Literal["torque and tip", "torque"] = Field(
        default="torque and tip",
        description='what of the prescription acts; "torque": the teeth are tipped as prescribed by earlier wires',
    )
    contact_stiffness: Annotated[float | None, q.Quantity("stiffness", "10 N/mm", "1000000 N/mm")] = Field(
        default=None,
        description="stiffness of one corner contact of wire and slot; left out: the attachment's own",
    )


SLOT_RULE = "how the slot stands, against the passive wire; the wire pushes it back the other way"


class ToothEntry(Part):
    """What is different about one tooth.

    The slot_* keys say how its slot stands, not what the wire does to it: a slot that stands "5 deg mesial
    crown" stands as if its tooth were tipped with the crown to the mesial, and an engaged straight wire tips
    the tooth back to the distal.
    """

    bone_level: Annotated[float | None, q.length("0 mm", "15 mm")] = Field(
        default=None, description="from the cemento-enamel junction to the bone crest"
    )
    inclination: Annotated[float | None, q.angle("45 deg", q.CROWN)] = Field(
        default=None, description="inclination of the long axis; stored rad, positive: crown buccal (labial)"
    )
    angulation: Annotated[float | None, q.angle("45 deg", q.TIP)] = Field(
        default=None, description="angulation of the long axis; stored rad, positive: crown mesial"
    )
    crown_length: Annotated[float | None, q.length("3 mm", "16 mm")] = Field(
        default=None, description="crown length"
    )
    root_length: Annotated[float | None, q.length("4 mm", "25 mm")] = Field(
        default=None, description="root length"
    )
    bracket_height: Annotated[float | None, q.length("0.5 mm", "12 mm")] = Field(
        default=None, description="from the edge or cusp tip to the slot, along the long axis"
    )
    held: StrictBool = Field(default=False, description="true: the tooth cannot move in its socket")
    slot_torque: Annotated[float, q.angle("60 deg", q.ROOT)] = q.stated(
        "0 deg", f"{SLOT_RULE}; stored rad, positive: as with the root buccal"
    )
    slot_tip: Annotated[float, q.angle("45 deg", q.TIP)] = q.stated(
        "0 deg", f"{SLOT_RULE}; stored rad, positive: as with the crown mesial"
    )
    slot_rotation: Annotated[float, q.angle("60 deg", q.ROTATION)] = q.stated(
        "0 deg", f"{SLOT_RULE}; stored rad, positive: as with the mesial side out"
    )
    slot_out: Annotated[float, q.offset("10 mm", q.FACING, 1)] = q.stated(
        "0 mm", f"{SLOT_RULE}; stored mm, positive: buccal"
    )
    slot_up: Annotated[float, q.offset("10 mm", q.UPWARD, 0)] = q.stated(
        "0 mm", f"{SLOT_RULE}; stored mm, positive: occlusal"
    )
    ligament: LigamentChange | None = Field(default=None, description="ligament values of this tooth")
    mesh: ToothMesh | None = Field(default=None, description="shape of this tooth from a surface file")

    @model_validator(mode="after")
    def _check(self) -> ToothEntry:
        refuse(self._problems())
        return self

    def _problems(self) -> list[Problem]:
        found = []
        if self.held and self.ligament is not None:
            found.append(Problem(("ligament",), "has no meaning on a tooth with held = true"))
        if self.mesh is None:
            return found
        said = {"crown_length": "mesh", "root_length": "mesh"}
        said |= {"bone_level": "mesh.crest"} if self.mesh.crest is not None else {}
        said |= {"bracket_height": "mesh.bracket"} if self.mesh.bracket is not None else {}
        return found + [
            Problem((key,), f"has no meaning beside {other}, which says it")
            for key, other in said.items()
            if getattr(self, key) is not None
        ]
