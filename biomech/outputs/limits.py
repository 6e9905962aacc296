"""Published bands for single teeth, and whether a tooth lies inside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from biomech.outputs import ToothView, Value, add
from biomech.outputs.movement import kind
from biomech.outputs.pressure import pressure


@dataclass(frozen=True)
class Band:
    """A published band of one quantity, for orientation: `low` to `high` in `unit`, its source and how it was seen."""

    name: str
    low: float
    high: float
    unit: str
    source: str


TIPPING = Band("force for tipping", 0.35, 0.60, "N",
               "textbook table 35 to 60 g, from memory; no evidence for one optimum force (Ren 2003 Angle 73:86, "
               "abstract only)")  # fmt: skip
BODILY = Band("force for bodily movement", 0.70, 1.20, "N",
              "textbook table 70 to 120 g, from memory; 0.5 to 1 N (Theodorou 2019 AJODO 156:582, "
              "abstract only)")  # fmt: skip
ROOT = Band("force for root movement", 0.50, 1.00, "N", "textbook table 50 to 100 g, from memory")
AXIAL_IN = Band("force for intrusion", 0.10, 0.20, "N", "textbook table 10 to 20 g, from memory")
AXIAL_OUT = Band("force for extrusion", 0.35, 0.60, "N", "textbook table 35 to 60 g, from memory")
ALONG = Band("force along the arch", 0.35, 1.20, "N",
             "from tipping to bodily movement, textbook table 35 to 120 g, from memory; which of them a tooth makes "
             "along the arch is not judged")  # fmt: skip
TORQUE = Band("torque moment", 5.0, 20.0, "N.mm",
              "useful window, Burstone 1982 as cited in Arreghini 2014 Prog Orthod 15:53 "
              "(introduction seen)")  # fmt: skip
PRESSURE = Band("mean ligament pressure", 2.0, 16.0, "kPa",
                "range quoted in several papers (secondary); 4.7 kPa as capillary limit (from memory)")  # fmt: skip


def _force_band(name: str) -> Band | None:
    if name in ("uncontrolled tipping", "controlled tipping", "rotation about the centre of resistance"):
        return TIPPING
    if name.startswith("bodily"):
        return BODILY
    return {"root movement": ROOT, "intrusion": AXIAL_IN, "extrusion": AXIAL_OUT}.get(name)


def place(value: float, band: Band) -> str:
    """Return "below", "within" or "above"."""
    return "below" if value < band.low else "above" if value > band.high else "within"


def applied(view: ToothView) -> list[tuple[Band, float]]:
    """Return the bands that apply to a tooth, with its value of each.

    The kind of movement is the one in the buccolingual plane. A force along the tooth or along the arch is held against
    a band of its own beside it: along the tooth from its lower end on, along the arch only where it passes the upper.
    """
    out: list[tuple[Band, float]] = []
    band = _force_band(str(kind(view)))
    force = view.words(view.wrench[:3])
    axial = AXIAL_OUT if force["occlusal"] > 0 else AXIAL_IN
    if band is not None:
        along = band in (AXIAL_IN, AXIAL_OUT)
        out.append((band, abs(force["occlusal" if along else "buccal"])))
        if not along and abs(force["occlusal"]) >= axial.low:
            out.append((axial, abs(force["occlusal"])))
        if abs(force["mesial"]) > ALONG.high:
            out.append((ALONG, abs(force["mesial"])))
    torque = abs(view.turns(view.moment_at(view.bracket))["torque"])
    if torque > 0.5:
        out.append((TORQUE, torque))
    squeezed = pressure(view)
    if isinstance(squeezed, dict):
        out.append((PRESSURE, float(squeezed["mean"] or 0.0)))
    return out


def held_force(found: Sequence[tuple[Band, float]]) -> tuple[Band, float] | None:
    """Return the band of force that decides, with its value: the one exceeded most, else that of the movement."""
    forces = [(band, value) for band, value in found if band.name.startswith("force")]
    above = [pair for pair in forces if place(pair[1], pair[0]) == "above"]
    return max(above, key=lambda pair: pair[1] / pair[0].high) if above else next(iter(forces), None)


def _where(found: Sequence[tuple[Band, float]], wanted: Band) -> str | None:
    return next((place(value, band) for band, value in found if band is wanted), None)


@add("bands", "against published bands", "")
def bands(view: ToothView) -> Value:
    """Return below, within or above for force (the band that decides), torque and pressure, else None."""
    found = applied(view)
    force = held_force(found)
    return {
        "force": None if force is None else place(force[1], force[0]),
        "torque": _where(found, TORQUE),
        "pressure": _where(found, PRESSURE),
    }
