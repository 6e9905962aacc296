"""The JSON Schema of result.json."""

from __future__ import annotations

from typing import Any

from biomech.outputs import REGISTRY
from biomech.studies.record import FORMAT

NUMBER: dict[str, Any] = {"type": "number"}
MAYBE: dict[str, Any] = {"type": ["number", "null"]}
TEXT: dict[str, Any] = {"type": "string"}
FLAG: dict[str, Any] = {"type": "boolean"}
WAYS = ("mesial", "buccal", "occlusal")


def schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a record; quantities of teeth are those of biomech.outputs."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"{FORMAT['name']}, version {FORMAT['version']}",
        **_table(
            format={"const": FORMAT}, versions=_of(TEXT), caution=TEXT, title=TEXT, scenario={"type": "object"},
            scenario_sha256={"type": "string", "pattern": "^[0-9a-f]{64}$"}, convergence=_convergence(),
            balance=_table(force_N=NUMBER, moment_N_mm=NUMBER, throughput_N=NUMBER),
            refinement=_or_null(
                _table(displacement_relative=NUMBER, force_relative=NUMBER, moment_relative=NUMBER)
            ),
            teeth={"type": "object", "patternProperties": {"^[1-4][1-7]$": _tooth()}, "additionalProperties": False},
            wires=_of(_wire()), arch=_arch(),
            ligament=_list({"type": "object", "required": ["law", "provenance", "teeth"]}),
            bands=_of({"type": "object", "required": ["source"]}), warnings=_list(TEXT),
            expectations=_list(
                _table(output=TEXT, value=MAYBE, wanted=TEXT, met=FLAG, why=TEXT, problem={"type": ["string", "null"]})
            ),
        ),
    }  # fmt: skip


def _table(**properties: dict[str, Any]) -> dict[str, Any]:
    """Return the schema of a table with exactly these keys."""
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _of(values: dict[str, Any]) -> dict[str, Any]:
    return {"type": "object", "additionalProperties": values}


def _list(items: dict[str, Any]) -> dict[str, Any]:
    return {"type": "array", "items": items}


def _or_null(table: dict[str, Any]) -> dict[str, Any]:
    return {"anyOf": [table, {"type": "null"}]}


def _convergence() -> dict[str, Any]:
    count = {"type": "integer", "minimum": 0}
    return _table(
        residual_relative=MAYBE, tolerance_relative=NUMBER, newton_steps=count,
        stable={"type": ["boolean", "null"]}, negative_pivots={"type": ["integer", "null"], "minimum": 0},
        unstable_state_left=FLAG, history=_list(TEXT),
    )  # fmt: skip


def _tooth() -> dict[str, Any]:
    """Return the schema of one tooth: a number, a text, a table of those, or null for every quantity."""
    simple = {"type": ["number", "string", "null"]}
    either = {"anyOf": [simple, _of(simple)]}
    outputs = {key: {**either, "title": output.title} for key, output in REGISTRY.items()}
    return _table(name=TEXT, **outputs)


def _wire() -> dict[str, Any]:
    hold = _table(
        tooth={"type": "integer"}, partner={"type": ["integer", "null"]}, kind=TEXT,
        force_N=_table(**{way: NUMBER for way in WAYS}), size_N=NUMBER,
    )  # fmt: skip
    return _table(
        section=TEXT, alloy=TEXT, alloy_source=TEXT, alloy_seen=TEXT, young_MPa=NUMBER, elastic_limit_MPa=NUMBER,
        peak_stress_MPa=NUMBER, peak_over_limit=NUMBER, peak_near_tooth={"type": "integer"},
        share_past_limit=NUMBER, holds=_list(hold), memory=_or_null(_memory()),
    )  # fmt: skip


def _memory() -> dict[str, Any]:
    sides = _or_null(_table(right=NUMBER, left=NUMBER))
    return _table(
        temperature_degC=NUMBER, set_strain=MAYBE, martensite_share=MAYBE, largest_near_tooth={"type": "integer"},
        share_changed=NUMBER, largest_strain=NUMBER, opened_strain=MAYBE, fracture_strain=MAYBE, opened_mm=sides,
        opening_kept_mm=sides,
        set_when_taken_out_mm=sides, force_left=MAYBE, elastic_force_N=MAYBE,
    )  # fmt: skip


def _arch() -> dict[str, Any]:
    return _table(
        width_change_mm=_of(_table(crown=NUMBER, apex=NUMBER)), palatal_cusp_drop_mm=MAYBE, cusp_difference_mm=MAYBE,
        midline_to_left_mm=MAYBE,
    )  # fmt: skip
