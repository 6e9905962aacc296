"""The axes of a tooth given as a surface: long axis, buccal direction, origin at the cemento-enamel junction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.surfaces.cutting import nearest_on, section
from biomech.surfaces.likeness import check_axis
from biomech.surfaces.source import Source, in_mm, unit_vector
from biomech.surfaces.topology import Ruler, face_vectors
from biomech.tooth.anatomy import Anatomy, jaw_sign, side_sign
from biomech.tooth.meshes import Mesh

ON_SURFACE = 1.0
"""Distance (mm) from the surface up to which a bracket point is taken to lie on it."""
_THICK_END = 0.15  # share of the length from each end at which the tooth's section is compared
_WRONG_WAY = 0.5  # section near the crown's end over that near the apex below which the axis points the wrong way


@dataclass(frozen=True)
class Axes:
    """Tooth axes in the file: `origin` (3,) mm; `rows` (3, 3): mesial, buccal, apical unit vectors; `notes`."""

    origin: Array
    rows: Array
    notes: tuple[str, ...]

    def points(self, points: Array) -> Array:
        """Return points (..., 3) of the file, mm, in (mesial, buccal, apical)."""
        return np.asarray((points - self.origin) @ self.rows.T)

    def back(self, points: Array) -> Array:
        """Return points (..., 3) in (mesial, buccal, apical) where they lie in the file, mm."""
        return np.asarray(points @ self.rows + self.origin)

    def mesh(self, mesh: Mesh) -> Mesh:
        """Return a mesh of the file in (mesial, buccal, apical), its triangles facing outwards still."""
        mirrored = np.linalg.det(self.rows) < 0.0
        return Mesh(self.points(mesh.vertices), mesh.triangles[:, ::-1] if mirrored else mesh.triangles)


def find_axes(mesh: Mesh, source: Source, number: int, shape: Anatomy) -> Axes:
    """Return the tooth axes of a closed mesh (mm, facing outwards). Raises InputError for contradictions."""
    ruler, notes = source.ruler, []
    apical, line, said = _long_axis(mesh, source, ruler)
    notes += said
    depth = mesh.vertices @ apical
    if source.cej is not None:
        level = float(in_mm(source.cej, ruler) @ apical)
        if not depth.min() < level < depth.max():
            raise InputError(f"cej = {ruler.at(in_mm(source.cej, ruler))} lies beyond the ends of the tooth")
    else:
        level, words = _assumed_junction(depth, source, apical, shape)
        notes.append(words)
    cut = section(mesh, level * apical, apical)
    if line is None:
        origin = cut.centre
        at = ruler.at(origin)
        notes.append(f"the long axis passes through the middle of the tooth's section at the junction, {at}")
    else:
        origin = line + (level - line @ apical) * apical
    buccal, said = _buccal(mesh, source, ruler, apical, origin)
    notes += said
    # In space apical x buccal is mesial on the upper right and lower left, distal on the others. The program's
    # coordinates are the patient's mirror image, so that a1, a2, a3 come out right-handed in them.
    mesial = side_sign(number) * jaw_sign(number) * np.cross(apical, buccal)
    if source.mirrored:
        mesial = -mesial
        notes.append("the file shows the tooth of the other side: mirrored")
    return Axes(origin, np.stack([mesial, buccal, apical]), tuple(notes))


def _assumed_junction(depth: Array, source: Source, apical: Array, shape: Anatomy) -> tuple[float, str]:
    """Return where along the axis the junction is assumed: by the crown's share, but not apical of a crest given."""
    share = shape.crown_length / (shape.crown_length + shape.root_length)
    level = float(depth.min() + share * np.ptp(depth))
    words = f"the crown's share of the length in the handbook ({100 * share:.0f} %)"
    crest = source.crest
    if crest is not None:
        points = crest.curve or ((crest.point,) if crest.point is not None else ())
        bone = float(np.mean([in_mm(p, source.ruler) @ apical for p in points])) + (crest.below or 0.0)
        if depth.min() < bone < level:
            level, words = bone, "at the crest: the crown's usual share would lie apical of that"
    away = level - float(depth.min())
    return level, f"no cemento-enamel junction was given: it is taken {away:.2f} mm from the edge, {words}"


