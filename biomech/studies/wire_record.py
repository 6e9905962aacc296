"""One wire of a solution as plain data."""

from __future__ import annotations

from typing import Any

from biomech.outputs._inner import Inner
from biomech.outputs._wires import HoldForce, WireView


def wire_record(view: WireView) -> dict[str, Any]:
    """Return everything about one wire as plain data; every number's key ends in its unit."""
    section, alloy = view.part.section, view.part.alloy
    return {
        "section": section.label(),
        "alloy": alloy.name,
        "alloy_source": alloy.source,
        "alloy_seen": alloy.seen,
        "young_MPa": alloy.young,
        "elastic_limit_MPa": view.limit,
        "peak_stress_MPa": view.peak,
        "peak_over_limit": view.utilisation,
        "peak_near_tooth": view.tooth,
        "share_past_limit": view.past,
        "holds": [_hold(hold) for hold in view.holds],
        "memory": None if view.inner is None else _memory(view.inner),
    }


def _memory(wire: Inner) -> dict[str, Any]:
    """Return what a wire with memory went through; widths count on each side, right and left, outward."""
    past, kind = wire.past, wire.reading
    return {
        "temperature_degC": past.temperature,
        "set_strain": wire.largest if kind == "set" else None,
        "martensite_share": wire.largest if kind == "martensite" else None,
        "largest_near_tooth": wire.tooth,
        "share_changed": wire.over,
        "largest_strain": wire.strain,
        "opened_strain": None if past.opening is None else past.strained,
        "fracture_strain": wire.strain_limit,
        "opened_mm": _sides(past.held),
        "opening_kept_mm": None if past.opening is None else _sides(past.left),
        "set_when_taken_out_mm": _sides(wire.set_mm),
        "force_left": wire.force_left,
        "elastic_force_N": None if wire.force_left is None else sum(h.size for h in wire.elastic_holds or ()),
    }


def _sides(pair: tuple[float, float] | None) -> dict[str, float] | None:
    return None if pair is None else {"right": pair[0], "left": pair[1]}


def _hold(hold: HoldForce) -> dict[str, Any]:
    return {
        "tooth": hold.tooth,
        "partner": hold.partner,
        "kind": hold.kind,
        "force_N": dict(hold.force),
        "size_N": hold.size,
    }
