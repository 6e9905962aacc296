"""Periodontal ligament laws: traction on the root surface from its displacement. One file a law.

The ligament is a thin layer bonded to the root and to the bone, so it acts as a bed of springs: normal
modulus kn = M/t and tangential modulus kt = G/t (N/mm3) with M = E (1 - nu) / ((1 + nu)(1 - 2 nu)) the
oedometric and G = E / (2 (1 + nu)) the shear modulus, t the thickness. Valid while t sqrt(M / 12 G) is small
beside the root radius, i.e. to nu about 0.45 (derived; checked against a converged solid model).

Every law is conservative: traction = -d(psi)/d(u) with psi = M t Gamma(e) and the weighted strain
e = sqrt(un^2 + (kt/kn) ut^2) / t, so that the stiffness is symmetric and a closed path costs no energy. A law
states its curve Gamma(e) only.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass, fields
from typing import Any, ClassVar, NamedTuple

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.registry import Registry, with_values

REGISTRY: Registry[type[Ligament]] = Registry("ligament law", "biomech.ligaments")

SPRING_LIMIT = 0.45
"""Poisson's ratio above which independent springs are no longer a good picture of the layer (derived)."""
SURFACE_LIMIT = 0.499
"""Poisson's ratio up to which the surface equation was compared with a solid model of the layer."""
SOFT_LIMIT = 0.3
"""Young's modulus (MPa) above which published crown displacements are not reproduced (derived)."""


MODELS = {
    "springs": "Springs side by side, each point of the root for itself; any law; good to poisson 0.45.",
    "surface": "The pressure from one equation over the root; linear law; within 3 % of a solid to poisson 0.499.",
    "solid": "A solid between root and bone, judge of the other two; linear law; teeth with one root or from a file.",
}
"""How a ligament may bear on a root, in words; made by `biomech.appliance.teeth.support_of`."""


class Curve(NamedTuple):
    """One-dimensional law at strain e over the initial modulus: Gamma, g/e and dg/de with g = dGamma/de."""

    energy: Array
    secant: Array
    slope: Array


class Reaction(NamedTuple):
    """Traction on the tooth (..., P, 3), MPa; stiffness (..., P, 3, 3) = -dtraction/ddisplacement; state."""

    traction: Array
    stiffness: Array
    state: Any


