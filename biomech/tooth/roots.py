"""Root surfaces as elliptic paraboloids, with quadrature points, normals and weights.

Anatomical coordinates (mesial, buccal, apical), mm, depth measured from the cemento-enamel junction. With the
radius parameter s in [0, 1] (0 at the apex) a root is
    depth = top + length (1 - s^2),  lateral = centre + slope (depth - top) + s (half_axes * (cos a, sin a)).
The vector of the area element is s N(s, a) ds da with N smooth, so Gauss-Legendre points in s and equally
spaced ones in a converge exponentially. An inclined root is sheared, not rotated: a sheared elliptic
paraboloid is an elliptic paraboloid again, and its rim stays in the plane of the bone crest.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from biomech.errors import InputError
from biomech.mechanics.poses import Array


@dataclass(frozen=True, eq=False)
class Surface:
    """Quadrature of a root surface: `points` (P, 3) mm, outward unit `normals` (P, 3), `weights` (P,) mm2."""

    points: Array
    normals: Array
    weights: Array

    @property
    def area(self) -> float:
        """Area, mm2."""
        return float(self.weights.sum())

    def mapped(self, signs: Array) -> Surface:
        """Return the surface with its coordinates multiplied by `signs` (3,), each +1 or -1."""
        return Surface(self.points * signs, self.normals * signs, self.weights)

    def moved(self, rotation: Array, position: Array) -> Surface:
        """Return the surface turned by `rotation` (3, 3), then shifted by `position` (3,)."""
        return Surface(self.points @ rotation.T + position, self.normals @ rotation.T, self.weights)


@dataclass(frozen=True, eq=False)
class RootMesh:
    """Triangles of the mid-ligament surface of an embedded root, in the axes of the tooth frame, mm.

    `vertices` (V, 3); `faces` (F, 3) indices, anticlockwise seen from outside; `rim` (R,) indices of the vertices
    on the bone crest, in rising order; `normals` (V, 3) outward unit normals.
    """

    vertices: Array
    faces: NDArray[np.int64]
    rim: NDArray[np.int64]
    normals: Array


def join(surfaces: list[Surface]) -> Surface:
    """Return one surface made of several."""
    points = np.concatenate([s.points for s in surfaces])
    normals = np.concatenate([s.normals for s in surfaces])
    return Surface(points, normals, np.concatenate([s.weights for s in surfaces]))


@dataclass(frozen=True)
class Paraboloid:
    """Elliptic paraboloid: half-axes `a` (mesial), `b` (buccal) at its rim, `length` to the apex, mm.

    The rim lies at depth `top`, centred on `centre` (mesial, buccal); the axis leaves it with the `slope`
    (mesial, buccal) per unit depth.
    """

    a: float
    b: float
    length: float
    top: float = 0.0
    centre: tuple[float, float] = (0.0, 0.0)
    slope: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        for key in ("a", "b", "length"):
            value = getattr(self, key)
            if not 0.0 < value < 100.0:
                raise InputError(f"root {key} = {value!r} mm cannot be used; allowed: above 0, below 100 mm")

    @property
    def apex(self) -> Array:
        """Apex (3,)."""
        x, y = (c + m * self.length for c, m in zip(self.centre, self.slope, strict=True))
        return np.array([x, y, self.top + self.length])

    def cut(self, depth: float) -> Paraboloid:
        """Return the part apical of `depth` (a paraboloid again; itself when `depth` is above the rim)."""
        down = depth - self.top
        if down <= 0.0:
            return self
        if down >= self.length:
            raise InputError(
                f"bone level {depth:g} mm below the cemento-enamel junction leaves a root outside the bone; "
                f"allowed: less than {self.top + self.length:g} mm"
            )
        shrink = float(np.sqrt(1.0 - down / self.length))
        centre = (self.centre[0] + self.slope[0] * down, self.centre[1] + self.slope[1] * down)
        return Paraboloid(self.a * shrink, self.b * shrink, self.length - down, depth, centre, self.slope)

    def grown(self, by: float) -> Paraboloid:
        """Return the root with half-axes and length larger by `by` mm, same rim plane."""
        return Paraboloid(self.a + by, self.b + by, self.length + by, self.top, self.centre, self.slope)

    def position(self, s: Array, angle: Array) -> Array:
        """Return the points (..., 3) at radius parameter `s` (...) and `angle` (...)."""
        down = self.length * (1.0 - s * s)
        mesial = self.centre[0] + self.slope[0] * down + self.a * s * np.cos(angle)
        buccal = self.centre[1] + self.slope[1] * down + self.b * s * np.sin(angle)
        return np.stack([mesial, buccal, self.top + down], axis=-1)

    def surface(self, rings: int = 8, around: int = 16) -> Surface:
        """Return the quadrature with `rings` Gauss-Legendre rings of `around` points each."""
        s, angle, weight = _rule(rings, around)
        vector = self.outward(s, angle)
        size = np.linalg.norm(vector, axis=-1)
        return Surface(self.position(s, angle), vector / size[:, None], weight * s * size)

    def outward(self, s: Array, angle: Array) -> Array:
        """Return the outward vectors (..., 3) whose length times s is the area per s and angle, mm2."""
        along = -2.0 * self.length * s
        mesial = self.slope[0] * along + self.a * np.cos(angle)
        buccal = self.slope[1] * along + self.b * np.sin(angle)
        d_s = np.stack([mesial, buccal, along], axis=-1)
        d_angle = np.stack([-self.a * np.sin(angle), self.b * np.cos(angle), np.zeros_like(s)], axis=-1)
        return np.asarray(np.cross(d_s, d_angle))


@dataclass(frozen=True)
class Trunk:
    """Undivided part of a root with several: elliptic, half-axes (mesial, buccal) `upper` to `lower`, mm.

    It reaches from depth `top` to depth `bottom`; the half-axes vary linearly.
    """

    upper: tuple[float, float]
    lower: tuple[float, float]
    top: float
    bottom: float

    def half_axes(self, depth: float) -> tuple[float, float]:
        """Return the half-axes at `depth`."""
        share = (depth - self.top) / (self.bottom - self.top)
        a, b = (u + share * (v - u) for u, v in zip(self.upper, self.lower, strict=True))
        return a, b

    def cut(self, depth: float) -> Trunk:
        """Return the part apical of `depth`, which must be above the bottom."""
        return self if depth <= self.top else Trunk(self.half_axes(depth), self.lower, depth, self.bottom)

    def grown(self, by: float) -> Trunk:
        """Return the trunk with all half-axes larger by `by` mm."""
        upper, lower = ((a + by, b + by) for a, b in (self.upper, self.lower))
        return Trunk(upper, lower, self.top, self.bottom)

    def surface(self, rings: int = 2, around: int = 16) -> Surface:
        """Return the quadrature of the lateral wall with `rings` rings of `around` points each."""
        x, angle, weight = _rule(rings, around)
        vector = self.outward(x, angle)
        size = np.linalg.norm(vector, axis=-1)
        return Surface(self.position(x, angle), vector / size[:, None], weight * size)

    def position(self, x: Array, angle: Array) -> Array:
        """Return points (..., 3) of the wall at the share `x` (...) of its height, from the top, and `angle` (...)."""
        half, turn = self._ring(x, angle)
        return np.concatenate([half * turn, (self.top + (self.bottom - self.top) * x)[..., None]], axis=-1)

    def outward(self, x: Array, angle: Array) -> Array:
        """Return the outward vectors (..., 3) whose length is the area per x and angle, mm2."""
        half, turn = self._ring(x, angle)
        change = np.array(self.lower) - np.array(self.upper)
        d_x = np.concatenate([change * turn, np.full((*x.shape, 1), self.bottom - self.top)], axis=-1)
        flat = np.zeros_like(x)
        d_angle = np.stack([-half[..., 0] * turn[..., 1], half[..., 1] * turn[..., 0], flat], axis=-1)
        return np.asarray(np.cross(d_angle, d_x))

    def _ring(self, x: Array, angle: Array) -> tuple[Array, Array]:
        """Return half-axes and directions (..., 2) at the share `x` of the height and `angle`."""
        change = np.array(self.lower) - np.array(self.upper)
        turn = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
        return np.array(self.upper) + np.asarray(x)[..., None] * change, turn


@lru_cache(maxsize=32)
def _rule(rings: int, around: int) -> tuple[Array, Array, Array]:
    """Return flattened radius parameters in (0, 1), angles and weights; symmetric in both lateral axes."""
    if rings < 1 or around < 4 or around % 4:
        raise InputError(f"quadrature of {rings} rings of {around}; allowed: 1, 2, 3 ... of 4, 8, 12 ...")
    node, weight = np.polynomial.legendre.leggauss(rings)
    s: Array = np.repeat(0.5 * (node + 1.0), around)
    stagger = np.repeat(0.5 * (np.arange(rings) % 2), around)  # spreads the points where a law has a kink
    place = np.tile(np.arange(around), rings) + stagger
    angle = np.asarray(place * (2 * np.pi / around), dtype=np.float64)
    w: Array = np.repeat(0.5 * weight, around) * (2 * np.pi / around)
    for array in (s, angle, w):
        array.setflags(write=False)
    return s, angle, w
