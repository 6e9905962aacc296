"""The support of a tooth by a ligament after the surface equation."""

from __future__ import annotations

from collections.abc import Callable, Mapping
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
from biomech.tooth.layer.rings import Thickness
from biomech.tooth.layer.triangles import triangle_layer
from biomech.tooth.model import Tooth
from biomech.tooth.roots import Paraboloid, RootMesh, Trunk
from biomech.tooth.tractions import Support

_FINEST = 0.25
"""Least height, in thicknesses, of the elements next to the crest: the layer equation says nothing about less."""
_COARSEST = 1.0  # mm


@dataclass(frozen=True)
class Profile:
    """Thickness of a ligament over the depth of the root: `mean` mm, `waist` times it in the middle of the depth.

    1 is uniform; less is an hourglass, a parabola over the depth. 0.15 mm in the middle and 0.38 mm at crest and apex
    (from memory) have the mean 0.227 mm and the waist 0.66.
    """

    mean: float
    waist: float = 1.0

    def __post_init__(self) -> None:
        if not 0.0 < self.mean <= 2.0:
            raise InputError(f"ligament thickness = {self.mean!r} mm cannot be used; allowed: above 0, up to 2 mm")
        if not 0.1 <= self.waist <= 1.4:
            raise InputError(f"ligament waist = {self.waist!r} cannot be used; allowed: 0.1 to 1.4 (1: uniform)")

    def at(self, share: Array) -> Array:
        """Return the thickness (...) mm at shares (...) of the depth, 0 at the crest, 1 at the apex."""
        away = (2.0 * np.clip(share, 0.0, 1.0) - 1.0) ** 2
        return np.asarray(self.mean * (self.waist + 3.0 * (1.0 - self.waist) * away))

    def over(self, top: float, bottom: float, apical: int = 1) -> Thickness:
        """Return the thickness as a function of points (..., 3), crest at depth `top`, apex at `bottom`."""
        return lambda points: self.at((apical * points[..., 2] - top) / (bottom - top))


@lru_cache(maxsize=128)
def surface_support(tooth: Tooth, ligament: Ligament, waist: float = 1.0) -> Support:
    """Return the support of a tooth, in its frame and about its origin, by the surface equation of its ligament.

    `ligament.thickness` is the mean where `waist` differs from 1, see `Profile`. From the cache on disk where it was
    computed before. Raises InputError for a ligament that is not linear and a waist out of range.
    """
    if not ligament.is_linear:
        raise InputError(
            f'a ligament of model "surface" must have law = "linear": its pressure comes from one linear equation over '
            f'the whole root; law = "{ligament.name}" needs model = "springs"'
        )
    profile = Profile(ligament.thickness, waist)
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
    trunk: Trunk | None, roots: tuple[Paraboloid, ...], young: float, poisson: float, profile: Profile,
    *, fineness: int = 1, bearing_roof: bool = False,
) -> Support:
    """Return the support of an embedded root (see `furcation.root_layer`), anatomical coordinates; MPa, mm."""
    layer = moduli(young, poisson)
    top = roots[0].top if trunk is None else trunk.top
    thickness = profile.over(top, max(float(root.apex[2]) for root in roots))
    inputs = {
        "trunk": None if trunk is None else asdict(trunk), "roots": [asdict(root) for root in roots],
        "moduli": layer, "profile": asdict(profile), "fineness": fineness, "roof": bearing_roof,
    }  # fmt: skip

    def mesh() -> LayerMesh:
        edge = edge_height(layer, profile)
        return root_layer(trunk, roots, thickness, edge, fineness=fineness, bearing_roof=bearing_roof)

    return _cached(inputs, mesh, layer)


def mesh_support(root: RootMesh, young: float, poisson: float, profile: Profile, *, apical: int = 1) -> Support:
    """Return the support of a root given by triangles in the middle of its ligament, in their axes; MPa, mm.

    `apical`: +1 when the third axis points from crown to apex, else -1.
    """
    layer = moduli(young, poisson)
    depth = apical * root.vertices[:, 2]
    thickness = profile.over(float(depth.min()), float(depth.max()), apical)
    inputs = {"vertices": root.vertices, "faces": root.faces, "rim": root.rim, "normals": root.normals,
              "moduli": layer, "profile": asdict(profile), "apical": apical}  # fmt: skip
    return _cached(inputs, lambda: triangle_layer(root, thickness, edge_height(layer, profile)), layer)


def edge_height(layer: Moduli, profile: Profile) -> float:
    """Return the height (mm) of elements next to the crest: the length over which the pressure rises there."""
    t = float(profile.at(np.zeros(1))[0])
    return float(np.clip(t * np.sqrt(layer.held / (12 * layer.shear)), _FINEST * t, _COARSEST))


def forget() -> None:
    """Forget the supports kept in memory (those on disk stay)."""
    surface_support.cache_clear()
    root_support.cache_clear()


def _cached(inputs: Mapping[str, Any], mesh: Callable[[], LayerMesh], layer: Moduli) -> Support:
    """Return the support from the cache on disk, or compute it."""
    found = cached("surface", inputs, lambda: film_support(mesh(), layer).arrays())
    return Support.of_arrays(found, "surface")
