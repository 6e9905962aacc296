"""Random but admissible scenarios: whatever an orthodontist could write down, drawn from a seed.

Ranges are common practice (no source): sizes and amounts seen in practice and somewhat beyond, not extremes that no
one would tie in. Every document is complete in itself and goes through the same reader as a file.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np

Document = dict[str, Any]

UPPER = (17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27)
LOWER = (47, 46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36, 37)
RECTANGULAR = ((0.016, 0.022), (0.017, 0.025), (0.018, 0.025), (0.019, 0.025), (0.021, 0.025))
ROUND = (0.012, 0.014, 0.016, 0.018, 0.020)
ALLOYS = (
    "stainless as drawn", "stainless stress-relieved", "beta-titanium", "cobalt-chromium",
    "nickel-titanium, elastic stand-in",
)  # fmt: skip


class Draw:
    """A source of random values that are written as scenario text."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def number(self, low: float, high: float) -> float:
        return round(float(self.rng.uniform(low, high)), 4)

    def mm(self, low: float, high: float) -> str:
        return f"{self.number(low, high)} mm"

    def one(self, choices: Any) -> Any:
        return choices[int(self.rng.integers(len(choices)))]

    def some(self, choices: Any, low: int, high: int) -> list[Any]:
        count = min(int(self.rng.integers(low, high + 1)), len(choices))
        picked = self.rng.choice(len(choices), size=count, replace=False)
        return [choices[i] for i in sorted(picked)]

    def toward(self, low: float, high: float, unit: str, words: tuple[str, ...]) -> str:
        return f"{self.number(low, high)} {unit} {self.one(words)}"


def random_document(seed: int, alloys: tuple[str, ...] = ALLOYS) -> Document:
    """Return the tables of one scenario; the same seed gives the same scenario."""
    d = Draw(seed)
    teeth = _teeth(d)
    upper = teeth[0] < 30
    document: Document = {
        "format": 1,
        "title": f"Random scenario {seed}",
        "note": "Invented case.",
        "arch": _arch(d, teeth, upper),
        "ligament": _ligament(d),
        "bracket": _bracket(d),
        "tooth": {str(t): _tooth(d) for t in d.some(teeth, 0, 6)},
        "wire": {},
    }
    slots = document["bracket"]
    if d.chance(0.9):
        document["wire"]["main"] = _main(d, teeth, slots, alloys)
    if d.chance(0.6) or not document["wire"]:
        document["wire"]["overlay"] = _overlay(d, teeth, alloys)
    if d.chance(0.35):
        document["force"] = [_force(d, teeth) for _ in range(int(d.rng.integers(1, 4)))]
    return document


def _teeth(d: Draw) -> list[int]:
    row = list(UPPER if d.chance(0.6) else LOWER)
    if d.chance(0.3):
        row = row[1:-1]
    for missing in d.some(row[1:-1], 0, 3) if d.chance(0.4) else []:
        row.remove(missing)
    if d.chance(0.1):
        start = int(d.rng.integers(0, len(row) - 3))
        row = row[start : start + int(d.rng.integers(3, 8))]
    return row


def _arch(d: Draw, teeth: list[int], upper: bool) -> Document:
    form = d.one(("beta", "beta", "ellipse", "parabola", "catenary"))
    width, depth = (62, 45) if upper else (57, 41)
    arch: Document = {"jaw": "upper" if upper else "lower", "form": form, "teeth": teeth}
    arch["width"], arch["depth"] = d.mm(width - 4, width + 4), d.mm(depth - 2, depth + 5)
    if d.chance(0.25):
        arch["crowding"] = d.mm(0, 5)
    return arch


def _ligament(d: Draw) -> Document:
    law = d.one(("linear", "bilinear", "bilinear", "bilinear", "rigid"))
    if law == "rigid" and d.chance(0.6):
        law = "bilinear"
    if law == "rigid" or d.chance(0.4):
        return {"law": law}
    out: Document = {"law": law, "thickness": d.mm(0.15, 0.3)}
    if law == "linear":
        return out | {"young": f"{d.number(0.04, 0.7)} MPa", "poisson": d.number(0.2, 0.45)}
    out |= {"young": f"{d.number(0.03, 0.1)} MPa", "second_young": f"{d.number(0.15, 0.8)} MPa"}
    return out | {"transition_strain": d.number(0.04, 0.1), "poisson": d.number(0.25, 0.45)}


