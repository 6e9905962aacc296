"""Rotations and poses in space, vectorised over leading axes.

A pose is a rotation (..., 3, 3), whose columns are the frame's axes in the parent frame, and a position
(..., 3) in mm. Twists are six-vectors (v, w), translation first, in body axes. Formulas: the exponential and
logarithm of SO(3) and SE(3) and their trivialised derivatives (standard, e.g. Bullo and Murray 1995; from
memory), checked in the tests against series and finite differences.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_EPS = np.zeros((3, 3, 3))
for _i, _j, _k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
    _EPS[_i, _j, _k], _EPS[_i, _k, _j] = 1.0, -1.0
_HAT: Array = -_EPS.transpose(2, 0, 1).reshape(3, 9).copy()  # w @ _HAT = hat(w) flattened
_UNITS = np.zeros((6, 6, 6))  # ad of the unit twists
for _i in range(3):
    _UNITS[_i, :3, 3:] = _HAT[_i].reshape(3, 3)
    _UNITS[3 + _i, :3, :3] = _UNITS[3 + _i, 3:, 3:] = _HAT[_i].reshape(3, 3)
_COAD: Array = _UNITS.transpose(1, 2, 0).reshape(6, 36).copy()  # m @ _COAD = C(m), with C(m) h = ad(h)^T m
_AD: Array = _UNITS.reshape(6, 36).copy()
_SPIN: Array = np.concatenate([0.5 * _HAT.T, 0.5 * np.eye(3).reshape(9, 1)], axis=1)
"""Rotation, flattened, @ this: sine of the angle times the axis, and half the trace."""
_EYE3, _EYE6 = np.eye(3), np.eye(6)


class Pose(NamedTuple):
    """Rotation (..., 3, 3) and position (..., 3) in mm."""

    rotation: Array
    position: Array

    def __matmul__(self, other: Pose) -> Pose:
        """Compose: the pose of `other`, given relative to `self`, in the parent of `self`."""
        return Pose(self.rotation @ other.rotation, self.position + apply(self.rotation, other.position))

    def inverse(self) -> Pose:
        """Return the pose of the parent seen from this frame."""
        back = np.swapaxes(self.rotation, -1, -2)
        return Pose(back, -apply(back, self.position))

    def point(self, local: Array) -> Array:
        """Return local points (..., 3) in the parent frame."""
        return self.position + apply(self.rotation, local)

    def take(self, index: Array | slice | int) -> Pose:
        """Return the poses at `index` of the last pose axis."""
        return Pose(self.rotation[..., index, :, :], self.position[..., index, :])


def identity(*shape: int) -> Pose:
    """Return identity poses with the given leading shape."""
    return Pose(np.tile(_EYE3, (*shape, 1, 1)), np.zeros((*shape, 3)))


def apply(rotation: Array, vector: Array) -> Array:
    """Return rotation (..., 3, 3) times vector (..., 3)."""
    out: Array = np.matmul(rotation, vector[..., None])[..., 0]
    return out


def hat(w: Array) -> Array:
    """Return the skew matrices (..., 3, 3) with hat(w) a = w x a."""
    out: Array = (w @ _HAT).reshape(*w.shape[:-1], 3, 3)
    return out


def cross(a: Array, b: Array) -> Array:
    """Return a x b (..., 3); several times faster than numpy's on small arrays."""
    return apply(hat(a), b)


def ad(h: Array) -> Array:
    """Return the matrices (..., 6, 6) of the Lie bracket with twist h = (v, w)."""
    out: Array = (h @ _AD).reshape(*h.shape[:-1], 6, 6)
    return out


def coad(m: Array) -> Array:
    """Return C(m) (..., 6, 6) with C(m) h = ad(h)^T m for a wrench m = (force, moment)."""
    out: Array = (m @ _COAD).reshape(*m.shape[:-1], 6, 6)
    return out


def adjoint(pose: Pose) -> Array:
    """Return Ad (..., 6, 6): a twist in the pose's frame as seen in its parent."""
    r, x = pose
    out = np.zeros((*r.shape[:-2], 6, 6))
    out[..., :3, :3] = out[..., 3:, 3:] = r
    out[..., :3, 3:] = hat(x) @ r
    return out


def rotation_exp(w: Array) -> Array:
    """Return the rotations exp(hat(w)) (..., 3, 3) of rotation vectors w (..., 3), rad."""
    t2 = np.einsum("...i,...i", w, w)
    t = np.sqrt(t2)
    small = t2 < 1e-8
    safe = np.where(small, 1.0, t2)
    a = np.where(small, 1 - t2 / 6, np.sin(t) / np.sqrt(safe))
    b = np.where(small, 0.5 - t2 / 24, 2 * np.sin(t / 2) ** 2 / safe)
    k = hat(w)
    out: Array = _EYE3 + a[..., None, None] * k + b[..., None, None] * (k @ k)
    return out


def rotation_log(r: Array) -> Array:
    """Return rotation vectors (..., 3), rad, |w| <= pi, of rotations r (..., 3, 3).

    Works through the unit quaternion, so that it is accurate at every angle up to pi.
    """
    parts = r.reshape(*r.shape[:-2], 9) @ _SPIN
    axis, cosine = parts[..., :3], parts[..., 3] - 0.5
    sine2 = np.einsum("...i,...i", axis, axis)
    sine = np.sqrt(sine2)
    small = sine2 < 1e-10
    factor = np.where(small, 1 + sine2 / 6, np.arctan2(sine, cosine) / np.where(small, 1.0, sine))
    w: Array = factor[..., None] * axis
    if np.any(cosine < -0.99):
        w = _log_near_pi(r, w, cosine)
    return w


