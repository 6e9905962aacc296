"""A tooth that deforms, in its ligament, in bone that deforms or is rigid; loaded at the bracket.

The load is spread over the patch of the crown under the bracket as a traction linear in the position, and the motion
reported is the rigid motion nearest to that of the patch (least squares over its area): force and motion are
conjugate, so the compliance is symmetric. The centre of resistance belongs to the rigid root, see
biomech.solid.support; from a bracket's compliance it would come out up to a tenth of the root too far occlusally.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from biomech.errors import InputError, SolveError
from biomech.ligaments import Ligament
from biomech.mechanics.poses import Array
from biomech.solid.blocks import Part, together
from biomech.solid.body import tooth_body
from biomech.solid.fronts import Fronts
from biomech.solid.grid import Index
from biomech.solid.kernel import Strains, elasticity, element_stiffness, strain_matrices
from biomech.solid.mesh import BONE, DENTINE, ENAMEL, LIGAMENT, SolidMesh, extruded, ligament_mesh
from biomech.solid.stress import MidLayer, middle
from biomech.solid.support import embedded_root, reflected
from biomech.solid.surface import divisions, root_grid
from biomech.tooth.layer.supports import Profile
from biomech.tooth.model import Tooth
from biomech.tooth.support import motion_matrix


class Elastic(NamedTuple):
    """An isotropic elastic material: `young`, MPa, and `poisson`."""

    young: float
    poisson: float


HARD = {DENTINE: Elastic(18600.0, 0.31), ENAMEL: Elastic(84100.0, 0.20)}
"""Dentine and enamel: doi 10.1186/s40510-016-0130-4, Table 1 (table seen in full)."""
JAW = Elastic(2000.0, 0.30)
"""Bone about the socket: Papageorgiou et al. 2017 Prog Orthod 18:6, Table 1 (table seen in full)."""
BONE_LAYERS = 3
"""Elements through the bone, each twice as thick as the one before."""


@dataclass(frozen=True, eq=False)
class WholeTooth:
    """A single-rooted tooth loaded at its bracket.

    `compliance` (6, 6): motion of the bracket's patch, mm and rad, under forces and moments about the bracket, N and
    N.mm, in tooth axes; `fields` (N, 3, 6): displacements, anatomical, for these unit loads; `residual`, `unknowns`.
    """

    tooth: Tooth
    mesh: SolidMesh
    ligament: Ligament
    compliance: Array
    fields: Array
    residual: float
    unknowns: int
    strains: Strains

    def stresses(self, load: Array) -> MidLayer:
        """Return the stress of the ligament under loads (..., 6) about the bracket, in tooth axes."""
        rows = np.unique(self.mesh.around)
        displacement = np.einsum("nia,...a->...ni", self.fields, np.asarray(load, dtype=np.float64))
        nodes = displacement[..., self.mesh.hexes[rows], :]
        flat = nodes.reshape(*nodes.shape[:-2], 60)
        law = elasticity(self.ligament.young, self.ligament.poisson)
        stress = np.einsum("ij,egjk,...ek->...egi", law, self.strains.matrix[rows], flat, optimize=True)
        return middle(self.mesh, self.tooth.signs, stress)


def whole(
    tooth: Tooth, ligament: Ligament, *, bone: float = 0.0, waist: float = 1.0, fineness: float = 1.0
) -> WholeTooth:
    """Return the deformable `tooth` in its `ligament` (initial modulus) and in `bone` mm of elastic bone around it.

    The far side of the bone is held; 0 is a rigid socket. `waist` and `fineness` as in biomech.solid.support, whose
    grid of the root this mesh continues. Raises InputError for several roots or values that cannot be used.
    """
    if not 0.0 <= bone <= 20.0:
        raise InputError(f"tooth {tooth.number}: bone = {bone!r} mm cannot be used; allowed: 0 (rigid) to 20 mm")
    if not 0.5 <= fineness <= 3.0:
        raise InputError(f"tooth {tooth.number}: fineness = {fineness!r} cannot be used; allowed: 0.5 to 3")
    mesh, patch = _mesh(tooth, Profile(ligament.thickness, waist), bone, fineness)
    strains = strain_matrices(mesh.points, mesh.hexes)
    materials = {**HARD, BONE: JAW, LIGAMENT: Elastic(ligament.young, ligament.poisson)}
    table = np.array([materials[body] for body in range(len(materials))])
    law = elasticity(*table.T)[mesh.body][:, None]
    stiffness = element_stiffness(strains, law)
    loads = _loads(mesh, patch, tooth)
    fields = Fronts(mesh.points, mesh.hexes, stiffness, mesh.fixed).solve(loads)
    residual = _residual(mesh, stiffness, fields, loads)
    if not residual < 1e-6:
        raise SolveError(
            f"tooth {tooth.number}, solid: equilibrium reached to {residual:.1e} of the load only, 1e-6 is needed; "
            "give moduli nearer to each other"
        )
    compliance = loads.reshape(-1, 6).T @ fields.reshape(-1, 6)
    compliance = 0.5 * (compliance + compliance.T)
    count = 3 * (len(mesh.points) - len(mesh.fixed))
    return WholeTooth(tooth, mesh, ligament, compliance, fields, residual, count, strains)


def tooth_compliance(tooth: Tooth, *, fineness: float = 1.0, ligament: Ligament | None = None) -> Array:
    """Return what the deformation of the tooth adds to its compliance at the bracket (6, 6), tooth axes.

    The compliance in a rigid socket less that of a rigid tooth in the same ligament; it hardly depends on the
    ligament (tests/validation/test_solid_whole.py), by default a linear one of 0.68 MPa and Poisson's ratio 0.45.
    """
    from biomech.ligaments import make_ligament
    from biomech.solid.support import support

    law = ligament or make_ligament("linear", young=0.68, poisson=0.45, thickness=tooth.ligament_thickness)
    found = whole(tooth, law, fineness=fineness)
    return np.asarray(found.compliance - at_bracket(support(tooth, law, fineness=fineness).compliance, tooth))


def at_bracket(compliance: Array, tooth: Tooth) -> Array:
    """Return a rigid tooth's compliance (6, 6) about its bracket from that about its frame's origin."""
    move = np.eye(6)
    move[:3] = motion_matrix(tooth.landmark("bracket"))
    return np.asarray(move @ compliance @ move.T)


def _mesh(tooth: Tooth, profile: Profile, bone: float, fineness: float) -> tuple[SolidMesh, Index]:
    """Return the mesh, the ligament first, and the facets (Q, 8) of the bracket's patch."""
    root = embedded_root(tooth)
    grid = root_grid(root, fineness)
    layer = ligament_mesh(grid, profile)
    body = tooth_body(tooth, root, *divisions(fineness))
    parts = [Part(layer.points, layer.hexes, layer.body)]
    if bone > 0.0:
        inner = profile.at(grid.share)
        steps = np.concatenate([[0.0], np.cumsum(2.0 ** np.arange(BONE_LAYERS))])
        levels = np.interp(np.arange(2 * BONE_LAYERS + 1) / 2.0, np.arange(BONE_LAYERS + 1), steps / steps[-1])
        away = inner + bone * levels[:, None]
        lattice = grid.points + away[..., None] * grid.normals
        hexes = extruded(grid.quads, len(grid.points), BONE_LAYERS)
        parts.append(Part(lattice.reshape(-1, 3), hexes, np.full(len(hexes), BONE)))
    joint, numbers = together([*parts, *body.parts])
    socket = numbers[0][layer.socket]
    far = numbers[1].reshape(-1, len(grid.points))[-1] if bone > 0.0 else socket
    fixed = np.unique(far[far >= 0])
    mesh = SolidMesh(
        joint.points, joint.hexes, joint.body, numbers[0][layer.root], socket, fixed, layer.around
    )
    return mesh, numbers[len(parts) + body.carrier][body.patch]


