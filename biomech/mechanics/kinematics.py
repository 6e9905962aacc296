"""Kinematics of links: strain from the relative pose of both ends, its derivatives, forces and tangents on the frames.

See links for the two kinds. Every array may carry leading batch axes before the link axis.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import Self

import numpy as np

from biomech.mechanics.poses import (
    Array,
    Pose,
    apply,
    coad,
    even_coefficients,
    hat,
    jacobian_inverse,
    log_coefficients,
    pose_log,
    rotation_log,
)

_EYE3 = np.eye(3)
Adjoints = tuple[Array | None, Array | None]
"""By end of the links: what brings twists of the frame to the end (..., n, 6, 6), None where they coincide."""


class Kinematics(ABC):
    """Strain of links, its derivative B (..., n, 6, 12) and the geometric part of the tangent."""

    strain: Array
    b: Array

    @abstractmethod
    def part(self, rows: slice) -> Self:
        """Return the kinematics of some of the links."""

    def to_frames(self, stress: Array) -> Array:
        """Return B^T m (..., n, 12): generalised forces on both frames, body axes."""
        out: Array = np.matmul(stress[..., None, :], self.b)[..., 0, :]
        return out

    def flat_tangent(self, material: Array) -> Array:
        """Return B^T K B (..., n, 12, 12)."""
        out: Array = np.swapaxes(self.b, -1, -2) @ material @ self.b
        return out

    @abstractmethod
    def tangent(self, material: Array, stress: Array, exact: bool = False) -> Array:
        """Return B^T K B + d(B^T m)/dq at fixed m (..., n, 12, 12), not symmetrised; K is `material`, m `stress`.

        Without `exact`, terms of third order in the turn between the link's ends are left out of the second part: below
        0.3 % of it at 0.3 rad. Newton keeps its pace without; stability and sensitivities need them.
        """


def _some(adjoints: Adjoints, rows: slice) -> Adjoints:
    a, b = (None if ad is None else ad[..., rows, :, :] for ad in adjoints)
    return a, b


def _with_offsets(b: Array, adjoints: Adjoints) -> Array:
    ad_a, ad_b = adjoints
    if ad_a is not None:
        b[..., :6] = b[..., :6] @ ad_a
    if ad_b is not None:
        b[..., 6:] = b[..., 6:] @ ad_b
    return b


def _from_offsets(k: Array, adjoints: Adjoints) -> Array:
    """Bring rows of generalised forces at the offset ends (..., 12, m) back to the frames."""
    ad_a, ad_b = adjoints
    if ad_a is not None:
        k[..., :6, :] = np.swapaxes(ad_a, -1, -2) @ k[..., :6, :]
    if ad_b is not None:
        k[..., 6:, :] = np.swapaxes(ad_b, -1, -2) @ k[..., 6:, :]
    return k


@dataclass(frozen=True)
class PoseKinematics(Kinematics):
    """Of "pose" links: the logarithm; `ad` (..., n, 6, 6) of the strain, `a2` (..., n) its coefficient in Jr^-1."""

    strain: Array
    b: Array
    ad: Array
    a2: Array
    adjoints: Adjoints

    @classmethod
    def at(cls, relative: Pose, adjoints: Adjoints) -> Self:
        """Return the kinematics at the pose of end b seen from end a."""
        h = pose_log(relative)
        right, left, k, a2 = jacobian_inverse(h)
        b = np.concatenate([-left, right], axis=-1)
        return cls(h, _with_offsets(b, adjoints), k, a2, adjoints)

    def part(self, rows: slice) -> Self:
        """See Kinematics.part."""
        return type(self)(
            self.strain[..., rows, :], self.b[..., rows, :, :], self.ad[..., rows, :, :], self.a2[..., rows],
            _some(self.adjoints, rows),
        )  # fmt: skip

    def tangent(self, material: Array, stress: Array, exact: bool = False) -> Array:
        """See Kinematics.tangent."""
        # d/dh of Jr^-T(h) m = m + ad^T m / 2 + a2 (ad^T)^2 m + a4 (ad^T)^4 m
        adt = np.swapaxes(self.ad, -1, -2)
        first = apply(adt, stress)
        c = coad(stress)
        square = coad(first) + adt @ c
        even = self.a2[..., None, None] * square
        if exact:
            even += self._third_order(adt, first, square)
        half = 0.5 * c
        # g_a = -Jr^-T(-h) m, hence dg_a/dh = half - even; g_b = Jr^-T(h) m, hence dg_b/dh = half + even
        rows = _from_offsets(np.concatenate([half - even, half + even], axis=-2), self.adjoints)
        rows += np.swapaxes(self.b, -1, -2) @ material
        return rows @ self.b

    def _third_order(self, adt: Array, first: Array, square: Array) -> Array:
        """Return the derivative of a4 (ad^T)^4 m and of a2; `first` = ad^T m, `square` = d((ad^T)^2 m)/dh."""
        w = self.strain[..., 3:]
        _, a4, a2_rate, a4_rate = even_coefficients(np.einsum("...i,...i", w, w))
        second = apply(adt, first)
        third = apply(adt, second)
        out: Array = a4[..., None, None] * (coad(third) + adt @ (coad(second) + adt @ square))
        along = a2_rate[..., None] * second + a4_rate[..., None] * apply(adt, third)
        out[..., 3:] += 2 * along[..., :, None] * w[..., None, :]
        return out


@dataclass(frozen=True)
class SectionKinematics(Kinematics):
    """Of "section" links: `relative` rotation, `c` (..., n) the coefficient of hat^2, `b_end` B at the links' ends."""

    strain: Array
    b: Array
    relative: Array
    c: Array
    b_end: Array
    adjoints: Adjoints

    @classmethod
    def at(cls, relative: Pose, adjoints: Adjoints) -> Self:
        """Return the kinematics at the pose of end b seen from end a."""
        r, p = relative
        w = rotation_log(r)
        c = log_coefficients(np.einsum("...i,...i", w, w))
        k = hat(w)
        even = _EYE3 + c[..., None, None] * (k @ k)
        b = np.zeros((*p.shape[:-1], 6, 12))
        b[..., :3, :3] = -_EYE3
        b[..., :3, 3:6] = hat(p)
        b[..., :3, 6:9] = r
        b[..., 3:, 3:6] = 0.5 * k - even
        b[..., 3:, 9:] = 0.5 * k + even
        full = _with_offsets(b.copy(), adjoints) if any(x is not None for x in adjoints) else b
        return cls(np.concatenate([p, w], axis=-1), full, r, c, b, adjoints)

    def part(self, rows: slice) -> Self:
        """See Kinematics.part."""
        return type(self)(
            self.strain[..., rows, :], self.b[..., rows, :, :], self.relative[..., rows, :, :], self.c[..., rows],
            self.b_end[..., rows, :, :], _some(self.adjoints, rows),
        )  # fmt: skip

    def tangent(self, material: Array, stress: Array, exact: bool = False) -> Array:
        """See Kinematics.tangent."""
        f, mu = stress[..., :3], stress[..., 3:]
        w = self.strain[..., 3:]
        fhat, mhat = hat(f), 0.5 * hat(mu)
        quad = self.c[..., None, None] * (
            np.einsum("...i,...i", w, mu)[..., None, None] * _EYE3
            + w[..., :, None] * mu[..., None, :]
            - 2 * mu[..., :, None] * w[..., None, :]
        )
        if exact:  # c depends on the angle: dc/d(theta^2) = -a4
            t2 = np.einsum("...i,...i", w, w)
            a4 = even_coefficients(t2)[1]
            square = np.einsum("...i,...i", w, mu)[..., None] * w - t2[..., None] * mu  # w x (w x mu)
            quad -= 2 * a4[..., None, None] * square[..., :, None] * w[..., None, :]
        dp, dw = self.b_end[..., :3, :], self.b_end[..., 3:, :]
        out = np.zeros((*f.shape[:-1], 12, 12))
        out[..., 3:6, :] = fhat @ dp + (mhat - quad) @ dw
        rt = np.swapaxes(self.relative, -1, -2)
        out[..., 6:9, 3:6] = -rt @ fhat
        out[..., 6:9, 9:] = hat(apply(rt, f))
        out[..., 9:, :] = (mhat + quad) @ dw
        out = _columns_to_frames(_from_offsets(out, self.adjoints), self.adjoints)
        out += np.swapaxes(self.b, -1, -2) @ (material @ self.b)
        return out


def _columns_to_frames(k: Array, adjoints: Adjoints) -> Array:
    ad_a, ad_b = adjoints
    if ad_a is not None:
        k[..., :, :6] = k[..., :, :6] @ ad_a
    if ad_b is not None:
        k[..., :, 6:] = k[..., :, 6:] @ ad_b
    return k
