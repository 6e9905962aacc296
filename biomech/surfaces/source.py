"""What is known of a tooth's surface file: unit, long axis, bracket, junction and bone crest."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.surfaces.topology import Ruler
from biomech.tooth.anatomy import anatomy
from biomech.tooth.meshes import Mesh

Point = tuple[float, float, float]
UNITS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "um": 0.001, "in": 25.4}
"""Units a file's coordinates may be in, and how many mm each has."""
SHARES = (0.55, 1.6)
"""Length of the tooth against the handbook's beyond which the unit is taken to be wrong. A convention: measured
lengths spread by some 15 % about their mean (from memory)."""


@dataclass(frozen=True)
class Crest:
    """Bone crest, in the file's coordinates: a plane (`point`, `normal`; without normal across the long axis), a
    `curve` of points around the tooth, or a level `below` (mm) a `point`, measured along the long axis.
    """

    point: Point | None = None
    normal: Point | None = None
    curve: tuple[Point, ...] = ()
    below: float | None = None


@dataclass(frozen=True)
class Source:
    """A surface file of one tooth and where things are in it, in coordinates of the file and its `unit`.

    `long_axis`: a direction from crown to apex, or two points on it, the occlusal one first; `buccal`: a
    direction; `bracket`: middle of the bracket's base; `cej`: a point of the cemento-enamel junction; `crest`: see
    Crest; `mirrored`: the file shows the tooth of the other side. What is left out is found on the surface, and said.
    """

    file: Path
    unit: str
    long_axis: Point | tuple[Point, Point] | None = None
    buccal: Point | None = None
    bracket: Point | None = None
    cej: Point | None = None
    crest: Crest | None = None
    mirrored: bool = False

    @property
    def ruler(self) -> Ruler:
        """Unit of the file with its factor to mm; an unknown unit raises InputError."""
        if self.unit not in UNITS:
            raise InputError(f"unit = '{self.unit}' is not known; allowed: {', '.join(UNITS)}")
        return Ruler(self.unit, UNITS[self.unit])


def check_size(mesh: Mesh, number: int, ruler: Ruler) -> None:
    """Raise InputError unless a mesh (mm) is about as long as tooth `number`, naming the unit that would fit."""
    row = anatomy(number)
    usual = row.crown_length + row.root_length
    points = mesh.vertices - mesh.vertices.mean(axis=0)
    along = np.linalg.svd(points, full_matrices=False)[2][0]
    long = float(np.ptp(points @ along))
    if SHARES[0] * usual <= long <= SHARES[1] * usual:
        return
    raw = long / ruler.factor
    fits = {u: raw * factor / usual for u, factor in UNITS.items() if u != ruler.unit}
    likely = sorted((abs(np.log(max(r, 1e-300))), u) for u, r in fits.items() if SHARES[0] <= r <= SHARES[1])
    hint = f'; with unit = "{likely[0][1]}" it would be {fits[likely[0][1]] * usual:.1f} mm' if likely else ""
    raise InputError(
        f"the tooth is {long:.3g} mm long when its coordinates are in {ruler.unit}; allowed for tooth {number}: "
        f"{SHARES[0] * usual:.1f} to {SHARES[1] * usual:.1f} mm (handbook: {usual:.1f} mm){hint}"
    )


def in_mm(point: Point, ruler: Ruler) -> Array:
    """Return a point of the file in mm."""
    return np.asarray(point, dtype=np.float64) * ruler.factor


def unit_vector(vector: Point | Array, what: str) -> Array:
    """Return a direction of length 1; InputError for one of no length."""
    v = np.asarray(vector, dtype=np.float64)
    size = float(np.linalg.norm(v))
    if not (np.isfinite(v).all() and size > 0.0):
        raise InputError(f"{what} = {list(map(float, v))} is no direction; allowed: three numbers, not all zero")
    return v / size
