"""Landmarks of a tooth given as a surface, in (mesial, buccal, apical), mm."""

from __future__ import annotations

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.surfaces.axes import Axes
from biomech.surfaces.cutting import nearest_on, section
from biomech.surfaces.features import Peak, peaks, ridge_middle
from biomech.surfaces.source import Source, in_mm
from biomech.tooth.anatomy import Anatomy
from biomech.tooth.meshes import Mesh

CUSP, ROOT = 0.15, 1.5
"""How far (mm) a summit must rise above its saddle to count as a cusp, or as the end of a root. A convention."""
_EDGE = 0.3  # mm below the most occlusal point that still belongs to an incisal edge


def landmarks(
    mesh: Mesh, axes: Axes, source: Source, shape: Anatomy, *, number: int, bracket_height: float | None
) -> tuple[dict[str, Array], list[str]]:
    """Return edge, cusps, bracket, junction, furcation and apices by name, and notes."""
    marks, notes = _edge_and_cusps(mesh, number)
    marks["bracket"], said = _bracket(mesh, axes, source, marks["edge"], shape.bracket_height, bracket_height)
    marks["cej"] = np.zeros(3)
    return marks | _apices(mesh, shape), notes + said


def _edge_and_cusps(mesh: Mesh, number: int) -> tuple[dict[str, Array], list[str]]:
    height = -mesh.vertices[:, 2]
    if number % 10 <= 3:
        edge = ridge_middle(mesh, height, _EDGE)
        return {"edge": np.array([edge[0], edge[1], -float(height.max())])}, []
    crown = height > 0.0
    middle = 0.5 * (mesh.vertices[crown, 1].min() + mesh.vertices[crown, 1].max())
    found = [p for p in peaks(mesh, height, CUSP) if p.height > 0.0]
    name = "lingual cusp" if number > 30 else "palatal cusp"
    places = mesh.vertices[[p.vertex for p in found]]
    out, notes = {}, []
    for mark, side in (("edge", places[:, 1] > middle), (name, places[:, 1] < middle)):
        if side.any():
            out[mark] = places[np.argmax(side)]  # highest first
            continue
        half = np.flatnonzero(crown & ((mesh.vertices[:, 1] > middle) == (mark == "edge")))
        out[mark] = mesh.vertices[half[np.argmax(height[half])]]
        where = "buccal" if mark == "edge" else "inner"
        notes.append(f"no cusp was found on the {where} side: its highest point counts")
    return out, notes


def _bracket(
    mesh: Mesh, axes: Axes, source: Source, edge: Array, usual: float, height: float | None
) -> tuple[Array, list[str]]:
    """Return the bracket's point on the surface."""
    if source.bracket is not None:
        point, far = nearest_on(mesh, axes.points(in_mm(source.bracket, source.ruler)))
        notes = [] if far < 0.05 else [f"the bracket's point was moved {far:.2f} mm onto the surface"]
    else:
        below = usual if height is None else height
        point = _facial(mesh, float(edge[2]) + below)
        words = "the handbook's height" if height is None else "the height given"
        at = source.ruler.at(axes.back(point))
        notes = [f"no bracket was given: it stands amid the buccal side, {below:g} mm from the edge ({words}), at {at}"]
    if point[2] >= 0.0:
        raise InputError(
            f"bracket: its point lies {point[2]:.2f} mm apical of the cemento-enamel junction; allowed: on the crown. "
            "Is the long axis the wrong way round?"
        )
    return point, notes


def _facial(mesh: Mesh, depth: float) -> Array:
    """Return the most buccal point of the surface at `depth` on the plane of the long axis."""
    at = np.array([0.0, 0.0, depth])
    s = section(mesh, at, np.array([0.0, 0.0, 1.0])).segments
    mesial = s[:, :, 0]
    rows = (mesial[:, 0] <= 0.0) != (mesial[:, 1] <= 0.0)
    if not rows.any():
        raise InputError(f"bracket: {depth:.2f} mm along the long axis the tooth does not meet it; give the point")
    share = mesial[rows, 0] / (mesial[rows, 0] - mesial[rows, 1])
    points = s[rows, 0] + share[:, None] * (s[rows, 1] - s[rows, 0])
    return np.asarray(points[points[:, 1].argmax()])


def _apices(mesh: Mesh, shape: Anatomy) -> dict[str, Array]:
    """Return apices by name, their mean, and the furcation where there are several."""
    found = [p for p in peaks(mesh, mesh.vertices[:, 2], ROOT) if p.height > 0.0]
    places = mesh.vertices[[p.vertex for p in found]]
    marks = {}
    if len(found) > 1:
        marks["furcation"] = np.array([0.0, 0.0, min(p.saddle for p in found if np.isfinite(p.saddle))])
        marks |= {f"apex {name}": place for name, place in _named(found, places, shape)}
    marks["apex"] = places.mean(axis=0)
    return marks


def _named(found: list[Peak], places: Array, shape: Anatomy) -> list[tuple[str, Array]]:
    """Return apices with the handbook's names of the roots when there are as many, else numbered mesial first."""
    if len(found) != len(shape.roots):
        order = np.argsort(-places[:, 0])
        return [(str(i + 1), places[k]) for i, k in enumerate(order)]
    from scipy.optimize import linear_sum_assignment

    usual = np.array([[r.centre[0] * shape.md_cervix, r.centre[1] * shape.bl_cervix] for r in shape.roots])
    centred = places[:, :2] - places[:, :2].mean(axis=0)
    gap = np.linalg.norm((usual - usual.mean(axis=0))[:, None] - centred[None], axis=2)
    rows, columns = linear_sum_assignment(gap)
    return [(shape.roots[i].name, places[k]) for i, k in zip(rows, columns, strict=True)]
