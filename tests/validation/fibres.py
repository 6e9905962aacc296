"""Stand-in sections for the checks of elements with memory: elastic, and a rectangle of ideal-plastic fibres."""

from typing import NamedTuple

import numpy as np


class _Section:
    def same_wire(self, other):
        return other is self


class ElasticSection(_Section):
    """Hooke's law for all six strains, without memory."""

    def __init__(self, elastic):
        self.elastic = np.asarray(elastic, dtype=float)

    def start(self, shape):
        return np.zeros((*shape, 0))

    def respond(self, strain, state):
        tangent = np.broadcast_to(np.diag(self.elastic), (*strain.shape, 6)).copy()
        return self.elastic * strain, tangent, state

    def energy(self, strain, state):
        return 0.5 * (self.elastic * strain**2).sum(axis=-1)


class Fibres(NamedTuple):
    plastic: np.ndarray
    before: np.ndarray


class PlasticRectangle(_Section):
    """Fibres with isotropic hardening `hard` (tangent modulus over E / (1 - .)) in bending and stretch; shear and twist
    elastic. `plastic` strain per fibre; `before` the strain of the section at the last step, for the energy."""

    def __init__(self, elastic, height, depth, young, yields, kinematic=0.0, layers=(24, 24)):
        self.elastic = np.asarray(elastic, dtype=float)
        self.young, self.yields, self.kinematic = young, yields, kinematic
        x3, w3 = np.polynomial.legendre.leggauss(layers[0])
        x2, w2 = np.polynomial.legendre.leggauss(layers[1])
        a, b = np.meshgrid(x3 * height / 2, x2 * depth / 2, indexing="ij")
        self.x3, self.x2 = a.ravel(), b.ravel()
        self.area = np.outer(w3, w2).ravel() * height * depth / 4
        zero = np.zeros_like(self.x3)
        # strain of a fibre = axial + x3 curvature 2 - x2 curvature 3
        self.map = np.stack([zero + 1, zero, zero, zero, self.x3, -self.x2], axis=-1)
        self.rest = np.diag(self.elastic * [0, 1, 1, 1, 0, 0])

    def start(self, shape):
        return Fibres(np.zeros((*shape, len(self.area))), np.zeros((*shape, 6)))

    def _fibres(self, strain, state):
        e = strain @ self.map.T
        trial = self.young * (e - state.plastic) - self.kinematic * state.plastic
        over = np.abs(trial) - self.yields
        grown = np.where(over > 0, over, 0.0) / (self.young + self.kinematic) * np.sign(trial)
        plastic = state.plastic + grown
        flow = self.young * self.kinematic / (self.young + self.kinematic)
        modulus = np.where(over > 0, flow, self.young)
        return self.young * (e - plastic), modulus, plastic, grown

    def respond(self, strain, state):
        stress, modulus, plastic, _ = self._fibres(strain, state)
        resultants = (self.area * stress) @ self.map + strain @ self.rest
        tangent = np.einsum("f,...f,fi,fj->...ij", self.area, modulus, self.map, self.map, optimize=True) + self.rest
        return resultants, tangent, Fibres(plastic, strain)

    def energy(self, strain, state):
        stress, _, plastic, grown = self._fibres(strain, state)
        old = self.young * (state.before @ self.map.T - state.plastic)
        elastic = (stress**2 - old**2) / (2 * self.young)
        locked = 0.5 * self.kinematic * (plastic**2 - state.plastic**2)
        w = (self.area * (elastic + locked + self.yields * np.abs(grown))).sum(axis=-1)
        rest = np.diag(self.rest)
        return w + 0.5 * (rest * (strain**2 - state.before**2)).sum(axis=-1)
