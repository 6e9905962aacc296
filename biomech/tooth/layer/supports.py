"""The support of a tooth by a ligament after the surface equation."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from biomech.cache import cached
from biomech.errors import InputError
from biomech.ligaments import Ligament
from biomech.mechanics.poses import Array
from biomech.tooth.layer.film import Moduli, film_support, moduli
from biomech.tooth.layer.furcation import root_layer
from biomech.tooth.layer.mesh import LayerMesh
from biomech.tooth.layer.triangles import triangle_layer
from biomech.tooth.model import Tooth
from biomech.tooth.roots import Paraboloid, RootMesh, Trunk
from biomech.tooth.tractions import Support

_FINEST = 0.25
"""Least height, in thicknesses, of the elements next to the crest: the layer equation says nothing about less."""
_COARSEST = 1.0  # mm


@dataclass(frozen=True)
class Hourglass:
    """Thickness of a ligament that is narrowest at a waist: mm at the crest, the waist and the apex.

    `depth`: of the waist below the crest, share of the embedded length. The thickness follows a parabola above and
    another below. That the ligament has this form and a waist near mid-root is handbook histology, from memory.
    """

    crest: float
    waist: float
    apex: float
    depth: float = 0.5

    def __post_init__(self) -> None:
        for key in ("crest", "waist", "apex"):
            value = getattr(self, key)
            if not 0.02 <= value <= 1.0:
                raise InputError(f"ligament thickness at the {key} = {value!r} mm; allowed: 0.02 to 1 mm")
        if not 0.1 <= self.depth <= 0.9:
            raise InputError(f"depth of the ligament's waist = {self.depth!r}; allowed: 0.1 to 0.9")

    def at(self, share: Array) -> Array:
        """Return the thickness (...) mm at shares (...) of the embedded length below the crest."""
        x = np.clip(share, 0.0, 1.0) - self.depth
        end = np.where(x < 0, self.crest, self.apex)
        reach = np.where(x < 0, self.depth, 1 - self.depth)
        return np.asarray(self.waist + (end - self.waist) * (x / reach) ** 2)


@dataclass(frozen=True)
class _Along:
    """Thickness over a root between the depths `top` and `bottom` along the third coordinate, times `sign`."""

    profile: Hourglass | float
    top: float
    bottom: float
    sign: float = 1.0

    def __call__(self, points: Array) -> Array:
        if not isinstance(self.profile, Hourglass):
            return np.full(points.shape[:-1], float(self.profile))
        return self.profile.at((self.sign * points[..., 2] - self.top) / (self.bottom - self.top))


def surface_support(tooth: Tooth, ligament: Ligament, thickness: Hourglass | None = None) -> Support:
    """Return the support of a tooth, in its frame and about its origin, by the surface equation of its ligament.

    `thickness` replaces that of the ligament, which is uniform. From the cache on disk where it was computed before.
    Raises InputError for a ligament that is not linear.
    """
    if not ligament.is_linear:
        raise InputError(
            f'a ligament of model "surface" must have law = "linear": its pressure comes from one linear equation over '
            f'the whole root; law = "{ligament.name}" needs model = "springs"'
        )
    profile = ligament.thickness if thickness is None else thickness
    if tooth.shape is not None:
        return mesh_support(tooth.shape.ligament, ligament.young, ligament.poisson, profile, apical=tooth.jaw_sign)
    return root_support(*embedded_root(tooth), ligament.young, ligament.poisson, profile).mapped(tooth.signs)


def embedded_root(tooth: Tooth) -> tuple[Trunk | None, tuple[Paraboloid, ...]]:
    """Return trunk and roots of a handbook tooth below the crest, the root's own surface, anatomical coordinates."""
    level, trunk = tooth.bone_level, tooth.trunk
    below = trunk.cut(level) if trunk is not None and level < trunk.bottom else None
    return below, tuple(root.cut(level) for root in tooth.roots)


@lru_cache(maxsize=64)
def root_support(
    trunk: Trunk | None, roots: tuple[Paraboloid, ...], young: float, poisson: float, thickness: Hourglass | float,
    *, fineness: int = 1, bearing_roof: bool = False,
) -> Support:
    """Return the support of an embedded root (see `furcation.root_layer`), anatomical coordinates; MPa, mm."""
    layer = moduli(young, poisson)
    edge = edge_height(layer, thickness)
    top = roots[0].top if trunk is None else trunk.top
    profile = _Along(thickness, top, max(float(root.apex[2]) for root in roots))
    inputs = {
        "trunk": None if trunk is None else asdict(trunk), "roots": [asdict(root) for root in roots],
        "moduli": layer, "thickness": _named(thickness), "fineness": fineness, "roof": bearing_roof,
    }  # fmt: skip

    def mesh() -> LayerMesh:
        return root_layer(trunk, roots, profile, edge, fineness=fineness, bearing_roof=bearing_roof)

    return _cached(inputs, mesh, layer)


def mesh_support(
    root: RootMesh, young: float, poisson: float, thickness: Hourglass | float, *, apical: int = 1
) -> Support:
    """Return the support of a root given by triangles in the middle of its ligament, in their axes; MPa, mm.

    `apical`: +1 when the third axis points from crown to apex, else -1.
    """
    layer = moduli(young, poisson)
    depth = apical * root.vertices[:, 2]
    profile = _Along(thickness, float(depth.min()), float(depth.max()), float(apical))
    inputs = {"vertices": root.vertices, "faces": root.faces, "rim": root.rim, "normals": root.normals,
              "moduli": layer, "thickness": _named(thickness), "apical": apical}  # fmt: skip
    return _cached(inputs, lambda: triangle_layer(root, profile, edge_height(layer, thickness)), layer)


def edge_height(layer: Moduli, thickness: Hourglass | float) -> float:
    """Return the height (mm) of elements next to the crest: the length over which the pressure rises there."""
    t = thickness.crest if isinstance(thickness, Hourglass) else thickness
    return float(np.clip(t * np.sqrt(layer.held / (12 * layer.shear)), _FINEST * t, _COARSEST))


def _named(thickness: Hourglass | float) -> Any:
    return asdict(thickness) if isinstance(thickness, Hourglass) else thickness


def _cached(inputs: Mapping[str, Any], mesh: Any, layer: Moduli) -> Support:
    found = cached("surface", inputs, lambda: film_support(mesh(), layer).arrays())
    return Support.of_arrays(found, "surface")
