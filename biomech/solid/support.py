"""Support of a rigid root by a solid ligament in a fixed socket: the 6x6 stiffness and the fields behind it.

Motions and wrenches as in biomech.tooth.support: q = (v, w), translation (mm) and rotation (rad) about the
origin of the tooth frame, in its axes. The mesh has anatomical coordinates; on half of the teeth the tooth
frame is their mirror image, hence the factors of `reflected`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from biomech.cache import cached
from biomech.errors import InputError, SolveError
from biomech.ligaments import Ligament
from biomech.mechanics.poses import Array
from biomech.solid.grid import Index
from biomech.solid.kernel import Strains, assemble, elasticity, element_stiffness, strain_matrices
from biomech.solid.mesh import LAYERS, SolidMesh, ligament_mesh
from biomech.solid.solve import condense
from biomech.solid.surface import root_grid
from biomech.solid.triangles import triangle_mesh
from biomech.tooth.layer.supports import Profile
from biomech.tooth.model import Tooth
from biomech.tooth.roots import Paraboloid, RootMesh
from biomech.tooth.support import motion_matrix

MESH_LIMIT = 0.495
"""Poisson's ratio up to which a solid over a surface mesh, one element thick, does not lock.

Against the surface equation, generated example teeth: within 3 % to 0.495, turning 5 to 19 % too stiff at 0.499.
"""


@dataclass(frozen=True, eq=False)
class SolidSupport:
    """A root in its solid ligament, unloaded.

    `stiffness` (6, 6) in the tooth frame, N/mm, N, N.mm; `residual` of the linear solution; `unknowns`: their number;
    `fields` (N, 3, 6): displacements of the nodes, anatomical, for unit motions in the tooth frame; `signs` (3,):
    factors from anatomical to tooth axes; `strains`: strain matrices of the elements.
    """

    mesh: SolidMesh
    ligament: Ligament
    signs: Array
    stiffness: Array
    fields: Array
    residual: float
    unknowns: int
    strains: Strains

    @cached_property
    def compliance(self) -> Array:
        """Inverse (6, 6) of the stiffness."""
        return np.asarray(np.linalg.inv(self.stiffness), dtype=np.float64)

    def motion(self, wrench: Array) -> Array:
        """Return the motions (..., 6) under wrenches (..., 6) about the origin of the tooth frame."""
        return np.asarray(np.asarray(wrench, dtype=np.float64) @ self.compliance)

    def stress(self, displacement: Array, elements: Index) -> Array:
        """Return the stress (..., A, 8, 6), MPa, at the Gauss points of A `elements`, anatomical axes.

        `displacement` (..., N, 3), mm, of the nodes; components (xx, yy, zz, yz, zx, xy); the initial modulus.
        """
        nodes = displacement[..., self.mesh.hexes[elements], :]
        flat = nodes.reshape(*nodes.shape[:-2], 60)
        law = elasticity(self.ligament.young, self.ligament.poisson)
        return np.asarray(np.einsum("ij,egjk,...ek->...egi", law, self.strains.matrix[elements], flat, optimize=True))


def support(
    tooth: Tooth | Paraboloid,
    ligament: Ligament,
    *,
    waist: float = 1.0,
    fineness: float = 1.0,
    layers: int = LAYERS,
) -> SolidSupport:
    """Return the support of `tooth` by `ligament` as a solid, for small motions (the law's initial modulus).

    `tooth`: a single-rooted tooth, one with a surface mesh of its own and any number of roots, or an embedded root
    alone, in anatomical axes, its rim the crest. A surface mesh sets the elements itself, see triangles. The ligament
    reaches from the root surface outward by `ligament.thickness`, the mean if `waist` differs from 1 (hourglass, see
    Profile); the springs lie on its middle. `fineness` multiplies the number of elements over the root. At
    fineness 1 all entries are within 0.2 % of the converged ones to Poisson's ratio 0.499 (benchmarks/solid.py).
    Raises InputError for a root that cannot be meshed, and over a surface mesh for a Poisson's ratio above MESH_LIMIT.
    """
    if not 0.25 <= fineness <= 8.0:
        raise InputError(f"solid fineness = {fineness!r} cannot be used; allowed: 0.25 to 8")
    signs = tooth.signs if isinstance(tooth, Tooth) else np.ones(3)
    profile = Profile(ligament.thickness, waist)
    if isinstance(tooth, Tooth) and tooth.shape is not None:
        if ligament.poisson > MESH_LIMIT:
            raise InputError(
                f"tooth {tooth.number}: poisson = {ligament.poisson:g} cannot be used with a solid over a surface "
                f"file, whose elements are then up to a fifth too stiff; allowed: up to {MESH_LIMIT:g}. "
                'Use model = "surface", good to 0.499'
            )
        mesh = triangle_mesh(anatomical(tooth.shape.ligament, signs), profile)
    else:
        mesh = ligament_mesh(root_grid(embedded_root(tooth), fineness), profile, layers)
    return of_mesh(mesh, ligament, signs)


def of_mesh(mesh: SolidMesh, ligament: Ligament, signs: Array) -> SolidSupport:
    """Return the support by a ligament that is meshed already; `signs` (3,) of the tooth frame.

    From the cache on disk where it was computed before.
    """
    strains = strain_matrices(mesh.points, mesh.hexes)
    inputs = {
        "points": mesh.points, "hexes": mesh.hexes, "root": mesh.root, "fixed": mesh.fixed, "signs": signs,
        "young": ligament.young, "poisson": ligament.poisson,
    }  # fmt: skip
    found = cached("solid-fields", inputs, lambda: _solved(mesh, strains, ligament, signs))
    count = 3 * (len(mesh.points) - len(np.union1d(mesh.root, mesh.fixed)))
    return SolidSupport(
        mesh, ligament, signs, found["stiffness"], found["fields"], float(found["residual"]), count, strains
    )


def _solved(mesh: SolidMesh, strains: Strains, ligament: Ligament, signs: Array) -> dict[str, Array]:
    """Return stiffness, fields and residual, see SolidSupport."""
    law = elasticity(ligament.young, ligament.poisson)
    matrix = assemble(mesh.hexes, element_stiffness(strains, law), len(mesh.points))
    mirror = reflected(signs)
    found = condense(matrix, mesh.root, mesh.fixed, motion_matrix(mesh.points[mesh.root]) * mirror)
    skew = float(np.abs(found.stiffness - found.stiffness.T).max() / np.abs(found.stiffness).max())
    stiffness = 0.5 * (found.stiffness + found.stiffness.T)
    if skew > 1e-8 or np.linalg.eigvalsh(stiffness)[0] <= 0.0:
        raise SolveError(f"solid model: stiffness is not symmetric and positive definite (asymmetry {skew:.1e}); "
                         "give a finer mesh or a Poisson's ratio farther from 0.5")  # fmt: skip
    return {
        "stiffness": stiffness, "fields": found.fields.reshape(-1, 3, 6), "residual": np.array(found.residual)
    }  # fmt: skip


def embedded_root(tooth: Tooth | Paraboloid) -> Paraboloid:
    """Return the part of the root below the crest; a tooth with several roots raises InputError."""
    if isinstance(tooth, Paraboloid):
        return tooth
    if tooth.trunk is not None or len(tooth.roots) != 1:
        raise InputError(
            f"tooth {tooth.number}: the handbook's {len(tooth.roots)} roots are no closed surface for a solid; "
            "allowed: teeth with a single root, and any tooth given as a surface mesh"
        )
    return tooth.roots[0].cut(tooth.bone_level)


def anatomical(root: RootMesh, signs: Array) -> RootMesh:
    """Return a root given in the tooth frame in anatomical coordinates, its triangles facing outward still."""
    faces = root.faces if np.prod(signs) > 0.0 else root.faces[:, ::-1]
    return RootMesh(root.vertices * signs, faces, root.rim, root.normals * signs)


def reflected(signs: Array) -> Array:
    """Return the factors (6,) that take a motion from the tooth frame to anatomical axes and back."""
    return np.asarray(np.concatenate([signs, np.prod(signs) * signs]))
