"""Wires of a scenario: section, alloy, fitted and stress-free shape, stations and holds."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from biomech.alloys import REGISTRY as ALLOYS
from biomech.alloys import Alloy
from biomech.appliance.stations import Stop, station_line
from biomech.appliance.words import turn
from biomech.archform import Curve, arch_form, through_points
from biomech.errors import InputError
from biomech.mechanics.poses import Array, Pose
from biomech.scenario import Hold, Scenario, Wire
from biomech.scenario.wire import VBend as VBendModel
from biomech.section import Rectangular, Round, Section
from biomech.tooth.anatomy import jaw_sign, side_sign
from biomech.tooth.setup import Placement
from biomech.wire.bends import MIN_GAP, ProgressiveTwist, SlotBends, VBend
from biomech.wire.shape import StressFree


@dataclass(frozen=True)
class Grip:
    """One hold resolved: tooth (and partner of a tie between two), its model, s of its stations on the wire."""

    tooth: int
    model: Hold
    at: tuple[float, ...]
    partner: int | None = None


@dataclass(frozen=True)
class Layout:
    """A wire before it enters the network.

    `fitted` is the curve it lies along in the mouth, at height `z`; `free` its stress-free shape, `opened` makes the
    same shape widened further by so many mm, None without an opening; `line` (n + 1,) its stations. The alloy is at the
    wire's `temperature`, C.
    """

    name: str
    model: Wire
    section: Section
    alloy: Alloy
    fitted: Curve
    z: float
    free: StressFree
    line: Array
    grips: list[Grip]
    opened: Callable[[float], StressFree] | None = None
    temperature: float = 36.0

    def fitted_poses(self) -> Pose:
        """Return the poses (n + 1,) of the stations as the wire is laid in."""
        return Pose(*self.fitted.frames(self.line, self.z))

    def fitted_at(self, s: Array) -> Pose:
        """Return the poses of the fitted wire at s (...)."""
        return Pose(*self.fitted.frames(s, self.z))


def lay_out(name: str, scenario: Scenario, curve: Curve, placed: Mapping[int, Placement], refine: int) -> Layout:
    """Resolve wire `name` of the scenario; `refine` multiplies the number of elements. Raises InputError."""
    model = scenario.wire[name]
    jaw = jaw_sign(next(iter(placed)))
    fitted = curve.offset(model.out) if model.out else curve
    along = {number: _along(fitted, curve, place, model.out) for number, place in placed.items()}
    grips = _grips(model, scenario, along)
    _refuse_overlap(name, grips)
    base = _free_curve(model, fitted)
    free = _stress_free(model, base, grips, along, jaw)

    def opened(by: float) -> StressFree:
        return _stress_free(model, base.widened(by, by, "proportional"), grips, along, jaw)

    stops = [Stop(grip.at, i) for i, grip in enumerate(grips)]
    reach = _reach(name, model, grips, along)
    temperature = scenario.temperature if model.temperature is None else model.temperature
    alloy = alloy_of(name, model, temperature)
    kinks = free.kinks() if alloy.is_linear else _with_midline(free.kinks(), grips)
    line = station_line(stops, kinks, model.elements_per_span, refine, model.ends, reach)
    further = None if model.opening is None else opened
    return Layout(
        name, model, section_of(model), alloy, fitted, jaw * model.gingival, free, line, grips, further, temperature
    )


def _with_midline(kinks: Array, grips: list[Grip]) -> Array:
    """Return the kinks and the midline, from which what a wire keeps is measured; not where a hold is near anyway."""
    near = any(abs(s) < MIN_GAP for grip in grips for s in grip.at)
    return kinks if near else np.append(kinks, 0.0)


def _reach(name: str, model: Wire, grips: list[Grip], along: Mapping[int, float]) -> tuple[float, float]:
    """Return s of the wire's first and last tooth, as stated or the outermost held; holds beyond are refused."""
    ends = [along[t] for t in (model.from_, model.to) if t is not None]
    middle = [0.5 * (g.at[0] + g.at[-1]) for g in grips]
    first = min(ends) if len(ends) == 2 or (ends and ends[0] < 0) else middle[0]
    last = max(ends) if len(ends) == 2 or (ends and ends[0] >= 0) else middle[-1]
    for grip, s in zip(grips, middle, strict=True):
        if not first - 1e-6 <= s <= last + 1e-6:
            raise InputError(f"wire.{name}: tooth {grip.tooth} holds the wire but lies beyond its ends (from, to)")
    return first, last


def _refuse_overlap(name: str, grips: list[Grip]) -> None:
    """Raise InputError where two holds leave no wire between them."""
    for a, b in pairwise(grips):
        gap = b.at[0] - a.at[-1]
        if gap < MIN_GAP:
            raise InputError(
                f"wire.{name}: its holds at teeth {a.tooth} and {b.tooth} leave no wire between them ({gap:.2f} mm; "
                f"allowed: at least {MIN_GAP:g} mm). Give narrower brackets or tubes, or hold the wire at fewer teeth"
            )


