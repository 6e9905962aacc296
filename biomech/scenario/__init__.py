"""Scenario files: trade terms and quantities with units in, checked values in N, mm, rad and MPa out.

Signs of stored values are anatomical, the same for both jaws and sides: torque positive for the root buccal
(labial), inclination for the crown buccal, tip and angulation for the crown mesial, rotation for the mesial
side out, `out` for buccal, `up` for occlusal.
"""

from __future__ import annotations

from typing import Any

from biomech.scenario.course import Action, Bone, Course, Rule, Visit
from biomech.scenario.hold import Hold
from biomech.scenario.loader import load
from biomech.scenario.loads import Expect, Force, ForceVector, MomentVector, Solve
from biomech.scenario.mesh import Crest, ToothMesh
from biomech.scenario.model import LigamentOf, Scenario
from biomech.scenario.parts import Arch, Bracket, Ligament, LigamentChange, ToothEntry, place_along
from biomech.scenario.wire import ProgressiveTorque, VBend, Widen, Wire

__all__ = [
    "Action",
    "Arch",
    "Bone",
    "Bracket",
    "Course",
    "Crest",
    "Expect",
    "Force",
    "ForceVector",
    "Hold",
    "Ligament",
    "LigamentChange",
    "LigamentOf",
    "MomentVector",
    "ProgressiveTorque",
    "Rule",
    "Scenario",
    "Solve",
    "ToothEntry",
    "ToothMesh",
    "VBend",
    "Visit",
    "Widen",
    "Wire",
    "load",
    "place_along",
    "schema",
]


def schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a scenario file, for editors that complete and check TOML."""
    body = Scenario.model_json_schema(by_alias=True, mode="validation")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **body, "title": "biomech scenario"}
