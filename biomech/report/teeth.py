"""Tables of the teeth: forces, moments, displacements, turns, kinds of movement, published bands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from biomech.outputs.limits import Band, applied, held_force, place
from biomech.report.words import NONE, decimals, either, number, table, values, way

if TYPE_CHECKING:
    from rich.table import Table

    from biomech.outputs import Value
    from biomech.studies import Solution

Reports = Mapping[int, dict[str, "Value"]]
LINES = ("mesial", "buccal", "occlusal")
TURNS = ("torque", "tip", "rotation")
AXIS = ("crown", "apex")
POINTS = (
    "crown: incisal edge or buccal cusp; apex: root tip (mean of several); a turn about the long axis moves them too"
)
OF_AXIS = (
    "axis: the long axis at the depths of crown and apex, free of turns about it; "
    "ratio and movement are those of the axis"
)


def tooth_tables(solution: Solution) -> Iterator[Table]:
    """Yield the tables of all teeth, from the patient's right to left."""
    reports = {n: solution.tooth(n) for n in solution.teeth}
    yield forces(solution, reports)
    yield moments(reports, "moment_at_bracket_N_mm", "Moment at the bracket, N.mm, and M/F")
    if any(r["moment_at_resistance_N_mm"] is not None for r in reports.values()):
        yield moments(reports, "moment_at_resistance_N_mm", "Moment at the centre of resistance, N.mm")
        yield displacements(reports)
        yield along(reports)
        yield turns(reports)
        yield movements(reports)
        yield against_bands(solution, reports)


def _sub(report: Mapping[str, Any], key: str) -> Mapping[str, float] | None:
    found = report[key]
    return found if isinstance(found, Mapping) else None


def forces(solution: Solution, reports: Reports) -> Table:
    """Return the forces on the teeth, N and gf."""
    out = table(
        "Force on each tooth by wires and loads, N (gf)",
        "tooth", "", "mesiodistal", "buccolingual", "vertical", left=[""],
    )  # fmt: skip
    newton, gram = ([_sub(r, key) for r in reports.values()] for key in ("force_N", "force_gf"))
    fine, coarse = decimals(values(newton, LINES)), decimals(values(gram, LINES))
    for number_, in_n, in_gf in zip(reports, newton, gram, strict=True):
        assert in_n is not None and in_gf is not None
        cells = [f"{way(k, in_n[k], fine)} ({number(abs(in_gf[k]), coarse)})" for k in LINES]
        out.add_row(str(number_), _short(solution.teeth[number_].part.tooth.name), *cells)
    return out


def _short(name: str) -> str:
    """Return a tooth's name without its jaw, which the heading of the report names."""
    return name.removeprefix("upper ").removeprefix("lower ")


def moments(reports: Reports, key: str, title: str) -> Table:
    """Return moments about one point, with M/F where `title` says so."""
    ratio = "M/F" in title
    out = table(title, "tooth", *TURNS, *(["M/F, mm"] if ratio else []))
    found = {n: _sub(r, key) for n, r in reports.items()}
    places = decimals(values(found.values(), TURNS))
    for n, moment in found.items():
        extra = [_number(reports[n]["moment_to_force_mm"], 1)] if ratio else []
        out.add_row(str(n), *_turns(moment, places), *extra)
    if ratio:
        out.caption = "M/F: torque over buccolingual force, positive when the torque sends the root the same way"
        out.caption_justify = "left"
    return out


def _number(value: Value, places: int) -> str:
    return number(value if isinstance(value, float) else None, places)


def _turns(found: Mapping[str, float] | None, places: int) -> list[str]:
    return [NONE] * 3 if found is None else [way(k, found[k], places) for k in TURNS]


def displacements(reports: Reports) -> Table:
    """Return displacements across and along the long axis, of the edge (buccal cusp), the bracket and the root tip."""
    keys, shown = ("crown_mm", "bracket_mm", "apex_mm"), ("buccal", "occlusal")
    factor, unit, places = _unit(reports, keys)
    names = [f"{name} {line}" for name in ("crown", "bracket", "apex") for line in ("sideways", "vertical")]
    out = table(f"Displacement, buccolingual and vertical, {unit}", "tooth", *names)
    for n, report in reports.items():
        tables = [_sub(report, key) for key in keys]
        out.add_row(str(n), *(_moved(t, k, factor, places) for t in tables for k in shown))
    return _noted(out, POINTS)


