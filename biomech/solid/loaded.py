"""A solid ligament whose law stiffens: the tooth under a load, by Newton's method.

The laws of biomech.ligaments give the energy of a layer as M t Gamma(e), M the oedometric modulus, with the weighted
strain e = sqrt(un^2 + (kt/kn) ut^2)/t. A solid has the same law in every point, W = M Gamma(e), with
e^2 = strain . C strain / M: C the initial elasticity. In a thin layer, whose strains are un/t across and ut/t along it,
that is the same e. What differs: a solid also strains along the layer, near the rim and where a nearly incompressible
layer is squeezed out; there the springs count a compression that the solid does not have. Poisson's ratio is the same
on both branches. W is convex in the strain, so the equilibrium is unique and a damped Newton method finds it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from biomech.errors import InputError, SolveError
from biomech.ligaments import stiffening
from biomech.mechanics.poses import Array
from biomech.solid.kernel import assemble, elasticity, element_stiffness, freedoms
from biomech.solid.solve import factor, unknowns
from biomech.solid.stress import MidLayer, middle
from biomech.solid.support import SolidSupport, reflected
from biomech.tooth.support import motion_matrix

ITERATIONS = 40
"""Newton steps allowed."""
HALVINGS = 12
"""Halvings of a step allowed."""
TOLERANCE = 1e-9
"""Force left over the largest one, at which the equilibrium counts as found."""


@dataclass(frozen=True, eq=False)
class Loaded:
    """A tooth at rest under a load: `motion` (6,), `wrench` (6,), tangent `stiffness` (6, 6), in the tooth frame.

    `displacement` (N, 3) of the nodes, anatomical; `layer`: the stresses of its middle, `stress` (E, 8, 6) those of all
    elements, MPa, anatomical; `iterations`, `residual` of Newton's method.
    """

    motion: Array
    wrench: Array
    stiffness: Array
    displacement: Array
    layer: MidLayer
    stress: Array
    iterations: int
    residual: float


class _State(NamedTuple):
    """Energy, N.mm; forces (3 N,) on the nodes; tangent law (E, G, 6, 6) and stress (E, G, 6), MPa."""

    energy: float
    force: Array
    law: Array
    stress: Array


def under_wrench(support: SolidSupport, wrench: Array) -> Loaded:
    """Return the tooth under the `wrench` (6,), N and N.mm, about the origin of the tooth frame.

    SolveError when Newton's method does not settle.
    """
    wrench = _six(wrench, "wrench")
    return _solve(support, wrench, support.motion(wrench))


def at_motion(support: SolidSupport, motion: Array) -> Loaded:
    """Return the tooth held at the `motion` (6,), mm and rad, of the tooth frame; `wrench` is what holds it."""
    return _solve(support, None, _six(motion, "motion"))


def _six(values: Array, name: str) -> Array:
    out = np.asarray(values, dtype=np.float64)
    if out.shape != (6,) or not np.isfinite(out).all():
        raise InputError(f"{name} on a solid ligament must be six finite numbers, has shape {out.shape}")
    return out


class _Problem:
    """Displacements of the free nodes, and six of the rigid root that are unknown or given."""

    def __init__(self, support: SolidSupport) -> None:
        mesh = support.mesh
        self.support = support
        self.size = 3 * len(mesh.points)
        self.driven = unknowns(mesh.root)
        self.free = np.setdiff1d(np.arange(self.size), np.concatenate([self.driven, unknowns(mesh.fixed)]))
        self.rigid = (motion_matrix(mesh.points[mesh.root]) * reflected(support.signs)).reshape(-1, 6)
        self.places = freedoms(mesh.hexes)
        law = support.ligament
        self.modulus = law.normal_modulus * law.thickness
        self.unit = elasticity(law.young, law.poisson) / self.modulus

    def state(self, displacement: Array) -> _State:
        """Return energy, forces, tangent and stress at the displacement (3 N,)."""
        strains = self.support.strains
        strain = np.einsum("egjk,ek->egj", strains.matrix, displacement[self.places], optimize=True)
        pull = strain @ self.unit
        e = np.sqrt(np.maximum((pull * strain).sum(axis=-1), 0.0))
        curve = self.support.ligament.curve(e)
        stress = self.modulus * curve.secant[..., None] * pull
        nodal = np.einsum("egjk,egj->ek", strains.matrix, stress * strains.volumes[..., None], optimize=True)
        force = np.zeros(self.size)
        np.add.at(force, self.places, nodal)
        bend = stiffening(curve, e)[..., None, None] * pull[..., :, None] * pull[..., None, :]
        law = self.modulus * (curve.secant[..., None, None] * self.unit + bend)
        return _State(float(self.modulus * (curve.energy * strains.volumes).sum()), force, law, stress)

    def left(self, state: _State, wrench: Array | None) -> tuple[Array, Array]:
        """Return the forces out of balance: on the free unknowns, and the wrench on the root (zero when it is held)."""
        own = self.rigid.T @ state.force[self.driven]
        return state.force[self.free], np.zeros(6) if wrench is None else own - wrench

    def step(self, state: _State, wrench: Array | None) -> tuple[Array, Array, Array]:
        """Return Newton's step (3 N,) and its six of the root, and the tangent stiffness (6, 6) of the root."""
        mesh = self.support.mesh
        matrix = assemble(mesh.hexes, element_stiffness(self.support.strains, state.law), len(mesh.points))
        rows = matrix[self.free]
        coupling = rows[:, self.driven] @ self.rigid
        free, root = self.left(state, wrench)
        solved = factor(rows[:, self.free])(np.column_stack([coupling, free]))
        held = self.rigid.T @ (matrix[self.driven][:, self.driven] @ self.rigid)
        stiffness = held - coupling.T @ solved[:, :6]
        turn = np.zeros(6) if wrench is None else -np.linalg.solve(stiffness, root - coupling.T @ solved[:, 6])
        move = np.zeros(self.size)
        move[self.driven] = self.rigid @ turn
        move[self.free] = -solved[:, 6] - solved[:, :6] @ turn
        return move, turn, stiffness