def _long_axis(mesh: Mesh, source: Source, ruler: Ruler) -> tuple[Array, Array | None, list[str]]:
    """Return the apical direction, a point on the axis if one was given, and notes."""
    if source.long_axis is None:
        way = _slimmest(mesh)
        ends = _end_sections(mesh, way)
        turned, why = ends[1] > ends[0], "the thicker end"
        if source.bracket is not None:
            middle = mesh.vertices @ way
            turned = float(in_mm(source.bracket, ruler) @ way) > 0.5 * (middle.min() + middle.max())
            why = "the bracket's end"
        way = -way if turned else way
        at = ", ".join(f"{x + 0.0:.3f}" for x in np.round(way, 6))
        return way, None, [
            f"no long axis was given: it is the axis about which the tooth's volume turns most easily, apical "
            f"({at}) in the file; its crown is {why}"
        ]  # fmt: skip
    if len(source.long_axis) == 2:
        one, two = (in_mm(p, ruler) for p in source.long_axis)
        if np.linalg.norm(two - one) < 0.1:
            raise InputError("long_axis: its two points are less than 0.1 mm apart; give one occlusal, one apical")
        way, line = unit_vector(two - one, "long_axis"), one
    else:
        way, line = unit_vector(np.asarray(source.long_axis, dtype=np.float64), "long_axis"), None
    check_axis(way, _slimmest(mesh))
    ends = _end_sections(mesh, way)
    if ends[0] < _WRONG_WAY * ends[1]:
        raise InputError(
            f"long_axis: the tooth is slimmer at its crown's end ({ends[0]:.1f} mm2) than at its apical end "
            f"({ends[1]:.1f} mm2); the axis runs from the crown to the apex: turn it round"
        )
    return way, line, []


def _slimmest(mesh: Mesh) -> Array:
    """Return the axis (3,) of the least moment of inertia of the solid."""
    centre = mesh.vertices.mean(axis=0)
    corner = mesh.vertices[mesh.triangles] - centre
    share = np.einsum("fi,fi->f", corner[:, 0], 2.0 * face_vectors(mesh)) / 6.0  # tetrahedra to the centre
    total = corner.sum(axis=1)
    middle = (share[:, None] * total / 4.0).sum(axis=0) / share.sum()
    second = np.einsum("f,fki,fkj->ij", share, corner, corner) + np.einsum("f,fi,fj->ij", share, total, total)
    spread = second / 20.0 / share.sum() - np.outer(middle, middle)
    return np.asarray(np.linalg.eigh(spread)[1][:, -1])


def _end_sections(mesh: Mesh, way: Array) -> tuple[float, float]:
    """Return the tooth's section, mm2, near the start and near the end of the direction `way`."""
    depth = mesh.vertices @ way
    one, two = (float(depth.min() + share * np.ptp(depth)) for share in (_THICK_END, 1.0 - _THICK_END))
    return section(mesh, one * way, way).area, section(mesh, two * way, way).area


def _buccal(
    mesh: Mesh, source: Source, ruler: Ruler, apical: Array, origin: Array
) -> tuple[Array, list[str]]:
    """Return the buccal direction across the long axis and notes."""
    aside = None
    if source.bracket is not None:
        at = in_mm(source.bracket, ruler)
        _, far = nearest_on(mesh, at)
        if far > ON_SURFACE:
            raise InputError(
                f"bracket = {ruler.at(at)} lies {far:.2g} mm off the surface; allowed: up to {ON_SURFACE:g} mm"
            )
        aside = at - origin
        aside = aside - (aside @ apical) * apical
    if source.buccal is None:
        if aside is None:
            raise InputError("give the bracket's point or the buccal direction: the surface does not tell its sides")
        if np.linalg.norm(aside) < 0.5:
            raise InputError("bracket lies on the long axis; give the buccal direction")
        return unit_vector(aside, "bracket"), ["the buccal direction is that from the long axis to the bracket"]
    given = unit_vector(source.buccal, "buccal")
    across = given - (given @ apical) * apical
    lean = float(np.degrees(np.arccos(np.clip(np.linalg.norm(across), 0.0, 1.0))))
    if lean > 45.0:
        raise InputError(
            f"buccal = {[float(x) for x in source.buccal]} runs along the long axis (within {90.0 - lean:.0f} deg); "
            "allowed: at least 45 deg from it"
        )
    notes = [] if lean < 0.5 else [f"the buccal direction was set square to the long axis, by {lean:.0f} deg"]
    across = across / np.linalg.norm(across)
    if aside is not None and float(aside @ across) < 0.5 * np.linalg.norm(aside):
        raise InputError("bracket and buccal direction disagree: the bracket lies on another side of the tooth")
    return across, notes
