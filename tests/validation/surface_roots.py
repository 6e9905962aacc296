"""Roots and numbers that the checks of the surface ligament share."""

import numpy as np

from biomech.tooth.layer.elements import table
from biomech.tooth.layer.film import Moduli, pressure_of_motions
from biomech.tooth.layer.mesh import LayerMesh, geometry
from biomech.tooth.layer.rings import Patch
from biomech.tooth.support import motion_matrix

INCOMPRESSIBLE = Moduli(flowing=0.0, shear=1.0, held=np.inf)


def uniform(thickness):
    return lambda points: np.full(points.shape[:-1], thickness)


def mesh_of(patch: Patch) -> LayerMesh:
    rim = np.zeros(len(patch.points), dtype=bool)
    rim[patch.upper] = True
    return LayerMesh(patch.points, patch.thickness, rim, patch.blocks)


def pressure_stiffness(mesh: LayerMesh, layer: Moduli):
    """Stiffness (6, 6) by the pressure alone, and the pressure (N, 6) at the nodes."""
    parts = [(block, geometry(mesh, block)) for block in mesh.blocks]
    p = pressure_of_motions(mesh, parts, layer)
    k = np.zeros((6, 6))
    for block, g in parts:
        pushed = np.einsum("eqi,eqij->eqj", g.normal, motion_matrix(g.position))
        k += np.einsum("eq,eqi,eqj->ij", g.area, pushed, table(block.nodes.shape[1]).value @ p[block.nodes])
    return k, p


def numbers(k, length):
    """K_yy, K_xx, K_tor, x_CR / length, sigma^2 of an axisymmetric root along the third axis."""
    x = k[0, 4] / k[0, 0]
    return np.array([k[0, 0], k[2, 2], k[5, 5], x / length, k[4, 4] / k[0, 0] - x**2])
