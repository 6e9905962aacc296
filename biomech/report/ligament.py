"""The stress of a solid ligament under a load, as a table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

import numpy as np

from biomech.report.words import decimals, number, table

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from biomech.mechanics.poses import Array
    from biomech.solid import MidLayer
    from biomech.studies.ligament import LoadedLigament

SHARES = (0.05, 0.5, 0.95)
"""Percentiles by area that are reported."""
LARGE = 0.2
"""Displacement of the root over the thickness beyond which strains are no longer small. A convention."""
RIM = (
    "Stress on the middle surface of the ligament, percentiles by area: 95 % of it lies below the 95 % column. The "
    "free rim of a bonded layer is singular: the largest value at a point says more of the mesh than of the tooth."
)


def print_ligament(found: LoadedLigament, console: Console) -> None:
    """Print the support of a tooth in its solid ligament, then the stress under the load."""
    from biomech.report.support import print_support

    print_support(found.support, console)
    console.print()
    console.print(stress_table(found))
    for line in notes(found):
        console.print(line)


def stresses_by_name(layer: MidLayer) -> dict[str, Array]:
    """Return the stresses (P,) that are shown, MPa, tension positive, by their titles."""
    return {
        "hydrostatic (mean of the principal stresses)": layer.hydrostatic,
        "across the layer": layer.normal,
        "along the layer (shear)": layer.shear,
        "largest principal": layer.principal[:, 0],
        "smallest principal": layer.principal[:, 2],
    }


def stress_table(found: LoadedLigament) -> Table:
    """Return percentiles by area and means of the stresses, kPa."""
    shown = stresses_by_name(found.layer)
    out = table("Ligament on its middle surface, kPa, tension positive", "",
                *(f"{100 * share:g} %" for share in SHARES), "mean")  # fmt: skip
    rows = {}
    for title, values in shown.items():
        stress = 1e3 * values
        marks = [float(found.layer.percentile(stress, share)) for share in SHARES]
        rows[title] = [*marks, float(found.layer.mean(stress))]
    places = decimals(value for row in rows.values() for value in row)
    for title, row in rows.items():
        out.add_row(title, *(number(value, places) for value in row))
    return out


def notes(found: LoadedLigament) -> Iterator[str]:
    """Yield the load, what the numbers are, and the size of the model."""
    yield f"Load: {found.load.words}"
    solid = found.solid
    moved = np.linalg.norm((solid.fields @ found.motion)[solid.mesh.root], axis=1).max()
    share = float(moved) / found.support.ligament.thickness
    yield f"Root in its socket: moves by up to {number(1e3 * float(moved), 2)} um, {100 * share:.2g} % of the thickness"
    if share > LARGE:
        yield (
            f"Warning: that is more than {100 * LARGE:.0f} % of the thickness; strains are reckoned small and on the "
            "unloaded shape, so that these stresses are a rough guide at best"
        )
    yield RIM
    yield (
        f"Solid model: rigid tooth and socket, {len(solid.mesh.hexes)} elements of 20 nodes, {solid.unknowns} "
        f"unknowns, forces balanced to {solid.residual:.0e}"
    )


def compliance_table(found: Mapping[str, Array]) -> Table:
    """Return what the bracket gives by model of the tooth, see biomech.studies.ligament.bracket_compliances."""
    out = table("What the bracket gives under small loads, um per N", "", "mesial", "buccal", "occlusal")
    places = decimals(float(value) for row in found.values() for value in row)
    for name, row in found.items():
        out.add_row(name, *(number(float(value), places) for value in row))
    return out
