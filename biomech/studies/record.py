"""A solution as plain data: the content of result.json, and how to read one number of it.

Every number's key ends in its unit (`force_N`, `crown_mm`); ratios have none. What does not exist is None, and
nothing is ever "not a number". Directions and signs are the words of biomech.outputs.
"""

from __future__ import annotations

import hashlib
import json
import math
import platform
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

import biomech
from biomech.errors import InputError, nearest
from biomech.outputs import limits
from biomech.outputs._arch import PLACES
from biomech.studies.wire_record import wire_record

if TYPE_CHECKING:
    from biomech.ligaments import Ligament
    from biomech.scenario import Expect, Scenario
    from biomech.studies.solve import Solution

FORMAT = {"name": "biomech result", "version": 1}
"""Name and version of the layout; the version grows when a key changes its meaning or goes."""
_LIGAMENT_UNITS = {"young": "_MPa", "second_young": "_MPa", "thickness": "_mm"}


def record(solution: Solution) -> dict[str, Any]:
    """Return all of a solution as JSON-serialisable data.

    Keys: format, versions, caution, title, scenario (as read) and its sha256, convergence, balance, refinement, teeth
    (by number as text), wires (by name), arch, ligament, bands, warnings, expectations.

    `crown_mm` and `apex_mm` of a tooth are those of the edge (buccal cusp) and of the root tip, which also move when it
    turns about its long axis; ratios and `movement` are those of the axis, `long_axis_mm`. Widths of the arch are
    distances between edges (buccal cusps) and between root tips.
    """
    from biomech.studies.solve import CAUTION

    out = {
        "format": dict(FORMAT),
        "versions": versions(),
        "caution": CAUTION,
        "title": solution.scenario.title,
        "scenario": solution.scenario.document,
        "scenario_sha256": fingerprint(solution.scenario),
        "convergence": _convergence(solution),
        "balance": {
            "force_N": solution.arch.force,
            "moment_N_mm": solution.arch.moment,
            "throughput_N": solution.arch.throughput,
        },
        "refinement": _refinement(solution),
        "teeth": {str(n): {"name": v.part.tooth.name, **solution.tooth(n)} for n, v in solution.teeth.items()},
        "wires": {name: wire_record(view) for name, view in solution.wires.items()},
        "arch": _arch(solution),
        "ligament": _ligaments(solution),
        "bands": {band.name: _band(band) for band in bands()},
        "warnings": list(solution.warnings),
    }
    out["expectations"] = [outcome.as_data() for outcome in expectations(solution.scenario, out)]
    plain: dict[str, Any] = plain_values(out)
    return plain


def versions() -> dict[str, str]:
    """Return the versions a result depends on."""
    import scipy

    return {
        "biomech": biomech.__version__,
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "python": platform.python_version(),
    }