@dataclass(frozen=True)
class Ligament(ABC):
    """A ligament law: `young` (MPa, initial), `poisson`, `thickness` (mm); `source` tells of the defaults.

    Raises InputError for a value that is not finite or outside `allowed`.
    """

    young: float = 0.05
    poisson: float = 0.30
    thickness: float = 0.20

    name: ClassVar[str]
    source: ClassVar[str]
    seen: ClassVar[str]
    allowed: ClassVar[dict[str, tuple[float, float]]] = {
        "young": (1e-4, 1e3),
        "poisson": (0.0, 0.4999),
        "thickness": (0.02, 1.0),
    }

    def __post_init__(self) -> None:
        for key, (low, high) in self.allowed.items():
            value = getattr(self, key)
            number = isinstance(value, (int, float, np.number)) and not isinstance(value, bool)
            if not (number and low <= value <= high):
                raise InputError(f"ligament {key} = {value!r} cannot be used; allowed: {low:g} to {high:g}")

    @abstractmethod
    def curve(self, strain: Array) -> Curve:
        """Return the scaled one-dimensional law at the weighted strain e >= 0 (any shape)."""

    @property
    def normal_modulus(self) -> float:
        """Initial normal modulus kn = M/t, N/mm3."""
        nu = self.poisson
        return self.young * (1 - nu) / ((1 + nu) * (1 - 2 * nu)) / self.thickness

    @property
    def shear_modulus(self) -> float:
        """Initial tangential modulus kt = G/t, N/mm3."""
        return self.young / (2 * (1 + self.poisson)) / self.thickness

    @property
    def is_linear(self) -> bool:
        """Whether the stiffness is the same at every displacement."""
        return False

    def weights(self, normals: Array) -> Array:
        """Return W2 = n n^T + (kt/kn)(I - n n^T), shape (P, 3, 3), for outward unit normals (P, 3)."""
        ratio = self.shear_modulus / self.normal_modulus
        return ratio * np.eye(3) + (1 - ratio) * normals[:, :, None] * normals[:, None, :]

    def strain(self, displacement: Array, normals: Array) -> Array:
        """Return the weighted strain e (..., P) of root displacements (..., P, 3) in mm."""
        squared = np.einsum("...pi,pij,...pj->...p", displacement, self.weights(normals), displacement)
        return np.asarray(np.sqrt(np.maximum(squared, 0.0)) / self.thickness)

    def respond(self, displacement: Array, normals: Array, state: Any = None) -> Reaction:
        """Return the reaction of the layer to root displacements (..., P, 3) in mm.

        `normals` (P, 3): unit normals out of the root, towards the bone. The traction (MPa) acts on the tooth
        and opposes the displacement. `state` is passed through by laws without memory.
        """
        w2 = self.weights(normals)
        pull = np.einsum("pij,...pj->...pi", w2, displacement)
        e = np.sqrt(np.maximum(np.einsum("...pi,...pi->...p", pull, displacement), 0.0)) / self.thickness
        law = self.curve(e)
        bend = stiffening(law, e)[..., None, None] / self.thickness**2
        kn = self.normal_modulus
        stiffness = kn * (law.secant[..., None, None] * w2 + bend * pull[..., :, None] * pull[..., None, :])
        return Reaction(-kn * law.secant[..., None] * pull, stiffness, state)

    def energy(self, displacement: Array, normals: Array) -> Array:
        """Return the energy per area (..., P), N/mm, stored at root displacements (..., P, 3) in mm."""
        e = self.strain(displacement, normals)
        return np.asarray(self.normal_modulus * self.thickness**2 * self.curve(e).energy)

    def warnings(self, model: str = "springs") -> tuple[str, ...]:
        """Return what a reader of results obtained with these values on a `model` must know; empty when nothing."""
        texts = []
        if model == "springs" and self.poisson > SPRING_LIMIT:
            texts.append(
                f"ligament poisson = {self.poisson:g} is above {SPRING_LIMIT:g}: a nearly incompressible layer is no "
                "bed of springs; under a force at the crown the tooth is too stiff, by 17 % at 0.49, twofold at 0.499. "
                'Use law = "linear", model = "surface"'
            )
        if model != "springs" and self.poisson > SURFACE_LIMIT:
            texts.append(
                f"ligament poisson = {self.poisson:g} is above {SURFACE_LIMIT:g}: models of the ligament were compared "
                "with each other up to there"
            )
        if self.young > SOFT_LIMIT:
            texts.append(
                f"ligament young = {self.young:g} MPa is above {SOFT_LIMIT:g} MPa: with so stiff a ligament "
                "computed crown displacements fall below the measured band"
            )
        return tuple(texts)

    def provenance(self) -> str:
        """Return where the values come from, naming those that differ from the sourced defaults."""
        own = [f.name for f in fields(self) if getattr(self, f.name) != f.default]
        text = f"{self.source} ({self.seen})"
        return f"{text}; given by the user: {', '.join(own)}" if own else text


def stiffening(law: Curve, strain: Array) -> Array:
    """Return (slope - secant) / e^2, the weight of the rank-one part of the stiffness; 0 at e = 0."""
    safe = np.where(strain > 0.0, strain, 1.0)
    return np.asarray(np.where(strain > 0.0, (law.slope - law.secant) / safe**2, 0.0))


def make_ligament(law: str = "bilinear", **values: float) -> Ligament:
    """Return the ligament law called `law` with the given `values`, the rest at their sourced defaults.

    An unknown law or key, or a value out of range, raises InputError.
    """
    return with_values(REGISTRY.get(law), values, f"{law} ligament")