def _noted(out: Table, caption: str) -> Table:
    """Set a caption at the left below a table, and return the table."""
    out.caption, out.caption_justify = caption, "left"
    return out


def _moved(found: Mapping[str, float] | None, key: str, factor: float, places: int) -> str:
    return NONE if found is None else way(key, factor * found[key], places)


def _unit(reports: Reports, keys: Sequence[str], entries: Sequence[str] = LINES) -> tuple[float, str, int]:
    """Return factor from mm, name and decimals of the unit that suits the displacements."""
    sizes = values((_sub(r, key) for r in reports.values() for key in keys), entries)
    largest = max(map(abs, sizes), default=0.0)
    factor, unit = (1.0, "mm") if largest >= 1.0 else (1000.0, "micrometres")
    return factor, unit, decimals([factor * largest])


def along(reports: Reports) -> Table:
    """Return displacements along the arch, and those of the palatal or lingual cusps."""
    keys = ("crown_mm", "bracket_mm", "apex_mm")
    factor, unit, places = _unit(reports, (*keys, "lingual_cusp_mm"))
    out = table(
        f"Displacement along the arch, and of the palatal (lingual) cusp, {unit}",
        "tooth", "crown", "bracket", "apex", "cusp sideways", "cusp vertical",
    )  # fmt: skip
    for n, report in reports.items():
        cells = [_moved(_sub(report, key), "mesial", factor, places) for key in keys]
        cusp = _sub(report, "lingual_cusp_mm")
        out.add_row(str(n), *cells, *(_moved(cusp, k, factor, places) for k in ("buccal", "occlusal")))
    return _noted(out, POINTS)


def turns(reports: Reports) -> Table:
    """Return by how much each tooth has turned."""
    out = table("Rotation of the tooth, degrees", "tooth", *TURNS)
    found = {n: _sub(r, "turn_deg") for n, r in reports.items()}
    places = decimals(values(found.values(), TURNS))
    for n, turn in found.items():
        out.add_row(str(n), *_turns(turn, places))
    return out


def movements(reports: Reports) -> Table:
    """Return how far the long axis of each tooth goes buccally, where the tooth turns, and what that is called."""
    factor, unit, places = _unit(reports, ("long_axis_mm",), AXIS)
    out = table(
        f"Movement in the buccolingual plane: long axis, {unit}; depths from the alveolar crest, mm",
        "tooth", "axis at\ncrown", "axis at\napex", "apex over\ncrown", "centre of\nrotation", "centre of\nresistance",
        "movement", left=["movement"],
    )  # fmt: skip
    for n, report in reports.items():
        axis = _sub(report, "long_axis_mm")
        moved = [NONE if axis is None else way("buccal", factor * axis[at], places) for at in AXIS]
        depths = [_depth(report[key]) for key in ("rotation_centre_depth_mm", "resistance_depth_mm")]
        out.add_row(str(n), *moved, _number(report["apex_to_crown"], 2), *depths, str(report["movement"]))
    return _noted(out, OF_AXIS)


def _depth(value: Value) -> str:
    return either("below", "above", value, 1) if isinstance(value, float) else NONE


def against_bands(solution: Solution, reports: Reports) -> Table:
    """Return force, torque and pressure of each tooth against the published bands, which stand below the table."""
    out = table(
        "Against published bands", "tooth", "force, N", "for", "torque, N.mm", "mean pressure, kPa", "peak, kPa",
        left=["for"],
    )  # fmt: skip
    used: dict[str, Band] = {}
    for n, view in solution.teeth.items():
        pairs = applied(view)
        found = {band.name: (band, value) for band, value in pairs}
        used |= {name: band for name, (band, _) in found.items()}
        force = held_force(pairs)
        pressure = _sub(reports[n], "ligament_pressure_kPa")
        out.add_row(
            str(n), _mark(force, 2), force[0].name.removeprefix("force for ").removeprefix("force ") if force else NONE,
            _mark(found.get("torque moment"), 1), _mark(found.get("mean ligament pressure"), 1),
            number(pressure["peak"] if pressure else None, 1),
        )  # fmt: skip
    out.caption = "\n".join(_band(band) for band in used.values())
    out.caption_justify = "left"
    return out


def _mark(found: tuple[Band, float] | None, places: int) -> str:
    return NONE if found is None else f"{number(found[1], places)} {place(found[1], found[0]):<6}"


def _band(band: Band) -> str:
    return f"{band.name}: {band.low:g} to {band.high:g} {band.unit}; {band.source}"