def _bracket(d: Draw) -> Document:
    height = d.one(("0.018 in", "0.022 in", "0.022 in", "0.022 in"))
    out: Document = {"slot_height": height}
    if d.chance(0.4):
        out |= {"width": d.mm(1.5, 3.6), "tube_length": d.mm(2.5, 5)}
    return out


def _tooth(d: Draw) -> Document:
    out: Document = {}
    if d.chance(0.4):
        out["bone_level"] = d.mm(0.5, 6)
    if d.chance(0.1):
        return out | {"held": True}
    if d.chance(0.3):
        out["slot_torque"] = d.toward(0, 10, "deg", ("buccal root", "lingual root"))
    if d.chance(0.3):
        out["slot_tip"] = d.toward(0, 6, "deg", ("mesial crown", "distal crown"))
    if d.chance(0.3):
        out["slot_rotation"] = d.toward(0, 8, "deg", ("mesial out", "mesial in"))
    if d.chance(0.3):
        out["slot_out"] = d.toward(0, 0.8, "mm", ("buccal", "lingual"))
    if d.chance(0.3):
        out["slot_up"] = d.toward(0, 0.8, "mm", ("occlusal", "gingival"))
    if d.chance(0.2):
        out["inclination"] = d.toward(0, 12, "deg", ("buccal crown", "lingual crown"))
    return out


def _main(d: Draw, teeth: list[int], bracket: Document, alloys: tuple[str, ...]) -> Document:
    wire: Document = {"alloy": d.one(alloys)}
    narrow = bracket["slot_height"] == "0.018 in"
    if d.chance(0.7):
        height, depth = d.one([r for r in RECTANGULAR if not (narrow and r[0] > 0.018)])
        wire |= {"section": "rectangular", "height": f"{height} in", "depth": f"{depth} in"}
        if d.chance(0.5):
            wire["bevel"] = d.mm(0.01, 0.08)
    else:
        diameter = d.one([r for r in ROUND if not (narrow and r > 0.018)])
        wire |= {"section": "round", "diameter": f"{diameter} in"}
    if d.chance(0.2):
        wire["widen"] = _widen(d, 3)
    if d.chance(0.15):
        wire["elements_per_span"] = int(d.rng.integers(2, 9))
    if d.chance(0.3):
        wire["ends"] = d.mm(0, 5)
    wire |= _bends(d, teeth, wire["section"] == "rectangular")
    wire["hold"] = _main_holds(d, teeth, wire["section"] == "round")
    return wire


def _slides(d: Draw) -> Document:
    how = d.one(("free", "free", "friction", "tied back"))
    return {"slides": how, "friction": d.number(0.05, 0.4)} if how == "friction" else {"slides": how}


def _main_holds(d: Draw, teeth: list[int], is_round: bool) -> list[Document]:
    ligature = d.one(("steel", "elastomeric", "clip", "none"))
    if d.chance(0.06):
        return [{"teeth": "all", "by": "bonded"}]
    holds: list[Document] = [{"teeth": "all", "by": "slot", "ligature": ligature, **_slides(d)}]
    molars = [t for t in teeth if t % 10 >= 6]
    if molars and d.chance(0.7):
        play: Document = {"play": d.one(("none", "0.05 mm", "0.15 mm"))} if is_round or d.chance(0.1) else {}
        holds.append({"teeth": molars, "by": "tube", **play, **_slides(d)})
    inner = teeth[1:-1]
    if d.chance(0.2):
        tie: Document = {"by": "tie", "material": d.one(("steel", "elastomeric"))}
        tie |= {"slack": d.mm(0.05, 0.5)} if d.chance(0.3) else {}
        holds.append({"teeth": d.some(inner, 1, 2), **tie})
    return holds