def section_of(model: Wire) -> Section:
    """Return the cross-section of a wire."""
    if model.section == "round":
        assert model.diameter is not None
        return Round(model.diameter)
    assert model.height is not None and model.depth is not None
    return Rectangular(model.height, model.depth, model.bevel or 0.0)


def alloy_of(name: str, model: Wire, temperature: float) -> Alloy:
    """Return the alloy of wire `name` at a temperature, C.

    With the scenario's own modulus when it gives one. Raises InputError for a temperature outside the alloy's law.
    """
    alloy = ALLOYS.get(model.alloy)
    alloy = alloy if model.young is None else alloy.with_young(model.young)
    try:
        return alloy.at(temperature)
    except InputError as error:
        raise InputError(f"wire.{name}: {error}") from None


def _along(fitted: Curve, curve: Curve, place: Placement, out: float) -> float:
    if fitted is curve:
        return place.s
    point = curve.point(np.array([place.s]))
    return float(fitted.nearest(point)[0])


def _grips(model: Wire, scenario: Scenario, along: Mapping[int, float]) -> list[Grip]:
    chosen: dict[object, tuple[Hold, tuple[int, ...]]] = {}
    for hold in model.hold:
        for pair in hold.between or ():
            chosen[tuple(pair)] = (hold, tuple(pair))
        for tooth in (sorted(along) if hold.teeth == "all" else hold.teeth or ()):
            chosen[tooth] = (hold, (tooth,))
    grips = []
    for hold, teeth in chosen.values():
        s = float(np.mean([along[t] for t in teeth]))
        half = 0.5 * _width(hold, scenario)
        at = (s - half, s + half) if hold.by in ("slot", "tube") else (s,)
        grips.append(Grip(teeth[0], hold, at, teeth[1] if len(teeth) > 1 else None))
    return sorted(grips, key=lambda g: g.at[0])


def _width(hold: Hold, scenario: Scenario) -> float:
    if hold.width is not None:
        return hold.width
    return scenario.bracket.tube_length if hold.by == "tube" else scenario.bracket.width


def _stress_free(
    model: Wire,
    curve: Curve,
    grips: list[Grip],
    along: Mapping[int, float],
    jaw: int,
) -> StressFree:
    return StressFree(
        curve,
        jaw * model.gingival,
        _slot_bends(model, grips, along, jaw),
        [_v_bend(bend, along, jaw) for bend in model.v_bend],
        progressive=_progressive(model, along, jaw),
    )


def _free_curve(model: Wire, fitted: Curve) -> Curve:
    if model.shape == "bracket line":
        curve = fitted
    elif model.shape == "points":
        curve = through_points(np.array(model.points))
    elif model.shape == "straight":
        curve = arch_form("straight", 2 * fitted.length)
    else:
        assert model.form_width is not None and model.form_depth is not None
        curve = arch_form(model.shape, model.form_width, model.form_depth)
    if model.widen is None:
        return curve
    return curve.widened(*model.widen.sides, model.widen.profile)


def _slot_bends(
    model: Wire, grips: list[Grip], along: Mapping[int, float], jaw: int
) -> list[SlotBends]:
    tables = (model.torque, model.tip, model.rotate, model.step_out, model.step_up)
    if not any(tables) and model.progressive_torque is None:
        return []
    bends = []
    held = {grip.tooth: grip for grip in grips if grip.partner is None}
    bent = {t for table in tables for t in table}
    for t in sorted(held.keys() | bent, key=lambda tooth: along[tooth]):
        at = held[t].at if t in held else (along[t],)
        w = turn(model.torque.get(t, 0.0), model.tip.get(t, 0.0), model.rotate.get(t, 0.0), side_sign(t), jaw)
        middle, half = 0.5 * (at[0] + at[-1]), 0.5 * (at[-1] - at[0])
        out, up = model.step_out.get(t, 0.0), -jaw * model.step_up.get(t, 0.0)
        bends.append(SlotBends(middle, half, out, up, rotation=w[2], tip=w[1], twist=w[0]))
    return bends


def _v_bend(bend: VBendModel, along: Mapping[int, float], jaw: int) -> VBend:
    first, second = (along[t] for t in bend.between)
    towards = {"gingival": jaw, "occlusal": -jaw, "buccal": -1, "lingual": 1}[bend.apex]
    return VBend(first + bend.at * (second - first), towards * bend.angle, bend.plane)


def _progressive(model: Wire, along: Mapping[int, float], jaw: int) -> list[ProgressiveTwist]:
    p = model.progressive_torque
    if p is None:
        return []
    ends = sorted([(along[p.from_], -jaw * p.start), (along[p.to], -jaw * p.end)])
    return [ProgressiveTwist(ends[0][0], ends[1][0], ends[0][1], ends[1][1])]