def _solve(support: SolidSupport, wrench: Array | None, q: Array) -> Loaded:
    """Newton's method from the linear solution for `q` (6,); the step is halved until the potential falls."""
    problem = _Problem(support)
    u = (support.fields @ q).ravel()
    state = problem.state(u)
    for iteration in range(ITERATIONS):
        free, root = problem.left(state, wrench)
        scale = np.abs(state.force[problem.driven]).max()
        residual = _residual(free, root, wrench, scale)
        move, turn, stiffness = problem.step(state, wrench)
        if residual <= TOLERANCE:
            return _result(support, problem, state, (q, u), stiffness, (iteration, residual))
        slope = free @ move[problem.free] + root @ turn
        load = np.zeros(6) if wrench is None else wrench
        for halving in range(HALVINGS):
            share = 0.5**halving
            trial = problem.state(u + share * move)
            gain = trial.energy - state.energy - share * float(load @ turn)
            if gain <= 1e-4 * share * slope + 1e-13 * abs(state.energy):
                break
        u, q, state = u + share * move, q + share * turn, trial
    raise SolveError(
        f"solid ligament under load: forces balanced to {residual:.1e} of the largest after {ITERATIONS} steps, "
        f"{TOLERANCE:g} is needed; give a smaller load or a smaller ratio of the law's moduli"
    )


def _residual(free: Array, root: Array, wrench: Array | None, scale: float) -> float:
    """Return the largest force out of balance over the largest one; moments over the largest moment."""
    parts = [float(np.abs(free).max(initial=0.0)) / scale if scale > 0.0 else 0.0]
    if wrench is not None:
        size = max(float(np.abs(wrench).max()), 1e-300)
        parts.append(float(np.abs(root).max()) / size)
    return max(parts)


def _result(
    support: SolidSupport, problem: _Problem, state: _State, at: tuple[Array, Array], stiffness: Array,
    done: tuple[int, float],
) -> Loaded:  # fmt: skip
    mesh = support.mesh
    layer = middle(mesh, support.signs, state.stress[np.unique(mesh.around)])
    wrench = problem.rigid.T @ state.force[problem.driven]
    symmetric = 0.5 * (stiffness + stiffness.T)
    return Loaded(at[0], wrench, symmetric, at[1].reshape(-1, 3), layer, state.stress, *done)