def _widen(d: Draw, most: float) -> Document:
    profile = d.one(("proportional", "even", "molar"))
    if d.chance(0.3):
        side = d.one(("left", "right"))
        return {side: d.mm(0, most), "profile": profile}
    return {"each_side": d.mm(-0.3 * most, most), "profile": profile}


def _bends(d: Draw, teeth: list[int], rectangular: bool) -> Document:
    out: Document = {}
    kinds = {
        "tip": ("deg", 10.0, ("mesial crown", "distal crown")),
        "rotate": ("deg", 10.0, ("mesial out", "mesial in")),
        "step_out": ("mm", 0.6, ("buccal", "lingual")),
        "step_up": ("mm", 0.6, ("occlusal", "gingival")),
    }
    if rectangular:
        kinds["torque"] = ("deg", 25.0, ("buccal root", "lingual root"))
    for key, (unit, most, words) in kinds.items():
        if d.chance(0.5 if key == "torque" else 0.2):
            out[key] = {str(t): d.toward(0, most, unit, words) for t in d.some(teeth, 1, 5)}
    if rectangular and d.chance(0.15):
        first, last = d.some(teeth, 2, 2)
        end = d.toward(0, 20, "deg", ("buccal root", "lingual root"))
        out["progressive_torque"] = {"from": first, "to": last, "start": "0 deg", "end": end}
    if d.chance(0.15):
        i = int(d.rng.integers(len(teeth) - 1))
        bend: Document = {"between": [teeth[i], teeth[i + 1]], "at": d.number(0.35, 0.65)}
        bend |= {"angle": f"{d.number(2, 15)} deg", "apex": d.one(("occlusal", "gingival", "buccal", "lingual"))}
        out["v_bend"] = [bend]
    return out


def _overlay(d: Draw, teeth: list[int], alloys: tuple[str, ...]) -> Document:
    wire: Document = {"alloy": d.one(alloys), "section": "round", "diameter": d.mm(0.7, 1.2)}
    wire |= {"out": d.mm(0.8, 2.0), "gingival": d.mm(-0.5, 2.5), "ends": d.mm(0, 4), "widen": _widen(d, 8)}
    wire["hold"] = _overlay_holds(d, teeth)
    return wire


def _overlay_holds(d: Draw, teeth: list[int]) -> list[Document]:
    ends, inner = [teeth[0], teeth[-1]], teeth[1:-1]
    tie: Document = {"by": "tie", "material": d.one(("steel", "elastomeric"))}
    if d.chance(0.2):
        tie["stiffness"] = f"{d.number(0.5, 80)} N/mm"
    if d.chance(0.25):
        tie["slack"] = d.mm(0, 0.6)
    holds: list[Document] = []
    if d.chance(0.4) and len(inner) > 1:
        pairs = [[a, b] for a, b in pairwise(inner)]
        holds.append({"between": d.some(pairs, 1, 4), **tie})
    else:
        holds.append({"teeth": d.some(inner, 1, 7), **tie})
    if d.chance(0.75):
        play = d.one(("none", "0.1 mm", d.mm(0.02, 0.3)))
        holds.append({"teeth": ends, "by": "tube", "play": play, **_slides(d)})
    else:
        holds.append({"teeth": ends, "by": "tie", "material": d.one(("steel", "elastomeric"))})
    return holds


def _force(d: Draw, teeth: list[int]) -> Document:
    at = d.one(("bracket", "edge", "centre of resistance", "crest", "apex"))
    out: Document = {"tooth": d.one(teeth), "at": at, "follows": d.one(("tooth", "space"))}
    ways = d.some((("mesial", "distal"), ("buccal", "lingual"), ("occlusal", "gingival")), 1, 3)
    out["force"] = {d.one(way): f"{d.number(0.05, 2.5)} N" for way in ways}
    if d.chance(0.3):
        out["moment"] = {"torque": d.toward(0, 15, "N.mm", ("buccal root", "lingual root"))}
    return out
