"""Each tooth and wire at its worst over some moments, against published bands and elastic limits."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from biomech.outputs.limits import PRESSURE, TORQUE, Band, applied, held_force, place
from biomech.outputs.movement import kind
from biomech.studies.warnings import amount

if TYPE_CHECKING:
    from biomech.movement.readings import Reading
    from biomech.outputs import ToothView
    from biomech.studies import Solution


@dataclass(frozen=True)
class Peak:
    """The largest `value` of a tooth against a `band`, on `day`."""

    band: Band
    value: float
    day: float

    @property
    def where(self) -> str:
        """Return "below", "within" or "above"."""
        return place(self.value, self.band)

    @property
    def share(self) -> float:
        """Return the value over the upper end of the band."""
        return self.value / self.band.high


@dataclass(frozen=True)
class ToothWorst:
    """One tooth at its worst.

    `force`: where it is furthest up its band (or beyond), None where no band applied at any moment; `movement` and
    `forces` N (by way) of that moment, else of the one with the largest force, which is on `day`. `peaks`: the largest
    value against every band that applied, by the band's name; `turned` N.mm the largest torque at the bracket, + buccal
    root.
    """

    number: int
    day: float
    movement: str
    forces: Mapping[str, float]
    force: Peak | None
    peaks: Mapping[str, Peak]
    turned: float

    @property
    def torque(self) -> Peak | None:
        """Return the largest torque at the bracket."""
        return self.peaks.get(TORQUE.name)

    @property
    def pressure(self) -> Peak | None:
        """Return the largest mean ligament pressure."""
        return self.peaks.get(PRESSURE.name)


def worst_of(judged: Sequence[tuple[float, Solution]]) -> dict[int, ToothWorst]:
    """Return every tooth at its worst over the solutions `judged`, each with its day."""
    return {n: _tooth(n, [(day, s.teeth[n]) for day, s in judged]) for n in judged[0][1].teeth}


def _tooth(number: int, views: Sequence[tuple[float, ToothView]]) -> ToothWorst:
    peaks: dict[str, Peak] = {}
    best: tuple[Peak, ToothView] | None = None
    for day, view in views:
        found = applied(view)
        for band, value in found:
            if band.name not in peaks or value > peaks[band.name].value:
                peaks[band.name] = Peak(band, value, day)
        held = held_force(found)
        if held is not None:
            peak = Peak(*held, day)
            if best is None or peak.share > best[0].share:
                best = peak, view
    if best is not None:
        (day, view), force = (best[0].day, best[1]), best[0]
    else:
        (day, view), force = max(views, key=lambda pair: float((pair[1].wrench[:3] ** 2).sum())), None
    turned = max((v.turns(v.moment_at(v.bracket))["torque"] for _, v in views), key=abs)
    return ToothWorst(number, day, str(kind(view)), view.words(view.wrench[:3]), force, peaks, turned)


def above(worst: Mapping[int, ToothWorst]) -> dict[str, list[tuple[int, Peak]]]:
    """Return the teeth above a band at some moment, by the band's name, with what they reached there."""
    out: dict[str, list[tuple[int, Peak]]] = {}
    for n, tooth in worst.items():
        for name, peak in tooth.peaks.items():
            if peak.where == "above":
                out.setdefault(name, []).append((n, peak))
    return out


def above_lines(worst: Mapping[int, ToothWorst], days: bool) -> Iterator[str]:
    """Yield one sentence for every band that is passed: the teeth, what they reached, and (with `days`) when."""
    for name, found in above(worst).items():
        band = found[0][1].band
        unit = band.unit.replace(".", "\u00b7")
        words = [(f"{n} ({amount(p.value)})", p.day) for n, p in found]
        told = by_day(words) if days else ", ".join(text for text, _ in words)
        yield f"{name} above its band of {band.low:g} to {band.high:g} {unit}: tooth {told}"


def by_day(found: Sequence[tuple[str, float]]) -> str:
    """Return texts with their days in words, those of one day together: "16, 26 on day 0; 14 on day 28"."""
    days: dict[str, list[str]] = {}
    for text, day in sorted(found, key=lambda pair: pair[1]):
        days.setdefault(f"{day:.0f}", []).append(text)
    return "; ".join(f"{', '.join(texts)} on day {day}" for day, texts in days.items())


@dataclass(frozen=True)
class WireWorst:
    """A wire at its worst: peak stress over elastic limit `share`, on `day`, and `kept` set strain, None: elastic."""

    name: str
    share: float
    day: float
    kept: float | None

    @property
    def past(self) -> bool:
        """Return whether it went past its elastic limit, or took a set."""
        return self.share > 1.0 or bool(self.kept)

    def words(self, days: bool) -> str:
        """Return this in words."""
        when = f" on day {self.day:.0f}" if days else ""
        text = f"wire '{self.name}': {100 * self.share:.0f} % of its elastic limit{when}"
        if self.kept is not None:
            return f"{text}, largest set strain {100 * self.kept:.2f} %"
        return f"{text}; past it, a wire takes a set and delivers less than computed" if self.share > 1.0 else text


def wires_of(readings: Sequence[Reading]) -> list[WireWorst]:
    """Return every wire of a course at its worst over all its moments, those once taken out too."""
    out = []
    for name in dict.fromkeys(name for r in readings for name in r.wires):
        held = [(r.day, r.wires[name]) for r in readings if name in r.wires]
        day, most = max(held, key=lambda pair: pair[1].utilisation)
        kept = [w.largest for _, w in held if w.reading == "set"]
        out.append(WireWorst(name, most.utilisation, day, max(kept) if kept else None))
    return out


def wires_now(solution: Solution) -> list[WireWorst]:
    """Return every wire of one solution."""
    out = []
    for name, view in solution.wires.items():
        kept = view.inner.largest if view.inner is not None and view.inner.reading == "set" else None
        out.append(WireWorst(name, view.utilisation, 0.0, kept))
    return out