def fingerprint(scenario: Scenario) -> str:
    """Return the SHA-256 of a scenario as read (its tables as JSON, keys sorted), in hexadecimal.

    Surface files of teeth enter by their content, not by where they lie.
    """
    document = plain_values(scenario.document)
    for entry in document.get("tooth", {}).values():
        if "mesh" in entry:
            entry["mesh"]["file"] = _content(Path(entry["mesh"]["file"]))
    text = json.dumps(document, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _content(path: Path) -> str:
    """Return the SHA-256 of a file; its name when it cannot be read (who builds the tooth says so)."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return path.name


def bands() -> list[limits.Band]:
    """Return all published bands that teeth are held against."""
    found = [item for item in vars(limits).values() if isinstance(item, limits.Band)]
    return sorted(found, key=lambda band: band.name)


def _convergence(solution: Solution) -> dict[str, Any]:
    solved = solution.equilibrium
    return {
        "residual_relative": solved.residual[0],
        "tolerance_relative": solution.scenario.solve.tolerance,
        "newton_steps": int(solved.steps[0]),
        "stable": None if solved.negative[0] < 0 else int(solved.negative[0]) == 0,
        "negative_pivots": None if solved.negative[0] < 0 else int(solved.negative[0]),
        "unstable_state_left": bool(solved.left[0]),
        "history": list(solved.history),
    }


def _refinement(solution: Solution) -> dict[str, float] | None:
    change = solution.refinement
    if change is None:
        return None
    return {
        "displacement_relative": change.displacement,
        "force_relative": change.force,
        "moment_relative": change.moment,
    }


def _arch(solution: Solution) -> dict[str, Any]:
    arch = solution.arch
    widths = {
        place_key(place): {"crown": width.crown, "apex": width.apex} for place, width in arch.widths.items()
    }
    return {
        "width_change_mm": widths,
        "palatal_cusp_drop_mm": arch.cusp_drop,
        "cusp_difference_mm": arch.cusp_difference,
        "midline_to_left_mm": arch.midline,
    }


def place_key(place: int) -> str:
    """Return the key of a pair of teeth by place from the midline: "canine", "first_molar"."""
    return PLACES[place].replace(" ", "_")


def _ligaments(solution: Solution) -> list[dict[str, Any]]:
    """Return every ligament used, with the teeth that have it; teeth held rigidly under the law "rigid"."""
    teeth: dict[tuple[Ligament | None, str], list[int]] = {}
    for number, view in solution.teeth.items():
        teeth.setdefault((view.part.ligament, view.part.model), []).append(number)
    return [{**_ligament(*used), "teeth": numbers} for used, numbers in teeth.items()]


def _ligament(law: Ligament | None, model: str) -> dict[str, Any]:
    if law is None:
        return {"law": "rigid", "provenance": "teeth that cannot move, as the scenario says"}
    values = {f.name + _LIGAMENT_UNITS.get(f.name, ""): getattr(law, f.name) for f in fields(law)}
    return {"law": law.name, "model": model, **values, "provenance": law.provenance()}


def _band(band: limits.Band) -> dict[str, Any]:
    unit = band.unit.replace(".", "_")
    return {f"low_{unit}": band.low, f"high_{unit}": band.high, "source": band.source}


def plain_values(value: Any) -> Any:
    """Return nested data with plain Python numbers, text keys, and None for what is not finite."""
    if isinstance(value, Mapping):
        return {str(key): plain_values(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain_values(item) for item in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value if value is None or isinstance(value, (bool, int, float, str)) else str(value)


def lookup(data: Mapping[str, Any], path: str) -> float:
    """Return the number of a record under a dotted path such as "teeth.16.crown_mm.buccal".

    Steps into a list are counted from 0. Raises InputError when there is no such key (naming those there and the
    nearest), when it holds no number, or when the quantity does not exist for this tooth (None).
    """
    here: Any = data
    steps = path.split(".")
    for i, step in enumerate(steps):
        here = _step(here, step, ".".join(steps[:i]), path)
    if here is None:
        raise InputError(f"{path} does not exist in this result (its value is null)")
    if isinstance(here, bool) or not isinstance(here, (int, float)):
        if isinstance(here, (Mapping, list)):
            inside = ", ".join(_keys(here))
            raise InputError(f"{path} is no number but a table; go on with one of: {inside}")
        raise InputError(f"{path} is no number but {here!r}")
    return float(here)


def _keys(here: Any) -> list[str]:
    if isinstance(here, Mapping):
        return [str(key) for key in here]
    return [str(i) for i in range(len(here))] if isinstance(here, list) else []


def _step(here: Any, step: str, before: str, path: str) -> Any:
    known = _keys(here)
    if step not in known:
        place = f"under {before}" if before else "in a result"
        if here is None:
            raise InputError(f"{path} does not exist in this result ({before} is null)")
        listed = f"known {place}: {', '.join(known)}" if known else f"{before} is a single value"
        raise InputError(f"{path}: there is no '{step}' {place}; {listed}.{nearest(step, known)}")
    return here[int(step)] if isinstance(here, list) else here[step]


@dataclass(frozen=True)
class Outcome:
    """What became of one expectation: its `value`, whether it is `met`; `problem` when it could not be read."""

    expect: Expect
    value: float | None
    met: bool
    problem: str = ""

    def wanted(self) -> str:
        """Return the bounds in words."""
        e = self.expect
        parts = [f"at least {e.min:g}"] if e.min is not None else []
        parts += [f"at most {e.max:g}"] if e.max is not None else []
        parts += [f"within {e.within:g} of {e.near:g}"] if e.near is not None else []
        return " and ".join(parts)

    def as_data(self) -> dict[str, Any]:
        """Return this outcome as data."""
        return {
            "output": self.expect.output,
            "value": self.value,
            "wanted": self.wanted(),
            "met": self.met,
            "why": self.expect.why,
            "problem": self.problem or None,
        }


def expectations(scenario: Scenario, data: Mapping[str, Any]) -> list[Outcome]:
    """Return the outcome of every [[expect]] of a scenario for the record `data` of its solution."""
    return outcomes(scenario.expect, data)


def outcomes(expected: Iterable[Expect], data: Mapping[str, Any]) -> list[Outcome]:
    """Return the outcome of every expectation for the record `data` of a solution or a course."""
    out = []
    for expect in expected:
        try:
            value = lookup(data, expect.output)
            out.append(Outcome(expect, value, expect.holds(value)))
        except InputError as error:
            out.append(Outcome(expect, None, False, str(error)))
    return out
