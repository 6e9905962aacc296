"""A tooth from a surface file: read, checked, set in its axes, cut at the crest, its ligament laid around it."""

from __future__ import annotations

from functools import lru_cache
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.surfaces.axes import Axes, find_axes
from biomech.surfaces.checks import clean, refuse_crossing
from biomech.surfaces.crest import crest_height
from biomech.surfaces.crossing import crossings
from biomech.surfaces.cutting import Height, clipped, clipped_with, rim_of
from biomech.surfaces.landmarks import landmarks
from biomech.surfaces.likeness import check_likeness, check_sides
from biomech.surfaces.offset import moved_out, vertex_normals
from biomech.surfaces.quadrature import root_surface
from biomech.surfaces.reading import read_mesh
from biomech.surfaces.source import Source, check_size
from biomech.surfaces.topology import compact, shells, volume
from biomech.tooth.anatomy import anatomy, check_number, jaw_sign, side_sign
from biomech.tooth.meshes import Indices, Mesh
from biomech.tooth.model import Shape, Tooth
from biomech.tooth.roots import RootMesh, Surface

LEAST = 1.0
"""Least depth (mm) of root in the bone."""
_MARGIN = 0.5  # mm of tooth above the crest that is moved outwards too, so that the cut lies exactly at the crest


def mesh_tooth(
    number: int,
    source: Source,
    *,
    bone_level: float | None = None,
    bracket_height: float | None = None,
    ligament_thickness: float = 0.2,
) -> Tooth:
    """Return tooth `number` (ISO 3950) with the shape of a surface file; lengths in mm.

    `bone_level`: crest below the cemento-enamel junction, when `source` gives no crest; `bracket_height`: slot from
    edge or buccal cusp, when it gives no bracket. What was repaired or assumed is in `Tooth.shape`. The last teeth
    made are kept, as long as their files stay as they are. Raises FileError for a file that cannot be read and
    InputError, naming tooth, file, reason and place, for one that is no closed surface of such a tooth.
    """
    check_number(number)
    if not 0.02 <= ligament_thickness <= 1.0:
        raise InputError(
            f"tooth {number}: ligament thickness = {ligament_thickness!r} mm cannot be used; allowed: 0.02 to 1 mm"
        )
    if bone_level is not None and source.crest is not None:
        raise InputError(f"tooth {number}: bone_level has no meaning beside a crest of its own")
    try:
        stat = source.file.stat()
        stamp = (stat.st_mtime_ns, stat.st_size)
    except OSError:
        stamp = (0, 0)  # reading says what is wrong
    try:
        return _made(number, source, stamp, bone_level, bracket_height, ligament_thickness)
    except InputError as error:
        said = str(error).removeprefix(f"{source.file}: ")
        raise type(error)(f"tooth {number}, {source.file}: {said}") from None


class _Closed(NamedTuple):
    mesh: Mesh
    notes: tuple[str, ...]
    crossing: Indices  # pairs of triangles that cut each other


@lru_cache(maxsize=32)
def _surface(source: Source, stamp: tuple[int, int], number: int) -> _Closed:
    """Return the checked surface of a file in mm; kept while the file has the same `stamp`."""
    ruler = source.ruler
    raw = read_mesh(source.file)
    mesh = Mesh(raw.vertices * ruler.factor, raw.triangles)
    check_size(mesh, number, ruler)
    mesh, notes = clean(mesh, ruler)
    return _Closed(mesh, tuple(notes), crossings(mesh))


@lru_cache(maxsize=32)
def _made(
    number: int, source: Source, stamp: tuple[int, int], bone_level: float | None, bracket_height: float | None,
    thickness: float,
) -> Tooth:  # fmt: skip
    outside = _surface(source, stamp, number)
    handbook = anatomy(number)
    axes = find_axes(outside.mesh, source, number, handbook)
    mesh = axes.mesh(outside.mesh)
    marks, said = landmarks(mesh, axes, source, handbook, number=number, bracket_height=bracket_height)
    height, crest = crest_height(source, axes, mesh, bone_level)
    level = _check_crest(mesh, height, marks)
    over = height(mesh.vertices) + _MARGIN + thickness
    crossed = refuse_crossing(outside.mesh, outside.crossing, over, source.ruler)
    marks["crest"] = np.array([0.0, 0.0, level])
    root, creases = _embedded(mesh, height, axes, source, 0.5 * thickness)
    signs = np.array([side_sign(number), 1.0, jaw_sign(number)])
    ligament = _mapped(root, signs)
    crown = clipped(mesh, lambda p: -p[..., 2])
    width = float(np.ptp(crown.vertices[:, 0]))
    apices = np.array([marks[name][:2] for name in marks if name.startswith("apex ")]).reshape(-1, 2)
    likeness = [*check_likeness(number, handbook, width, max(1, len(apices))), *check_sides(handbook, apices)]
    shape = Shape(
        crown=crown.mapped(signs),
        root=clipped(mesh, lambda p: p[..., 2]).mapped(signs),
        ligament=ligament,
        width=width,
        volume=volume(mesh),
        source=f"{source.file.name}, in {source.unit}",
        notes=(*axes.notes, *said, crest, *creases),
        repairs=(*outside.notes, *crossed, *likeness),
    )
    order = ("edge", "palatal cusp", "lingual cusp", "bracket", "cej", "crest", "furcation")
    names = [n for n in order if n in marks] + [n for n in marks if n.startswith("apex")]
    crown_length = float(-marks["edge"][2])
    return Tooth(
        number=int(number), anatomy=handbook, bone_level=level, crown_length=crown_length,
        root_length=float(mesh.vertices[:, 2].max()),
        bracket_height=float(marks["bracket"][2] + crown_length), ligament_thickness=thickness, roots=(), trunk=None,
        surface=_quadrature(root, signs),
        landmarks=MappingProxyType({n: _frozen(marks[n] * signs + 0.0) for n in names}), shape=shape,
    )  # fmt: skip


