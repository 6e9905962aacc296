"""A section's forces and moments from its strains, fibre by fibre, with memory.

Plane sections: the axial strain of a fibre is e + k2 x3 - k3 x2, its stress that of the alloy's law. Torsion goes
through shear fibres with the equivalent shear law of the alloy (`Alloy.in_shear`). Transverse shear stays elastic.
**Approximation**: a fibre under both bending and torsion does not know of the other: each yields or transforms as if
alone. Where both are large the wire is in truth weaker: an ideally plastic section carries about (M/M0)^2 + (T/T0)^2
= 1 (from memory), hence 3 % less bending when the torque is a quarter of its own limit, 13 % less at a half.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from biomech.alloys import Alloy
from biomech.section import Section, fibres, shear_fibres
from biomech.section.fibres import USUAL

Array = NDArray[np.float64]

SHEAR = 10
"""Shear fibres that wires use (errors: `biomech.section.plastic_torsion`)."""
_BENDING = (0, 4, 5)
_BLOCK = 256


class State(NamedTuple):
    """Memory of sections (*shape): strain (*shape, 6), fibres (*shape, k, f), shear fibres (*shape, k, t)."""

    strain: Array
    axial: Array
    torsion: Array


class FibreSection:
    """One section of one alloy, for all elements of a wire.

    Strains (..., 6): axial, shear along a2 and a3, twist rate (rad/mm), curvatures about a2 and a3 (1/mm). Resultants
    (..., 6), dual to them: N, V2, V3 in N, T, M2, M3 in N.mm. `elastic` (6,) = (EA, k2 GA, k3 GA, GJ, EI2, EI3), that
    of `Section.stiffness`. `temperature` in C (None: the alloy's own). `fineness` = (fibres in a quarter of the
    section, shear fibres). A linear alloy has no fibres and costs six products. InputError for a temperature outside
    the law.
    """

    def __init__(
        self,
        section: Section,
        alloy: Alloy,
        *,
        temperature: float | None = None,
        fineness: tuple[int, int] = (USUAL, SHEAR),
    ) -> None:
        self.section = section
        self.alloy = alloy if temperature is None else alloy.at(temperature)
        self.elastic: Array = section.stiffness(self.alloy.young, self.alloy.poisson)
        self.is_linear = self.alloy.is_linear
        if self.is_linear:
            return
        self.shear = self.alloy.in_shear()
        self.fibres = fibres(section, fineness[0])
        self.shear_fibres = shear_fibres(section, fineness[1])
        x2, x3, area = self.fibres
        self._place = np.stack([np.ones_like(x2), x3, -x2])  # fibre strain = (e, k2, k3) @ place
        self._torques = self.shear_fibres.area * self.shear_fibres.radius
        self._polar = self._torques * self.shear_fibres.radius
        self._prepare(area)

    def _prepare(self, area: Array) -> None:
        """Set up the products that make resultants (f, 6) and tangent (f, 36) of fibres, and what stays elastic."""
        spread = np.zeros((6, len(area)))
        spread[list(_BENDING)] = self._place
        self._strains = spread
        self._moments = np.ascontiguousarray((area * spread).T)
        self._products = np.ascontiguousarray((area * spread[:, None] * spread).reshape(36, -1).T)
        self._shears = np.zeros(6)
        self._shears[1:3] = self.elastic[1:3]
        self._shear_tangent = np.diag(self._shears)

    def same_wire(self, other: object) -> bool:
        """Return whether `other` is a section of the same wire, maybe at another temperature."""
        return isinstance(other, FibreSection) and (
            self.section == other.section
            and self.alloy.name == other.alloy.name
            and self.alloy.young == other.alloy.young
        )

    def start(self, shape: tuple[int, ...] = ()) -> State:
        """Return the state of sections (*shape) that have never been loaded."""
        if self.is_linear:
            return State(np.zeros((*shape, 6)), np.zeros((*shape, 0, 0)), np.zeros((*shape, 0, 0)))
        axial = np.zeros((*shape, self.alloy.memory, len(self.fibres.area)))
        torsion = np.zeros((*shape, self.shear.memory, len(self.shear_fibres.area)))
        return State(np.zeros((*shape, 6)), axial, torsion)

    def respond(self, strain: Array, state: State) -> tuple[Array, Array, State]:
        """Return resultants (..., 6), their exact derivative (..., 6, 6), symmetric, and the new state.

        `strain` (..., 6), `state` for the same or fewer leading axes. The caller keeps the state of a converged step.
        """
        strain = np.asarray(strain, dtype=np.float64)
        if self.is_linear or strain[..., 0].size <= _BLOCK:
            return self._respond(strain, state)
        shape = strain.shape[:-1]
        parts = [self._respond(*part) for part in _blocks(strain, state)]
        resultants, tangent = (np.concatenate([part[i] for part in parts]) for i in (0, 1))
        kept = (np.concatenate(arrays) for arrays in zip(*(part[2] for part in parts), strict=True))
        whole = State(*(array.reshape(shape + array.shape[1:]) for array in kept))
        return resultants.reshape(*shape, 6), tangent.reshape(*shape, 6, 6), whole

    def _respond(self, strain: Array, state: State) -> tuple[Array, Array, State]:
        if self.is_linear:
            tangent = np.zeros((*strain.shape, 6))
            tangent[..., range(6), range(6)] = self.elastic
            return strain * self.elastic, tangent, State(strain, state.axial, state.torsion)
        axial = self.alloy.respond(*self._axial(strain, state))
        torsion = self.shear.respond(*self._torsion(strain, state))
        # all sections in one row: one product of matrices instead of many small ones
        resultants = (_rows(axial.stress) @ self._moments).reshape(strain.shape)
        resultants += strain * self._shears
        resultants[..., 3] = torsion.stress @ self._torques
        tangent = (_rows(axial.tangent) @ self._products).reshape(*strain.shape, 6)
        tangent += self._shear_tangent
        tangent[..., 3, 3] = torsion.tangent @ self._polar
        return resultants, tangent, State(strain, _last(axial.state), _last(torsion.state))

    def energy(self, strain: Array, state: State) -> Array:
        """Return the work (...), N.mm/mm, done on sections on the straight path from `state` to `strain`.

        Exact for the fibres; its derivative in `strain` is the resultants.
        """
        strain = np.asarray(strain, dtype=np.float64)
        if self.is_linear or strain[..., 0].size <= _BLOCK:
            return self._energy(strain, state)
        parts = [self._energy(*part) for part in _blocks(strain, state)]
        return np.concatenate(parts).reshape(strain.shape[:-1])

    def _energy(self, strain: Array, state: State) -> Array:
        elastic = 0.5 * (strain**2 - state.strain**2) * self.elastic
        if self.is_linear:
            return np.asarray(elastic.sum(axis=-1))
        out: Array = elastic[..., 1] + elastic[..., 2]
        out = out + self.alloy.work(*self._axial(strain, state)) @ self.fibres.area
        out = out + self.shear.work(*self._torsion(strain, state)) @ self.shear_fibres.area
        return out

    def peak_strain(self, strain: Array) -> Array:
        """Return the largest axial |strain| (...) anywhere on the outline of sections at `strain` (..., 6)."""
        bent = self.section.max_bending_strain(strain[..., 4], strain[..., 5])
        out: Array = np.abs(strain[..., 0]) + bent
        return out

    def readings(self, state: State) -> dict[str, Array]:
        """Return the largest value (...) over the fibres of what the alloy tells of its points, by name.

        "set" (yielding alloys): |set strain|; "martensite" (superelastic): share; empty for linear alloys.
        """
        if self.is_linear:
            return {}
        found = self.alloy.readings(np.moveaxis(state.axial, -2, 0))
        return {name: np.abs(values).max(axis=-1) for name, values in found.items()}

    def peak_stress(self, state: State) -> Array:
        """Return the largest |stress| (...) of the fibres, MPa: axial, or sqrt 3 times that of the shear fibres."""
        if self.is_linear:
            raise ValueError("a linear section has no fibres: see Section.peak_stress")
        axial = self.alloy.respond(*self._axial(state.strain, state)).stress
        torsion = self.shear.respond(*self._torsion(state.strain, state)).stress
        return np.asarray(np.maximum(np.abs(axial).max(axis=-1), np.sqrt(3.0) * np.abs(torsion).max(axis=-1)))

    def stored(self, state: State) -> Array:
        """Return the energy (...) that sections could give back, N.mm/mm."""
        elastic = 0.5 * state.strain**2 * self.elastic
        if self.is_linear:
            return np.asarray(elastic.sum(axis=-1))
        out: Array = elastic[..., 1] + elastic[..., 2]
        out = out + self.alloy.stored(np.moveaxis(state.axial, -2, 0)) @ self.fibres.area
        return out + self.shear.stored(np.moveaxis(state.torsion, -2, 0)) @ self.shear_fibres.area

    def fibre_strain(self, strain: Array) -> Array:
        """Return the axial strain (..., f) of the fibres."""
        out: Array = _rows(strain) @ self._strains
        return out.reshape(*strain.shape[:-1], -1)

    def _axial(self, strain: Array, state: State) -> tuple[Array, Array]:
        return self.fibre_strain(strain), _first(state.axial)

    def _torsion(self, strain: Array, state: State) -> tuple[Array, Array]:
        return strain[..., 3, None] * self.shear_fibres.radius, _first(state.torsion)


def _rows(array: Array) -> Array:
    return array.reshape(-1, array.shape[-1])


def _first(state: Array) -> Array:
    """Return a state (..., k, f) as (k, ..., f)."""
    n = state.ndim
    return state.transpose(n - 2, *range(n - 2), n - 1)


def _last(state: Array) -> Array:
    """Return a state (k, ..., f) as (..., k, f)."""
    n = state.ndim
    return state.transpose(*range(1, n - 1), 0, n - 1)


def _blocks(strain: Array, state: State) -> Iterator[tuple[Array, State]]:
    """Yield few sections (b, 6) at a time with their states: their fibres' arrays then stay in the cache."""
    shape = strain.shape[:-1]
    flat = [strain.reshape(-1, 6)]
    for array, own in zip(state, (1, 2, 2), strict=True):
        whole = np.broadcast_to(array, shape + array.shape[-own:])
        flat.append(whole.reshape(-1, *whole.shape[-own:]))
    for start in range(0, len(flat[0]), _BLOCK):
        e, *rest = (array[start : start + _BLOCK] for array in flat)
        yield e, State(*rest)
