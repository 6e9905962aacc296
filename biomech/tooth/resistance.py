"""Centre of resistance, planar centres and axes of resistance of a tooth or a group, from its 6x6 stiffness.

K (6, 6) acts on a small motion q = (v, w), translation (mm) and rotation (rad) of the frame origin:
wrench = K q = (force, moment about the origin), N and N.mm. With K = [[A, B], [B^T, D]] the coupling block
about another point r is B + A [r]x. A point where it vanishes is a centre of resistance: a force through it
only translates, a couple only turns about it. In space it exists for symmetric roots only (Dathe, Naegerl,
Kubein-Meesenburg 2013, doi 10.1177/1758736013499770, abstract only); in a plane it always does.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array, hat


class Plane(NamedTuple):
    """A plane by frame axes (0, 1, 2 for a1, a2, a3): `lateral` and `axial` span it, `normal` turns it.

    `sign` is +1 if a positive rotation about `normal` carries `lateral` towards `axial`, else -1.
    """

    lateral: int
    axial: int
    normal: int
    sign: int


PLANES = {
    "buccolingual": Plane(1, 2, 0, 1),
    "mesiodistal": Plane(0, 2, 1, -1),
    "occlusal": Plane(0, 1, 2, 1),
}
"""The three planes of a tooth frame; in global axes they are the sagittal, frontal and occlusal plane."""

SINGULAR = 1e-10
"""Least eigenvalue of K, scaled by the traces of its diagonal blocks, that counts as stiffness."""


@dataclass(frozen=True, eq=False)
class PlanarCentre:
    """Centre of resistance within one plane, all other motions of the tooth free.

    `point` (3,) mm; `mobility` (2, 2) mm/N of the centre along (lateral, axial) under forces through it;
    `rotational_stiffness` N.mm/rad under a couple.
    """

    plane: str
    point: Array
    mobility: Array
    rotational_stiffness: float

    @property
    def lateral_stiffness(self) -> float:
        """Force per displacement along the lateral axis, N/mm, with no restraint along the others."""
        return 1.0 / float(self.mobility[0, 0])

    @property
    def sigma_squared(self) -> float:
        """Rotational over lateral stiffness, mm2: a lateral force at distance a from the centre turns the
        tooth about a point at distance sigma^2 / a on its other side (distances along the axial axis).

        Source: Naegerl et al. 1991 AJODO 99:337-45 and Choy et al. 2000 AJODO 117:98-105 (abstracts only);
        the identity itself follows from K.
        """
        return self.rotational_stiffness * float(self.mobility[0, 0])


class Axis(NamedTuple):
    """A line the tooth turns about: unit `direction` (3,), `point` (3,) mm on it, `pitch` mm/rad along it."""

    direction: Array
    point: Array
    pitch: float


@dataclass(frozen=True, eq=False)
class CentreOfResistance:
    """What `centre_of_resistance` found; points in the axes and from the origin of K, mm.

    `point` (3,): makes the coupling block smallest; `residual`: what is left of that block, relative to
    sqrt(|A| |D|) about the point: 0 where a centre exists in space; `stiffness` (3,) N/mm, ascending, and
    `directions` (3, 3), in columns: principal translational stiffness with rotation held; `planar`: centres
    by name of the plane; `axes`: axes of resistance for couples about a1, a2, a3; `gaps` (3,): distances
    of the axes 2-3, 3-1, 1-2, mm, all zero where they meet in one point.
    """

    point: Array
    residual: float
    stiffness: Array
    directions: Array
    planar: dict[str, PlanarCentre]
    axes: tuple[Axis, Axis, Axis]
    gaps: Array


def check_stiffness(k: Array, name: str = "stiffness") -> Array:
    """Return K (6, 6), made exactly symmetric.

    Raises InputError unless K is finite, symmetric (1e-6) and positive definite; a free motion is described.
    """
    k = np.asarray(k, dtype=np.float64)
    if k.shape != (6, 6) or not np.isfinite(k).all():
        raise InputError(f"{name}: must be a finite 6 x 6 matrix, has shape {k.shape}")
    sizes = np.array([np.trace(k[:3, :3]), np.trace(k[3:, 3:])])
    if not sizes.min() > 0.0:
        raise InputError(f"{name}: must resist translation and rotation; a diagonal block has no stiffness")
    scale = np.repeat(sizes, 3) ** -0.5
    plain = k * scale[:, None] * scale
    skew = np.abs(plain - plain.T).max()
    if skew > 1e-6:
        raise InputError(f"{name}: must be symmetric; largest relative difference {skew:.2g}")
    values, vectors = np.linalg.eigh(0.5 * (plain + plain.T))
    free = _describe(vectors[:, 0] * scale)
    if values[0] < -SINGULAR:
        raise InputError(f"{name}: must be positive definite; a {free} is driven, not resisted")
    if values[0] < SINGULAR:
        rank = int(np.sum(values >= SINGULAR))
        raise InputError(f"{name}: has rank {rank} of 6, a {free} meets no resistance; "
                         "give the ligament shear stiffness or the tooth another root")  # fmt: skip
    return np.asarray(0.5 * (k + k.T))


def shift(k: Array, point: Array) -> Array:
    """Return the stiffness (..., 6, 6) about `point` (..., 3), mm from the origin of `k` (..., 6, 6)."""
    move = np.broadcast_to(np.eye(6), (*np.shape(point)[:-1], 6, 6)).copy()
    move[..., :3, 3:] = hat(np.asarray(point, dtype=np.float64))  # v of the origin from (v, w) of the point
    return np.asarray(np.swapaxes(move, -1, -2) @ k @ move)


def centre_of_resistance(k: Array) -> CentreOfResistance:
    """Return the centre, planar centres and axes of resistance of the stiffness `k` (6, 6), see the module.

    A rank-deficient, unsymmetric or non-finite K raises InputError naming the motion without resistance.
    """
    k = check_stiffness(k)
    point = _least_coupling(k)
    about = shift(k, point)
    norm = np.linalg.norm
    residual = norm(about[:3, 3:]) / np.sqrt(norm(about[:3, :3]) * norm(about[3:, 3:]))
    stiffness, directions = np.linalg.eigh(k[:3, :3])
    axes = axes_of_resistance(k, point)
    return CentreOfResistance(
        point=point,
        residual=float(residual),
        stiffness=stiffness,
        directions=directions,
        planar={plane: planar_centre(k, plane, point) for plane in PLANES},
        axes=axes,
        gaps=np.array([_gap(axes[i], axes[j]) for i, j in ((1, 2), (2, 0), (0, 1))]),
    )


def point_of_resistance(k: Array) -> Array:
    """Return the point (3,) of `centre_of_resistance` alone, with the same checks."""
    return _least_coupling(check_stiffness(k))


def planar_centre(k: Array, plane: str, through: Array) -> PlanarCentre:
    """Return the centre of resistance for loads in the plane that contains the point `through` (3,), mm.

    Loads: forces in the plane, couples about its normal, nothing else; the motion considered is that in the
    plane. `k` (6, 6) as in the module; `plane` is one of PLANES, another raises InputError.
    """
    lateral, axial, normal, sign = plane_named(plane)
    through = np.asarray(through, dtype=np.float64)
    rows = [lateral, axial, 3 + normal]
    c = np.linalg.inv(shift(k, through))[np.ix_(rows, rows)]
    point = through.copy()
    point[axial] += sign * c[0, 2] / c[2, 2]  # where the velocity field of a couple vanishes
    point[lateral] -= sign * c[1, 2] / c[2, 2]
    mobility = c[:2, :2] - np.outer(c[:2, 2], c[2, :2]) / c[2, 2]
    return PlanarCentre(plane, point, mobility, 1.0 / float(c[2, 2]))


def axes_of_resistance(k: Array, near: Array) -> tuple[Axis, Axis, Axis]:
    """Return the lines about which couples along a1, a2 and a3 turn the tooth; `near` (3,): see Axis.point.

    Each point is the one of its line nearest to `near`. Concept: Viecilli, Budiman, Burstone 2013 AJODO
    (abstract only: those of an upper first molar do not meet).
    """
    motion = np.linalg.inv(shift(k, near))[:, 3:]
    axes = []
    for v, w in zip(motion[:3].T, motion[3:].T, strict=True):
        size = float(np.linalg.norm(w))
        axes.append(Axis(w / size, near + np.cross(w, v) / size**2, float(w @ v) / size**2))
    return axes[0], axes[1], axes[2]


def plane_named(name: str) -> Plane:
    """Return the plane called `name`; an unknown name raises InputError listing the known ones."""
    if name not in PLANES:
        raise InputError(f"plane '{name}' is not known; allowed: {', '.join(PLANES)}")
    return PLANES[name]


def _least_coupling(k: Array) -> Array:
    """Return the point r (3,) at which |B + A [r]x| (Frobenius) is least."""
    a, b = k[:3, :3], k[:3, 3:]
    system = np.stack([(a @ hat(e)).ravel() for e in np.eye(3)], axis=1)
    return np.asarray(np.linalg.lstsq(system, -b.ravel(), rcond=None)[0])


def _gap(one: Axis, other: Axis) -> float:
    """Return the shortest distance of two lines, mm."""
    across = np.cross(one.direction, other.direction)
    sine = float(np.linalg.norm(across))
    between = other.point - one.point
    if sine < 1e-9:
        return float(np.linalg.norm(np.cross(between, one.direction)))
    return abs(float(between @ across)) / sine


def _describe(q: Array) -> str:
    """Return a motion in words."""
    v, w = q[:3], q[3:]
    turn = float(np.linalg.norm(w))
    if turn * 1e4 < np.linalg.norm(v):
        return f"translation along {_vector(v / np.linalg.norm(v))}"
    return f"rotation about {_vector(w / turn)} through {_vector(np.cross(w, v) / turn**2)} mm"


def _vector(v: Array) -> str:
    return "(" + ", ".join(f"{x + 0.0:.3g}" for x in np.round(v, 6)) + ")"
