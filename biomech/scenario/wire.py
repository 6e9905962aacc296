"""A wire of a scenario file: section, alloy, stress-free shape, bends, and how each tooth holds it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, StrictInt, model_validator

from biomech.scenario import quantities as q
from biomech.scenario.hold import Hold, Pair
from biomech.scenario.parts import Part
from biomech.scenario.problems import Problem, refuse

WIDEST = "20 mm"
"""How far a side may be widened, or narrowed."""
MOST_TWIST = "60 deg"
"""How much torque may be bent into a wire at a tooth, either way."""
Size = Annotated[float | None, q.length("0.1 mm", "2 mm")]
TorqueAngle = Annotated[float, q.angle(MOST_TWIST, q.ROOT)]
TipAngle = Annotated[float, q.angle("45 deg", q.TIP)]
RotationAngle = Annotated[float, q.angle("60 deg", q.ROTATION)]
StepOut = Annotated[float, q.offset("5 mm", q.FACING, 1)]
StepUp = Annotated[float, q.offset("5 mm", q.UPWARD, 0)]


class Widen(Part):
    """How far the stress-free wire is widened: each side alike, or left and right (the patient's) apart."""

    each_side: Annotated[float | None, q.length(f"-{WIDEST}", WIDEST)] = Field(
        default=None,
        description="outward shift at the ends of the bracket line, on each side; negative: narrowed",
    )
    left: Annotated[float | None, q.length(f"-{WIDEST}", WIDEST)] = Field(
        default=None, description="outward shift at the patient's left end"
    )
    right: Annotated[float | None, q.length(f"-{WIDEST}", WIDEST)] = Field(
        default=None, description="outward shift at the patient's right end"
    )
    profile: Annotated[str, q.Name("widening profile", q.profiles)] = q.stated(
        "proportional", "how the widening is shared along the arch"
    )

    @model_validator(mode="after")
    def _check(self) -> Widen:
        one_sided = self.left is not None or self.right is not None
        if self.each_side is not None and one_sided:
            refuse([Problem(("each_side",), "cannot be given together with left or right")])
        if self.each_side is None and not one_sided:
            refuse([Problem(("each_side",), "is missing: give each_side, or left and right")])
        return self

    @property
    def sides(self) -> tuple[float, float]:
        """Outward shift at the left and at the right end, mm."""
        if self.each_side is not None:
            return self.each_side, self.each_side
        return self.left or 0.0, self.right or 0.0


class Opening(Part):
    """What was done by hand to the formed wire before it was tied in: opened beyond its shape, then let go."""

    each_side: Annotated[float, q.length("-20 mm", "20 mm")] = Field(
        description="how far its ends go outward at the last holds, on each side; negative: closed"
    )
    by: Literal["bending", "pulling"] = Field(
        description=(
            '"bending": bent all along, bit by bit and beyond, until it stands that far open when let go; "pulling": '
            "held at its middle and pulled apart at its ends by so much, then let go"
        )
    )
    relieved: bool = Field(
        default=False, strict=True, description="stress-relieved afterwards: free of stress in the shape it then has"
    )


class ProgressiveTorque(Part):
    """Twist that grows evenly along the wire from one tooth to another (both included)."""

    from_: q.ToothNumber = Field(alias="from", description="tooth at which the twist begins")
    to: q.ToothNumber = Field(description="tooth at which it ends")
    start: TorqueAngle = q.stated("0 deg", "torque at `from`; stored rad, positive: buccal root")
    end: TorqueAngle = Field(description="torque at `to`; stored rad, positive: buccal root")


class VBend(Part):
    """A V-shaped kink between the slots of two neighbouring teeth."""

    between: Pair = Field(description="the two neighbouring teeth")
    at: float = Field(gt=0.0, lt=1.0, description="place as a share of the span, from the first named tooth")
    angle: Annotated[float, q.Quantity("angle", "0.01 deg", "60 deg")] = Field(
        description="by how much the wire's direction changes at the kink; stored rad, positive"
    )
    apex: Literal["occlusal", "gingival", "buccal", "lingual"] = Field(
        description="where the tip of the V points"
    )

    @property
    def plane(self) -> Literal["vertical", "horizontal"]:
        """The plane of the bend: vertical for an occlusal or gingival apex."""
        return "vertical" if self.apex in ("occlusal", "gingival") else "horizontal"


class Wire(Part):
    """A wire. Bends at a tooth are named by what they do to that tooth when the wire is tied in.

    Shape, widening and bends are taken as free of stress however they were made; only `opening` follows the hand.
    """

    section: Literal["round", "rectangular"] = Field(description='"round" or "rectangular"')
    diameter: Size = Field(default=None, description="round: diameter")
    height: Size = Field(
        default=None, description="rectangular: occlusogingival size (0.019 in of 0.019 x 0.025)"
    )
    depth: Size = Field(
        default=None, description="rectangular: buccolingual size (0.025 in of 0.019 x 0.025)"
    )
    bevel: Annotated[float | None, q.length("0 mm", "0.5 mm")] = Field(
        default=None, description="rectangular: radius of the rounded edges; sharp unless stated"
    )
    alloy: Annotated[str, q.Name("alloy", q.alloys)] = Field(
        description='name of the alloy, like "stainless as drawn"'
    )
    young: Annotated[float | None, q.Quantity("pressure", "5 GPa", "500 GPa")] = Field(
        default=None, description="Young's modulus instead of the alloy's"
    )
    temperature: Annotated[float | None, q.Quantity("temperature", "0 degC", "60 degC")] = Field(
        default=None, description="temperature of this wire; that of the mouth unless stated"
    )
    shape: Annotated[str, q.Name("wire shape", q.wire_shapes)] = q.stated(
        "bracket line", 'stress-free shape; "bracket line" is passive'
    )
    form_width: Annotated[float | None, q.length("15 mm", "120 mm")] = Field(
        default=None, description="width of the shape between its ends, for an arch form of its own"
    )
    form_depth: Annotated[float | None, q.length("5 mm", "100 mm")] = Field(
        default=None, description="depth of the shape, for an arch form of its own"
    )
    points: Annotated[tuple[q.Point, ...], BeforeValidator(q.listed)] = Field(
        default=(), description='for shape = "points": [x, y] pairs'
    )
    widen: Widen | None = Field(default=None, description="widening of the stress-free shape")
    opening: Opening | None = Field(
        default=None, description="opening by hand before tying in; needs an alloy that yields"
    )
    out: Annotated[float, q.offset("10 mm", q.FACING, 1)] = q.stated(
        "0 mm", "place of the wire off the bracket line; stored mm, positive: buccal"
    )
    gingival: Annotated[float, q.length("-10 mm", "10 mm")] = q.stated(
        "0 mm", "place of the wire off the bracket line; stored mm, positive: gingival"
    )
    ends: Annotated[float, q.length("0 mm", "20 mm")] = q.stated(
        "0 mm", "length of wire beyond the last hold at either end"
    )
    from_: q.ToothNumber | None = Field(
        default=None, alias="from", description="first tooth; the outermost held unless stated"
    )
    to: q.ToothNumber | None = Field(default=None, description="last tooth; the outermost held unless stated")
    elements_per_span: StrictInt = Field(
        default=4, ge=1, le=64, description="beam elements between neighbouring holds"
    )
    torque: dict[q.ToothNumber, TorqueAngle] = q.stated(
        {}, "twist at single teeth; stored rad, positive: turns the root buccal"
    )
    tip: dict[q.ToothNumber, TipAngle] = q.stated(
        {}, "second-order bend at single teeth; stored rad, positive: tips the crown mesial"
    )
    rotate: dict[q.ToothNumber, RotationAngle] = q.stated(
        {}, "first-order bend at single teeth; stored rad, positive: turns the mesial side out"
    )
    step_out: dict[q.ToothNumber, StepOut] = q.stated(
        {}, "in-out bend at single teeth; stored mm, positive: moves the tooth buccal"
    )
    step_up: dict[q.ToothNumber, StepUp] = q.stated(
        {}, "vertical step at single teeth; stored mm, positive: moves the tooth occlusal"
    )
    progressive_torque: ProgressiveTorque | None = Field(
        default=None, description="twist growing from tooth to tooth"
    )
    v_bend: Annotated[tuple[VBend, ...], BeforeValidator(q.listed)] = Field(default=(), description="V bends")
    piece: StrictInt = Field(
        default=1,
        ge=1,
        description="which piece of wire this is; counted on where a visit puts in a new one under the same name, "
        "which remembers nothing of the one before",
    )
    hold: Annotated[tuple[Hold, ...], BeforeValidator(q.filled)] = Field(
        description="how the teeth hold the wire: at least one [[wire.NAME.hold]]"
    )

    @model_validator(mode="after")
    def _check(self) -> Wire:
        refuse([*self._section_problems(), *self._shape_problems(), *self._hold_problems()])
        return self

    @property
    def size(self) -> tuple[float, float]:
        """Height (occlusogingival) and depth (buccolingual) of the section, mm."""
        if self.section == "round":
            return self.diameter or 0.0, self.diameter or 0.0
        return self.height or 0.0, self.depth or 0.0

    def _section_problems(self) -> list[Problem]:
        needed = ("diameter",) if self.section == "round" else ("height", "depth")
        found = []
        for key in ("diameter", "height", "depth", "bevel"):
            given = getattr(self, key) is not None
            if key in needed and not given:
                found.append(
                    Problem((key,), f'is missing: section = "{self.section}" needs {" and ".join(needed)}')
                )
            if given and key not in needed and (key, self.section) != ("bevel", "rectangular"):
                found.append(
                    Problem(
                        (key,),
                        f'has no meaning with section = "{self.section}"; it needs {" and ".join(needed)}',
                    )
                )
        if self.section == "rectangular" and self.bevel and self.bevel > 0.5 * min(self.size):
            found.append(Problem(("bevel",), "is more than half the wire's smaller side"))
        if self.section == "round":
            found += [
                Problem(
                    (key,),
                    "cannot act: a round wire turns in its slot and carries no torque; use a rectangular one",
                )
                for key in ("torque", "progressive_torque")
                if getattr(self, key)
            ]
        return found

    def _shape_problems(self) -> list[Problem]:
        found = []
        own = self.shape not in ("bracket line", "straight", "points")
        for key in ("form_width", "form_depth"):
            given = getattr(self, key) is not None
            if own != given:
                say = "is missing" if own else "has no meaning"
                found.append(
                    Problem(
                        (key,),
                        f'{say} with shape = "{self.shape}": it is for an arch form of its own',
                    )
                )
        if self.shape == "points" and len(self.points) < 2:
            found.append(Problem(("points",), 'must hold at least two points for shape = "points"'))
        if self.shape != "points" and self.points:
            found.append(Problem(("points",), f'has no meaning with shape = "{self.shape}"'))
        return found

    def _hold_problems(self) -> list[Problem]:
        return [
            Problem(
                ("hold", i, "play"),
                'is missing: say how the tube holds a round wire: "none" (tightly) or a length',
            )
            for i, hold in enumerate(self.hold)
            if self.section == "round" and hold.by == "tube" and hold.play is None and hold.clearance is None
        ]