def _loads(mesh: SolidMesh, patch: Index, tooth: Tooth) -> Array:
    """Return the nodal forces (N, 3, 6) of unit forces and moments about the bracket, tooth axes."""
    nodes = mesh.points[patch]
    shape, weights = _facets(nodes)
    bracket = tooth.landmark("bracket") * tooth.signs
    place = np.einsum("ga,qai->qgi", shape, nodes) - bracket
    rigid = motion_matrix(place)  # (Q, G, 3, 6)
    form = np.einsum("qg,qgia,qgib->ab", weights, rigid, rigid, optimize=True)
    traction = rigid @ np.linalg.inv(form)
    force = np.einsum("qg,ga,qgib->qaib", weights, shape, traction, optimize=True)
    out = np.zeros((len(mesh.points), 3, 6))
    np.add.at(out, patch, force)
    return np.asarray(out * reflected(tooth.signs))


def _residual(mesh: SolidMesh, stiffness: Array, fields: Array, loads: Array) -> float:
    """Return the largest force out of balance on a free node over the largest nodal load, of any load."""
    count = len(mesh.hexes)
    force = -loads
    nodal = stiffness @ fields[mesh.hexes].reshape(count, 60, 6)
    np.add.at(force, mesh.hexes, nodal.reshape(count, 20, 3, 6))
    force[mesh.fixed] = 0.0
    return float((np.abs(force).max(axis=(0, 1)) / np.abs(loads).max(axis=(0, 1))).max())


def _facets(nodes: Array) -> tuple[Array, Array]:
    """Return shape functions (9, 8) of 8-node facets and weights (Q, 9), mm2, at their 3 x 3 Gauss points."""
    from biomech.solid.elements import derivatives, shapes

    x, w = np.polynomial.legendre.leggauss(3)
    place = np.stack([*np.meshgrid(x, x, indexing="ij"), np.full((3, 3), -1.0)], axis=-1).reshape(-1, 3)
    lower = [0, 1, 2, 3, 8, 9, 10, 11]  # the nodes of the face zeta = -1
    slope = np.einsum("gai,qaj->qgij", derivatives(place)[:, lower, :2], nodes, optimize=True)
    size = np.linalg.norm(np.cross(slope[..., 0, :], slope[..., 1, :]), axis=-1)
    return shapes(place)[:, lower], size * np.outer(w, w).ravel()
