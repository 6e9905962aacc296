"""What a reader of a solution must be told: limits passed, torque lost to play, what the model leaves out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from biomech.appliance import Appliance
from biomech.attachments.slot import Slot
from biomech.mechanics.equilibrium import Equilibrium
from biomech.outputs import ToothView
from biomech.outputs._arch import ArchView
from biomech.outputs._inner import Inner
from biomech.outputs._wires import WireView
from biomech.outputs.limits import PRESSURE, Band, applied, place
from biomech.studies.strains import strain_words, strained_most

ENGAGED = 0.5
"""Torque moment below which a wire counts as not engaged, N.mm."""
UNCHANGED = 0.005
"""Change of a wire's half-width that is none in a number of two decimals, mm."""
SLIGHT = 0.005
"""Share of martensite that counts as none."""
LARGE_STRAIN = 0.35
"""Displacement over ligament thickness beyond which its laws are outside what was measured. Assumed."""


def warnings_of(
    appliance: Appliance,
    solved: Equilibrium,
    teeth: Mapping[int, ToothView],
    wires: Mapping[str, WireView],
    arch: ArchView,
) -> tuple[str, ...]:
    """Return the warnings of a solution, the most important first."""
    out: list[str] = list(solved.history)
    for name, wire in wires.items():
        if wire.inner is not None:
            out += _memory(appliance, name, wire.inner)
            if wire.inner.reading == "martensite" and wire.utilisation > 1:
                out.append(
                    f"wire '{name}' carries {wire.peak:.0f} MPa near tooth {wire.tooth}, beyond {wire.limit:.0f} MPa, "
                    "from which a set is likely; its law does not follow that"
                )
        elif wire.utilisation > 1:
            out.append(
                f"wire '{name}' is past its elastic limit: {wire.peak:.0f} MPa near tooth {wire.tooth} against "
                f"{wire.limit:.0f} MPa, over {100 * wire.past:.0f} % of its length; it would take a set and deliver "
                "less than computed. Activate less, or use a thinner wire"
            )
    out += _play(appliance, teeth)
    out += _bands(teeth)
    out += _strain(teeth)
    if arch.force > 1e-6 * max(arch.throughput, 1.0):
        out.append(f"forces of the wires on the teeth do not balance: {arch.force:.2e} N left")
    return tuple(dict.fromkeys([*out, *appliance.warnings]))


def _memory(appliance: Appliance, name: str, wire: Inner) -> list[str]:
    """Say what went wrong with a wire with memory: where it would or may break, where it has yielded."""
    most = strained_most(appliance, appliance.wires[name], wire.inside.strain)
    breaks = strain_words(name, wire.strain_limit, most)
    out = [] if breaks is None else [breaks]
    return [*out, *memory_words(name, wire)] if wire.has_yielded else out


def memory_words(name: str, wire: Inner) -> list[str]:
    """Return in words what a wire with memory went through, what it keeps and what force is left."""
    at = f"at {wire.past.temperature:g} C"
    if wire.reading == "martensite":
        if wire.largest < SLIGHT:
            return [f"wire '{name}' is austenite all along {at}: it acts as an elastic wire"]
        return [
            f"wire '{name}' is on its plateau over {100 * wire.over:.0f} % of its length {at}, most near tooth "
            f"{wire.tooth} ({100 * wire.largest:.0f} % martensite, fibre strain {100 * wire.strain:.1f} %)"
            + ("" if wire.set_mm is None else f"; taken out it stands {_aside(wire.set_mm)} before")
        ]
    if not wire.has_yielded:
        return [f"wire '{name}' has not yielded: it delivers what an elastic wire would"]
    left = wire.force_left
    force = "" if left is None else f"; it delivers {100 * left:.0f} % of the force of one that does not yield"
    keeps = "" if wire.set_mm is None else f", and taken out it stands {_aside(wire.set_mm)} before"
    return [
        f"wire '{name}' has yielded over {100 * wire.over:.0f} % of its length, most near tooth {wire.tooth} (set "
        f"strain {100 * wire.largest:.2f} %){keeps}{force}"
    ]