def _log_near_pi(r: Array, w: Array, cosine: Array) -> Array:
    """Repair the logarithm close to half a turn, where the skew part of r vanishes."""
    from scipy.spatial.transform import Rotation

    near = cosine < -0.99
    w = w.copy()
    w[near] = Rotation.from_matrix(r[near]).as_rotvec()
    return w


def log_coefficients(t2: Array) -> Array:
    """Return c(theta^2) of dexp^-1 on SO(3): I -/+ hat(w)/2 + c hat(w)^2."""
    small = t2 < 1e-4
    safe = np.where(small, 1.0, t2)
    half = 0.5 * np.sqrt(safe)
    out: Array = np.where(small, 1 / 12 + t2 / 720, (1 - half / np.tan(half)) / safe)
    return out


def pose_log(pose: Pose) -> Array:
    """Return the twists h = (v, w) (..., 6) with exp(h) = pose; mm and rad."""
    w = rotation_log(pose.rotation)
    c = log_coefficients(np.einsum("...i,...i", w, w))
    p = pose.position
    wp = cross(w, p)
    v = p - 0.5 * wp + c[..., None] * cross(w, wp)
    return np.concatenate([v, w], axis=-1)


def pose_exp(h: Array) -> Pose:
    """Return the poses exp(h) of twists h = (v, w) (..., 6)."""
    v, w = h[..., :3], h[..., 3:]
    t2 = np.einsum("...i,...i", w, w)
    t = np.sqrt(t2)
    small = t2 < 1e-4
    safe = np.where(small, 1.0, t2)
    b = np.where(small, 0.5 - t2 / 24, 2 * np.sin(t / 2) ** 2 / safe)
    d = np.where(small, 1 / 6 - t2 / 120, (t - np.sin(t)) / (safe * np.sqrt(safe)))
    wv = cross(w, v)
    return Pose(rotation_exp(w), v + b[..., None] * wv + d[..., None] * cross(w, wv))


def jacobian_inverse(h: Array) -> tuple[Array, Array, Array, Array]:
    """Return Jr^-1 and Jl^-1 (..., 6, 6) of twists h (..., 6), with ad(h) and the factor of ad(h)^2.

    Jr^-1(h) = I + ad/2 + A ad^2 + B ad^4, Jl^-1(h) = Jr^-1(-h); A and B depend on the angle only.
    """
    w = h[..., 3:]
    t2 = np.einsum("...i,...i", w, w)
    small = t2 < 1e-2
    if small.all():
        a2 = 1 / 12 - t2 * t2 * (1 / 30240 + t2 / 604800)
        a4 = -1 / 720 - t2 * (1 / 15120 + t2 / 403200)
    else:
        safe = np.where(small, 1.0, t2)
        half = 0.5 * np.sqrt(safe)
        alpha, beta = half / np.tan(half), (half / np.sin(half)) ** 2
        a2 = np.where(small, 1 / 12 - t2 * t2 / 30240, (2 * (1 - alpha) + 0.5 * (alpha - beta)) / safe)
        a4 = np.where(
            small, -1 / 720 - t2 / 15120, ((1 - alpha) + 0.5 * (alpha - beta)) / (safe * safe)
        )
    k = ad(h)
    k2 = k @ k
    even = a2[..., None, None] * k2
    even += a4[..., None, None] * (k2 @ k2)
    even += _EYE6
    odd = 0.5 * k
    return even + odd, even - odd, k, a2


_SERIES = np.array(
    [-1 / 12, -1 / 720, -1 / 30240, -1 / 1209600, -1 / 47900160, -691 / 1307674368000, -1 / 74724249600,
     -3617 / 10670622842880000, -43867 / 5109094217170944000]
)  # fmt: skip
"""Of x cot x in powers of (2 x)^2 from the first: minus |Bernoulli number 2 k| / (2 k)!."""


def even_coefficients(t2: Array) -> tuple[Array, Array, Array, Array]:
    """Return A, B of `jacobian_inverse` and their derivatives by theta^2, all accurate at small angles too."""
    k = np.arange(1, len(_SERIES) + 1)
    first, second = (k - 2) * _SERIES, ((k - 1) * _SERIES)[1:]
    power = np.minimum(t2, 1.0)[..., None] ** (k - 1)
    series = (
        power @ first,
        power[..., :-1] @ second,
        power[..., :-1] @ (first[1:] * k[:-1]),
        power[..., :-2] @ (second[1:] * k[:-2]),
    )
    if np.all(t2 < 1.0):
        return series
    safe = np.maximum(t2, 1.0)
    half = 0.5 * np.sqrt(safe)
    alpha, beta = half / np.tan(half), (half / np.sin(half)) ** 2
    rate, beta_rate = (alpha - beta) / (2 * safe), beta * (1 - alpha) / safe  # d alpha, d beta by d theta^2
    a, b = (2 * (1 - alpha) + 0.5 * (alpha - beta)) / safe, ((1 - alpha) + 0.5 * (alpha - beta)) / safe**2
    closed = (
        a,
        b,
        (-1.5 * rate - 0.5 * beta_rate - a) / safe,
        ((-0.5 * rate - 0.5 * beta_rate) / safe - 2 * b) / safe,
    )
    a, b, da, db = (np.where(t2 < 1.0, few, many) for few, many in zip(series, closed, strict=True))
    return a, b, da, db
