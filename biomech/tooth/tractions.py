"""A linear support of a tooth given by the tractions of its six unit motions.

What a bed of springs is by its points, a surface or solid model of the ligament is by its answer: a 6x6 stiffness and
the traction over the root. Conventions of `biomech.tooth.support`: q = (v, w) about the origin; N, mm, rad, MPa.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.tooth.resistance import check_stiffness
from biomech.tooth.roots import Surface
from biomech.tooth.support import Pressures, motion_matrix

_NEAREST = 16  # points from which the pressure elsewhere is interpolated
_STIFFENED = 1e-3  # of the slopes in it; both chosen by comparison with a solid ligament


@dataclass(frozen=True, eq=False)
class Support:
    """Linear support of one tooth.

    `stiffness` (6, 6); `points` (P, 3) mm, outward unit `normals` (P, 3) and `weights` (P,) mm2: a quadrature of the
    ligament's middle surface; `pressure` (P, 6): normal traction of the unit motions, compression positive; `shear`
    (P, 3, 6): tangential traction to be applied to the tooth; `model`: its name in scenarios; `rigid` (6, 6): stiffness
    with the tooth itself rigid, where resistance is read (the same unless the tooth yields, see `with_body`).
    """

    stiffness: Array
    points: Array
    normals: Array
    weights: Array
    pressure: Array
    shear: Array
    model: str
    rigid: Array

    def __post_init__(self) -> None:
        count = len(self.weights)
        wanted = {"points": (count, 3), "normals": (count, 3), "pressure": (count, 6), "shear": (count, 3, 6)}
        for key, shape in wanted.items():
            if np.shape(getattr(self, key)) != shape:
                raise InputError(f"support {key}: has shape {np.shape(getattr(self, key))}; allowed: {shape}")
        object.__setattr__(self, "stiffness", check_stiffness(self.stiffness, "support stiffness"))
        same = np.allclose(self.rigid, self.stiffness, rtol=1e-12, atol=0.0)
        object.__setattr__(self, "rigid", self.stiffness if same else check_stiffness(self.rigid, "support rigid"))
        for key in ("stiffness", "rigid", "weights", *wanted):
            getattr(self, key).setflags(write=False)

    @staticmethod
    def of_tractions(
        points: Array, normals: Array, weights: Array, pressure: Array, shear: Array, model: str
    ) -> Support:
        """Return the support whose stiffness is the work of the tractions of motion j in motion i.

        Raises InputError where they do not add up to a symmetric, positive definite matrix.
        """
        traction = normals[:, :, None] * pressure[:, None, :] + shear
        b = motion_matrix(points)
        k = (weights[:, None, None] * b).reshape(-1, 6).T @ traction.reshape(-1, 6)
        return Support(k, points, normals, weights, pressure, shear, model, k)

    def arrays(self) -> dict[str, Array]:
        """Return everything but the model's name, for a file; see `of_arrays`."""
        return {f.name: getattr(self, f.name) for f in fields(self) if f.name != "model"}

    @staticmethod
    def of_arrays(arrays: Mapping[str, Array], model: str) -> Support:
        """Return the support whose `arrays` these are."""
        return Support(**arrays, model=model)

    @property
    def surface(self) -> Surface:
        """The middle surface of the ligament at the support's points."""
        return Surface(self.points, self.normals, self.weights)

    @property
    def area(self) -> float:
        """Area of the middle surface, mm2."""
        return float(self.weights.sum())

    def pressures(self, q: Array) -> Pressures:
        """Return normal pressure and shear (..., P) in MPa at the support's points for motions q (..., 6)."""
        shear = np.einsum("pij,...j->...pi", self.shear, q)
        return Pressures(q @ self.pressure.T, np.linalg.norm(shear, axis=-1))

    def pressure_near(self, points: Array, q: Array) -> Array:
        """Return the normal pressure (V,), MPa, at `points` (V, 3) for one motion q (6,).

        Linear in space through the nearest points of the support, weighted by the inverse square of the distance; never
        beyond the pressures there.
        """
        from scipy.spatial import cKDTree

        distance, index = cKDTree(self.points).query(points, k=_NEAREST)
        size = distance[:, -1]
        away = (self.points[index] - points[:, None, :]) / size[:, None, None]
        terms = np.concatenate([np.ones((*index.shape, 1)), away], axis=-1)
        share = 1.0 / np.maximum(distance / size[:, None], 1e-3) ** 2
        share /= share.sum(axis=1, keepdims=True)
        normal = self.pressures(q).normal[index]
        system = np.einsum("vk,vki,vkj->vij", share, terms, terms)
        system += _STIFFENED * np.diag([0.0, 1, 1, 1])  # what points nearly in a plane do not tell of slopes is small
        value = np.linalg.solve(system, np.einsum("vk,vki,vk->vi", share, terms, normal)[..., None])[:, 0, 0]
        return np.asarray(np.clip(value, normal.min(axis=1), normal.max(axis=1)))

    def mapped(self, signs: Array) -> Support:
        """Return the support with coordinates multiplied by `signs` (3,), each +1 or -1: a tooth of another side."""
        factor = np.concatenate([signs, np.prod(signs) * np.asarray(signs)])
        return replace(
            self, stiffness=self.stiffness * np.outer(factor, factor), points=self.points * signs,
            normals=self.normals * signs, pressure=self.pressure * factor,
            shear=self.shear * np.asarray(signs)[:, None] * factor, rigid=self.rigid * np.outer(factor, factor),
        )  # fmt: skip

    def moved(self, rotation: Array, position: Array) -> Support:
        """Return the support turned by `rotation` (3, 3), then shifted by `position` (3,)."""
        back = np.zeros((6, 6))  # motion of the old origin in old axes from the motion q in the new ones
        back[:3, :3] = back[3:, 3:] = rotation.T
        back[:3, 3:] = rotation.T @ motion_matrix(position)[:, 3:]
        return replace(
            self, stiffness=back.T @ self.stiffness @ back, points=self.points @ rotation.T + position,
            normals=self.normals @ rotation.T, pressure=self.pressure @ back, shear=rotation @ self.shear @ back,
            rigid=back.T @ self.rigid @ back,
        )  # fmt: skip

    def with_body(self, compliance: Array, at: Array) -> Support:
        """Return the support of a tooth that yields itself: `compliance` (6, 6) in series with the ligament.

        `compliance`, symmetric and not negative: motion (mm, rad) of the body at the point `at` (3,), such as the
        bracket, against its root, per wrench there (N, N.mm). The compliances of body and ligament add. The motions are
        then those of that end of the body; `rigid`, from which the centre of resistance is read, stays that of the
        ligament: read from a yielding tooth it would depend on where the force is applied.
        """
        c = np.asarray(compliance, dtype=np.float64)
        if c.shape != (6, 6) or not np.allclose(c, c.T, atol=1e-12) or np.linalg.eigvalsh(c).min() < -1e-15:
            raise InputError("compliance of a tooth's body: must be a symmetric 6 x 6 matrix, no eigenvalue below 0")
        here = np.eye(6)  # motion of the origin from that of `at`
        here[:3, 3:] = motion_matrix(-np.asarray(at, dtype=np.float64))[:, 3:]
        body = here @ c @ here.T
        share = np.linalg.inv(np.eye(6) + body @ self.stiffness)  # part of the motion that reaches the root
        k = self.stiffness @ share
        return replace(
            self, stiffness=0.5 * (k + k.T), pressure=self.pressure @ share, shear=self.shear @ share
        )