def _aside(pair: tuple[float, float]) -> str:
    """Say how much further out or in the right and left end of a wire stand."""
    mean = 0.5 * (pair[0] + pair[1])
    if abs(mean) < UNCHANGED:
        return "as it did"
    return f"{abs(mean):.2f} mm a side {'wider' if mean >= 0 else 'narrower'} than"


def _play(appliance: Appliance, teeth: Mapping[int, ToothView]) -> list[str]:
    """Say where torque was put into a wire but no moment comes of it, and whether play alone explains that."""
    for name, model in appliance.scenario.wire.items():
        still: dict[int, float] = {}
        for number, angle in model.torque.items():
            moment = teeth[number].turns(teeth[number].moment_at(teeth[number].bracket))["torque"]
            if abs(angle) > 1e-3 and abs(moment) < ENGAGED:
                still[number] = abs(angle)
        if still:
            return list(_not_felt(name, still, play_of(appliance, name)))
    return []


def _not_felt(wire: str, still: Mapping[int, float], play: float | None) -> Iterator[str]:
    """Yield sentences on torque (rad, by tooth) that makes no moment, with the play of the slots, rad each way."""

    def told(numbers: Sequence[int]) -> str:
        at = ", ".join(f"{n} ({np.degrees(still[n]):.0f} deg)" for n in numbers)
        return f"torque of wire '{wire}' is not felt at tooth {at}"

    deg = "" if play is None else f"{np.degrees(play):.1f} deg each way"
    lost = [n for n, angle in still.items() if play is None or angle <= play]
    beyond = [n for n in still if n not in lost]
    if lost:
        yield f"{told(lost)}: lost in the slot's play" + (f" (play {deg})" if deg else "")
    if beyond:
        yield (
            f"{told(beyond)}, though it is more than the slot's play ({deg}): the wire is twisted alike beside it, or "
            "the tooth has followed"
        )


def play_of(appliance: Appliance, wire: str) -> float | None:
    """Return the torque play of a rectangular wire in its slots, rad each way (largest of its slots); None if round.

    From h cos(t) + b sin(t) = S with rounded corners, the angle at which two opposite corners touch.
    """
    from scipy.optimize import brentq

    part = appliance.wires[wire]
    laws = [g.law for g in appliance.network.groups if g.name == f"{wire} slots" and isinstance(g.law, Slot)]
    if not laws or part.section.bevel * 2 >= part.section.height:
        return None
    s, r = float(np.max(laws[0].slot_height)), part.section.bevel
    h, b = part.section.height - 2 * r, part.section.depth - 2 * r

    def gap(t: float) -> float:
        return float(h * np.cos(t) + b * np.sin(t) + 2 * r - s)

    top = float(np.arctan2(b, h))
    return float(brentq(gap, 0.0, top)) if gap(0.0) < 0 < gap(top) else None


def _bands(teeth: Mapping[int, ToothView]) -> list[str]:
    above: dict[str, list[str]] = {}
    limits: dict[str, Band] = {}
    for number, view in teeth.items():
        for band, value in applied(view):
            limits[band.name] = band
            if place(value, band) == "above":
                above.setdefault(band.name, []).append(f"{number} ({amount(value)} {band.unit})")
    out = []
    for name, found in above.items():
        band = limits[name]
        doubt = " (an elastic model's pressure is a poor alarm)" if name == PRESSURE.name else ""
        range_ = f"{band.low:g} to {band.high:g} {band.unit}"
        out.append(f"{name} above its published band of {range_} at tooth {', '.join(found)}{doubt}")
    return out


def amount(value: float) -> str:
    """Return a size with two figures, whole from 100 on: never as a power of ten."""
    return f"{value:.2g}" if value < 99.5 else f"{value:.0f}"


def _strain(teeth: Mapping[int, ToothView]) -> list[str]:
    from biomech.tooth.support import displacements

    large = []
    for number, view in teeth.items():
        ligament = view.part.ligament
        if ligament is not None:
            moved = np.linalg.norm(displacements(view.part.tooth.surface, view.motion), axis=-1).max()
            if moved > LARGE_STRAIN * ligament.thickness:
                large.append(f"{number} ({moved / ligament.thickness:.2f})")
    if not large:
        return []
    return [
        "root displacement over ligament thickness is outside what the ligament law was measured for at tooth "
        f"{', '.join(large)}; read the elastic displacement there as a direction, not an amount"
    ]
