"""The solid ligament as a support for an arch: its 6x6 and the tractions of unit motions on its middle surface."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from functools import lru_cache

import numpy as np

from biomech.cache import cached
from biomech.errors import InputError
from biomech.ligaments import Ligament
from biomech.mechanics.poses import Array
from biomech.solid.stress import middle_stress
from biomech.solid.support import embedded_root, support
from biomech.tooth.model import Tooth
from biomech.tooth.tractions import Support


@lru_cache(maxsize=64)
def solid_bearing(tooth: Tooth, ligament: Ligament) -> Support:
    """Return the support of a tooth by a solid ligament, in its frame and about its origin.

    The stiffness is that of the solid; pressure and shear are the mean over the middle of the layer, whose resultant
    differs from it by what the layer's curvature and its free rim take. From the cache on disk where it was computed
    before. Raises InputError for a ligament that is not linear and a root the solid model cannot mesh.
    """
    if not ligament.is_linear:
        raise InputError(
            f'a ligament of model "solid" must have law = "linear" here: a tooth takes one stiffness from it; '
            f'law = "{ligament.name}" needs model = "springs"'
        )
    mesh = None if tooth.shape is None else tooth.shape.ligament
    inputs = {
        "root": asdict(embedded_root(tooth)) if mesh is None else [mesh.vertices, mesh.faces, mesh.rim, mesh.normals],
        "young": ligament.young, "poisson": ligament.poisson, "thickness": ligament.thickness, "signs": tooth.signs,
    }  # fmt: skip
    return Support.of_arrays(cached("solid", inputs, lambda: _arrays(tooth, ligament)), "solid")


def _arrays(tooth: Tooth, ligament: Ligament) -> Mapping[str, Array]:
    """Return the arrays of the support, see Support.arrays."""
    found = support(tooth, ligament)
    unit = np.moveaxis(found.fields, -1, 0)  # displacements (6, N, 3), anatomical, of motions in the tooth frame
    points, normals, weights, tensor = middle_stress(found.mesh, found.stress(unit, np.unique(found.mesh.around)))
    traction = -np.einsum("apij,pj->pia", tensor, normals)  # on the tooth, against what the ligament does
    pressure = np.einsum("pi,pia->pa", normals, traction)
    shear = (traction - normals[:, :, None] * pressure[:, None, :]) * found.signs[:, None]
    return {
        "stiffness": found.stiffness, "rigid": found.stiffness, "points": points * found.signs,
        "normals": normals * found.signs, "weights": weights, "pressure": pressure, "shear": shear,
    }  # fmt: skip
