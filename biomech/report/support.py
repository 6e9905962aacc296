"""The report of one tooth's support."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import fields
from typing import TYPE_CHECKING

from biomech.appliance.words import directions
from biomech.report.words import number, table, way
from biomech.tooth.ratios import MomentToForce
from biomech.tooth.roof import roof_warning

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from biomech.mechanics.poses import Array
    from biomech.studies.support import ToothSupport
    from biomech.tooth.model import Tooth

DEGREE = math.pi / 180.0
_ROWS: tuple[tuple[str, Callable[[MomentToForce], float], int], ...] = (
    ("stiffness across the long axis, N/mm", lambda r: r.centre.lateral_stiffness, 2),
    ("stiffness under a couple, N.mm per degree", lambda r: DEGREE * r.centre.rotational_stiffness, 2),
    ("sigma squared, mm2", lambda r: r.centre.sigma_squared, 2),
    ("bracket to centre of resistance, mm", lambda r: r.distance, 2),
    ("M/F tipping about the apex, mm", lambda r: r.about_apex, 2),
    ("M/F translation, mm", lambda r: r.translation, 2),
    ("M/F root movement about the bracket, mm", lambda r: r.about_bracket, 2),
    ("M/F root movement about the edge or cusp, mm", lambda r: r.about_edge, 2),
)


def print_support(support: ToothSupport, console: Console) -> None:
    """Print the support of one tooth."""
    from biomech.studies.solve import CAUTION

    tooth = support.tooth
    console.print(f"Support of tooth {tooth.number}, {tooth.name}", style="bold")
    for line in size_lines(support):
        console.print(line)
    console.print()
    for found in (planes(support), axes(support)):
        console.print(found)
        console.print()
    for line in notes(support):
        console.print(line)
    console.print(CAUTION, style="italic")


def size_lines(support: ToothSupport) -> Iterator[str]:
    """Yield the sizes and the ligament the numbers belong to."""
    tooth, law = support.tooth, support.ligament
    yield (
        f"root {tooth.root_length:.4g} mm, bone level {tooth.bone_level:.3g} mm below the cemento-enamel junction, "
        f"embedded {tooth.embedded_length:.1f} mm, area {tooth.surface.weights.sum():.0f} mm2"
    )
    if tooth.shape is not None:
        yield f"shape from {tooth.shape.source}: volume {tooth.shape.volume:.0f} mm3, crown {tooth.width:.1f} mm wide"
    units = {"young": " MPa", "second_young": " MPa", "thickness": " mm"}
    given = (
        f"{f.name.replace('_', ' ')} {getattr(law, f.name):g}{units.get(f.name, '')}" for f in fields(law)
    )
    how = "" if support.model == "springs" else f", model {support.model}"
    yield f"ligament {law.name}{how}: {', '.join(given)}"


def planes(support: ToothSupport) -> Table:
    """Return stiffnesses, centres of resistance and moment-to-force ratios in both planes."""
    out = table("In the two planes of the long axis, small loads", "", *support.ratios)
    for title, value, places in _ROWS[:2]:
        out.add_row(title, *(number(value(r), places) for r in support.ratios.values()))
    depths = [support.tooth.jaw_sign * r.centre.point[2] for r in support.ratios.values()]
    crest = [float(depth - support.tooth.bone_level) for depth in depths]
    share = (100 * depth / support.tooth.embedded_length for depth in crest)
    out.add_row("centre of resistance below the crest, mm", *(number(depth, 2) for depth in crest))
    out.add_row("the same as a share of the embedded length", *(f"{part:.1f} %" for part in share))
    for title, value, places in _ROWS[2:]:
        out.add_row(title, *(number(value(r), places) for r in support.ratios.values()))
    out.caption = "M/F at the bracket, positive when the couple sends the root the way of the force"
    out.caption_justify = "left"
    return out


def axes(support: ToothSupport) -> Table:
    """Return the axes of resistance: the lines about which couples turn the tooth."""
    out = table(
        "Axes of resistance: a couple turns the tooth about a line",
        "couple", "N.mm per degree", "direction: mesial", "buccal", "occlusal", "nearest to centre, mm",
    )  # fmt: skip
    centre = support.centre
    names = ("torque", "tip", "rotation")
    for name, plane, axis in zip(names, ("buccolingual", "mesiodistal", "occlusal"), centre.axes, strict=True):
        stiffness = DEGREE * centre.planar[plane].rotational_stiffness
        away = float(math.dist(axis.point, centre.point))
        along = _words(support, axis.direction).values()
        sense = math.copysign(1.0, max(along, key=abs))  # a line has no sense: its main component is shown positive
        parts = (number(sense * part, 3) for part in along)
        out.add_row(name, number(stiffness, 2), *parts, number(away, 2))
    gaps = ", ".join(f"{number(float(gap), 2)} mm" for gap in centre.gaps)
    out.caption = f"distances between the axes (tip-rotation, rotation-torque, torque-tip): {gaps}"
    out.caption_justify = "left"
    return out


def _origin(tooth: Tooth) -> Iterator[str]:
    """Yield where the shape of the tooth comes from, and what was repaired or assumed."""
    if tooth.shape is None:
        yield f"Sizes of the tooth: averages of the handbooks of dental anatomy; table {tooth.anatomy.seen}"
        return
    yield f"Shape of the tooth: {tooth.shape.source}"
    for note in (*tooth.shape.repairs, *tooth.shape.notes):
        yield f"- {note}"


def _words(support: ToothSupport, vector: Array) -> dict[str, float]:
    return directions(vector, support.tooth.side_sign, support.tooth.jaw_sign)


def notes(support: ToothSupport) -> Iterator[str]:
    """Yield the centre in space with its residual, stiffness along the axis, sources and warnings."""
    centre = support.centre
    at = ", ".join(f"{way(key, value, 2)} mm" for key, value in _words(support, centre.point).items())
    yield f"Centre of resistance in space, from the cemento-enamel junction on the long axis: {at}"
    yield (
        f"  residual {centre.residual:.4f}: coupling of translation and rotation left there; at 0 a force through it "
        "only translates, else no such point exists"
    )
    along = 1.0 / float(centre.planar["buccolingual"].mobility[1, 1])
    yield f"Stiffness along the long axis: {along:.2f} N/mm"
    yield from _origin(support.tooth)
    yield f"Ligament: {support.ligament.provenance()}"
    roof = roof_warning([(support.tooth, support.ligament.poisson)])
    for warning in (*support.ligament.warnings(support.model), *roof):
        yield f"Warning: {warning}"
