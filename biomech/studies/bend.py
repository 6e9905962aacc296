"""Wires on the bench: what to test and how, all wires of one call, what is read off their curves."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from multiprocessing import get_context
from typing import Any

import numpy as np

from biomech import units
from biomech.alloys import REGISTRY as ALLOYS
from biomech.bench import Curve, Rig, Specimen, drive
from biomech.bench.specimen import MOUTH
from biomech.errors import BiomechError, InputError
from biomech.section import Rectangular, Round, Section

Progress = Callable[[str, float], None]
PAIR = 3
"""Wires from which on it pays to share them out to processes, which take about a second to start."""
_WIRE = re.compile(
    r"\s*([\d.]+)\s*(?:x\s*([\d.]+)\s*)?(mm|in|inch)\b\s*(?:bevel\s+([\d.]+)\s*(mm|in|inch)\b)?[\s,:]*(.*?)\s*",
    re.IGNORECASE,
)
_EXAMPLE = '"0.016 x 0.022 in nickel-titanium, superelastic" or "1.0 mm stainless as drawn, yielding"'


@dataclass(frozen=True)
class Setup:
    """One set-up: the `rig` by name, the `turns` of its path and the largest `step` (mm, rad, or share), its `options`.

    `temperature` in C, at the start; `temperatures` those at the turns (None: as before; none given: all as at the
    start). `stops` are deflections at which the standard reads.
    """

    rig: str
    turns: tuple[float, ...]
    step: float
    stops: tuple[float, ...] = ()
    temperature: float = MOUTH
    options: dict[str, Any] = field(default_factory=dict)
    temperatures: tuple[float | None, ...] = ()

    @property
    def met(self) -> tuple[float, ...]:
        """The temperatures, C, at the start and at every turn."""
        out = [self.temperature]
        for wanted in self.temperatures or (None,) * len(self.turns):
            out.append(out[-1] if wanted is None else wanted)
        return tuple(out)


@dataclass(frozen=True)
class Kind:
    """A rig the bench knows: what it does in words, its usual path, step and stops."""

    about: str
    turns: tuple[float, ...]
    step: float
    stops: tuple[float, ...] = ()
    angular: bool = False


RIGS = {
    "three-point": Kind(
        "bent between two supports 10 mm apart to 3.1 mm and let go, read at 3, 2, 1 and 0.5 mm on the way back "
        "(span and supports of ISO 15841 from memory, readings confirmed in an abstract)",
        (3.1, 0.0), 0.25, (0.5, 1.0, 2.0, 3.0),
    ),
    "cantilever": Kind("clamped at one end, pushed down at the other", (3.0, 0.0), 0.2, (0.5, 1.0, 2.0)),
    "torsion": Kind(
        "a rectangular wire twisted by a slot between two clamps", (float(np.radians(45.0)), 0.0),
        float(np.radians(1.5)), tuple(float(np.radians(a)) for a in (10.0, 20.0, 30.0)), angular=True,
    ),
    "couples": Kind("held in two brackets that turn", (1.0, 0.0), 0.1),
    "opening": Kind("an arch-shaped wire opened between the molars and let go", (24.0, 0.0), 1.0),
}  # fmt: skip
"""Rigs by name. Paths, where no source is named: common practice, no source."""


def read_wire(text: str) -> tuple[Section, str]:
    """Return section and alloy name of a wire such as "0.016 x 0.022 in nickel-titanium, superelastic".

    One size is a diameter; two are height and depth; "bevel 0.05 mm" may follow. Raises InputError for anything else.
    """
    found = _WIRE.fullmatch(text)
    if found is None or not found[6]:
        raise InputError(f'wire "{text}": write its size and its alloy, such as {_EXAMPLE}')
    first, second, unit, bevel, bevel_unit, alloy = found.groups()
    try:
        size = units.length(f"{first} {unit}")
        if second is None:
            if bevel is not None:
                raise InputError("a round wire has no bevel")
            section: Section = Round(size)
        else:
            edge = units.length(f"{bevel} {bevel_unit}") if bevel else 0.0
            section = Rectangular(size, units.length(f"{second} {unit}"), edge)
        return section, ALLOYS.get(alloy).name
    except InputError as error:
        raise InputError(f'wire "{text}": {error}') from None


def specimen_of(text: str, temperature: float) -> Specimen:
    """Return the wire `text` at a temperature, C; InputError where its law does not reach."""
    section, alloy = read_wire(text)
    specimen = Specimen(section, ALLOYS.get(alloy), temperature)
    try:
        _ = specimen.response
    except InputError as error:
        raise InputError(f'wire "{text}": {error}') from None
    return specimen


def rig_of(specimen: Specimen, setup: Setup) -> Rig:
    """Return the rig of a set-up with one wire; InputError for options that fit neither."""
    from biomech.bench.bending import cantilever, three_point
    from biomech.bench.couples import two_brackets
    from biomech.bench.opening import horseshoe
    from biomech.bench.twisting import torsion

    make: dict[str, Callable[..., Rig]] = {
        "three-point": three_point, "cantilever": cantilever, "torsion": torsion, "couples": two_brackets,
        "opening": horseshoe,
    }  # fmt: skip
    return make[setup.rig](specimen, **setup.options)


def bend_wires(wires: Sequence[str], setup: Setup, *, jobs: int = 1, progress: Progress | None = None) -> list[Curve]:
    """Return the curves of `wires` (texts as for `read_wire`) in one set-up, in order.

    With two `jobs` or more, three wires or more share processes. Raises InputError for a wire that cannot be read or
    does not fit the set-up before any is tested, SolveError naming the wire where no equilibrium is found.
    """
    if not wires:
        raise InputError(f"no wire given: name at least one, such as {_EXAMPLE}")
    for text in wires:
        for temperature in dict.fromkeys(setup.met):
            rig_of(specimen_of(text, temperature), setup)
    if jobs < 2 or len(wires) < PAIR:
        return [_test(text, setup, _part(progress, i, len(wires))) for i, text in enumerate(wires)]
    found: dict[int, Curve] = {}
    with ProcessPoolExecutor(min(jobs, len(wires)), mp_context=get_context("spawn")) as pool:
        tasks = {pool.submit(_test, text, setup): i for i, text in enumerate(wires)}
        for task in as_completed(tasks):
            found[tasks[task]] = task.result()
            if progress is not None:
                progress(f"{len(found)} of {len(wires)} wires", len(found) / len(wires))
    return [found[i] for i in range(len(wires))]


def _test(text: str, setup: Setup, progress: Progress | None = None) -> Curve:
    specimen = specimen_of(text, setup.temperature)
    try:
        return drive(
            rig_of(specimen, setup), setup.turns, step=setup.step, stops=setup.stops, temperatures=setup.temperatures,
            progress=progress,
        )  # fmt: skip
    except BiomechError as error:
        raise type(error)(f'wire "{text}": {error}') from None


def _part(progress: Progress | None, i: int, n: int) -> Progress | None:
    if progress is None:
        return None
    return lambda what, share: progress(what, (i + share) / n)


@dataclass(frozen=True)
class Number:
    """One number read off a curve: its name with the unit, and the value (None where there is none)."""

    name: str
    value: float | None


def numbers(setup: Setup, curve: Curve) -> list[Number]:
    """Return what is read off a curve in a set-up, in mm, deg, N and N.mm."""
    angular = RIGS[setup.rig].angular
    scale, unit = (float(np.degrees(1.0)), "deg") if angular else (1.0, curve.unit)
    per = f"{curve.reading_unit}/{unit}"
    out = []
    if setup.rig == "torsion":
        slope, play = curve.steepest()
        out += [Number("play, deg", scale * play), Number(f"engaged rate, {per}", slope / scale)]
        for moment in (5.0, 10.0, 20.0):
            at = curve.first_at(moment)
            out.append(Number(f"twist for {moment:g} N.mm, deg", None if at is None else scale * at))
    elif setup.rig != "couples":
        out.append(Number(f"initial rate, {per}", curve.stiffness() / scale))
    if setup.rig in ("three-point", "cantilever"):
        out.append(Number("0.1 mm offset force, N", curve.offset_reading(0.1)))
    out += _readings(setup, curve, 0, "loading", scale, unit)
    if curve.way_back is not None:
        out += _readings(setup, curve, curve.way_back, "unloading", scale, unit)
        name = f"permanent {curve.quantity}, {unit}" if unit else f"permanent {curve.quantity}"
        out.append(Number(name, _scaled(curve.permanent, scale)))
    largest = float(curve.reading[np.argmax(np.abs(curve.reading))])
    out += [Number(f"largest {curve.reading_name}, {curve.reading_unit}", largest)]
    for name, values in curve.also.items():
        full = int(np.argmax(np.abs(curve.x)))
        out.append(Number(f"{name}, at the whole angles", float(values[full])))
    if curve.changes_temperature:
        out += _ends(setup, curve, scale, unit)
    out += _limit(curve, scale, unit)
    strain = None if np.isnan(curve.strain).all() else 100 * float(np.nanmax(curve.strain))
    return [*out, Number("largest axial fibre strain, %", strain)]


def _readings(setup: Setup, curve: Curve, leg: int, word: str, scale: float, unit: str) -> list[Number]:
    stops = setup.stops if leg == 0 else setup.stops[::-1]
    out = []
    for at in stops:
        try:
            value: float | None = curve.on(leg, at)
        except InputError:
            value = None
        out.append(Number(f"{word} at {scale * at:g} {unit}, {curve.reading_unit}", value))
    return out


def _limit(curve: Curve, scale: float, unit: str) -> list[Number]:
    """Return from where on a wire taken as elastic is past its limit, and its largest stress; None with memory."""
    where = f"past elastic limit from {curve.quantity}"
    most = None if np.isnan(curve.share).all() else 100 * float(np.nanmax(curve.share))
    return [
        Number(f"{where}, {unit}" if unit else where, _scaled(curve.past_from, scale)),
        Number("largest stress, % of elastic limit", most),
    ]


def _ends(setup: Setup, curve: Curve, scale: float, unit: str) -> list[Number]:
    """Return the reading at the end of every stretch; and what is left of the deflection where it ends at none."""
    out = []
    for leg, (turn, temperature) in enumerate(zip(setup.turns, setup.met[1:], strict=True)):
        mine = np.flatnonzero(curve.leg == leg)
        name = f"{leg + 1}: {scale * turn:g} {unit}, {temperature:g} C"
        out.append(Number(f"{name}: {curve.reading_name}, {curve.reading_unit}", _last(curve.reading, mine)))
        if curve.one_sided and turn == 0:
            out.append(Number(f"{name}: {curve.quantity} left, {unit}", _scaled(_last(curve.x, mine), scale)))
    return out


def _last(values: np.ndarray, rows: np.ndarray) -> float | None:
    return float(values[rows[-1]]) if len(rows) else None


def _scaled(value: float | None, scale: float) -> float | None:
    return None if value is None else scale * value