def _check_crest(mesh: Mesh, height: Height, marks: dict[str, Array]) -> float:
    """Return the depth (mm) at which the long axis meets the crest; InputError for an impossible one."""
    deepest = mesh.vertices[int(mesh.vertices[:, 2].argmax())]
    span = np.column_stack([np.zeros((401, 2)), np.linspace(-60.0, 60.0, 401)])
    level = float(np.interp(0.0, height(span), span[:, 2]))
    top = float(mesh.vertices[:, 2].min())
    if float(height(deepest)) < LEAST:
        raise InputError(
            f"crest: lies at or below the apex: it meets the long axis {level:.2f} mm below the cemento-enamel "
            f"junction, the deepest apex at {deepest[2]:.2f} mm; allowed: at least {LEAST:g} mm of root in the bone"
        )
    if level <= top:
        raise InputError(
            f"crest: lies above the crown: it meets the long axis {-level:.2f} mm occlusal of the cemento-enamel "
            f"junction, the crown ends at {-top:.2f} mm"
        )
    if float(height(marks["bracket"])) >= 0.0:
        raise InputError("crest: the bracket lies in the bone; is the crest, or the long axis, the wrong way round?")
    if level < -0.005:
        raise InputError(
            f"crest: lies on the crown, {-level:.2f} mm occlusal of the cemento-enamel junction; allowed: at the "
            "junction or apical of it. Give the junction (cej) if it was assumed"
        )
    return max(level, 0.0)


def _embedded(
    mesh: Mesh, height: Height, axes: Axes, source: Source, by: float
) -> tuple[RootMesh, list[str]]:
    """Return the middle of the ligament, cut exactly at the crest, and notes on its creases."""
    low = (height(mesh.vertices) < -_MARGIN - by)[mesh.triangles].all(axis=1)
    near = compact(Mesh(mesh.vertices, mesh.triangles[~low]))  # whole triangles: no slivers that would turn over
    moved, notes = moved_out(near, by, axes.back(near.vertices), source.ruler)
    root, normals = clipped_with(moved, height, vertex_normals(moved))
    label = shells(root.triangles)
    for part in range(int(label.max()) + 1):
        points = root.vertices[np.unique(root.triangles[label == part])]
        if float(height(points).max()) < LEAST:
            at = source.ruler.at(axes.back(points.mean(axis=0)))
            raise InputError(f"crest: it also cuts off a piece of the surface at {at} that reaches into no root")
    rim = rim_of(root)
    if np.abs(height(root.vertices[rim])).max() > 1e-4:
        raise InputError("crest: it runs too close to the end of the crown for the ligament to be cut there")
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return RootMesh(root.vertices, root.triangles, rim, normals), notes


def _mapped(root: RootMesh, signs: Array) -> RootMesh:
    """Return the mesh with its coordinates multiplied by `signs` (3,), its triangles facing outwards still."""
    mesh = Mesh(root.vertices, root.faces).mapped(signs)
    return RootMesh(_frozen(mesh.vertices), mesh.triangles, root.rim, _frozen(root.normals * signs))


def _quadrature(root: RootMesh, signs: Array) -> Surface:
    """Return the quadrature in tooth axes of a root in (mesial, buccal, apical): twins of both sides have the same."""
    surface = root_surface(root).mapped(signs)
    for array in (surface.points, surface.normals, surface.weights):
        array.setflags(write=False)
    return surface


def _frozen(array: Array) -> Array:
    out = np.array(array, dtype=np.float64)
    out.setflags(write=False)
    return out
