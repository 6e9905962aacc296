"""Saint-Venant torsion of rectangles with sharp or rounded corners.

Prandtl's stress function phi: laplace(phi) = -2 inside, phi = 0 on the outline; then J = 2 integral(phi) and
the shear stress under a torque T is T |grad phi| / J, along the outline. (Timoshenko and Goodier, Theory of
Elasticity; from memory.)

Sharp corners: the classical series, summed to 1e-12. Rounded corners: phi = h - r^2/2 with h harmonic, found
as a polynomial in z^2 (z = x2 + i x3) by least squares on the outline. By the maximum principle the error of
phi is at most the largest residual there, hence that of J at most 2 * area * residual: a bound that needs no
reference (see `Torsion.bound`).
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_TERMS = 400
_DEGREE = 40
_NODES = 96


class Torsion(NamedTuple):
    """Torsion constant J (mm^4), its guaranteed relative error bound, and the polynomial h behind it."""

    constant: float
    bound: float
    coefficients: Array
    recurrence: Array


def rectangle_constant(height: float, depth: float) -> float:
    """Return J (mm^4) of a sharp rectangle: a b^3 / 3 (1 - 192/pi^5 b/a sum tanh(n pi a / 2b) / n^5)."""
    a, b = max(height, depth), min(height, depth)
    n = np.arange(1, 2 * _TERMS, 2)
    total = float(np.sum(np.tanh(n * np.pi * a / (2 * b)) / n**5.0))
    return a * b**3 / 3 * (1 - 192 / np.pi**5 * b / a * total)


def rectangle_gradient(height: float, depth: float, x2: Array, x3: Array) -> tuple[Array, Array]:
    """Return d(phi)/dx2 and d(phi)/dx3 (p,), mm, at points of a sharp rectangle (classical series)."""
    if depth < height:
        return rectangle_gradient(depth, height, x3, x2)[::-1]
    a, b = depth, height
    n = np.arange(1, 2 * _TERMS, 2)[:, None]
    k = n * np.pi / b
    sign = np.where(n % 4 == 1, 1.0, -1.0)
    # cosh and sinh over cosh(k a / 2), without overflow
    grow, fade = np.exp(k * (np.abs(x2) - a / 2)), np.exp(-k * (np.abs(x2) + a / 2))
    base = 1 + np.exp(-k * a)
    cosh, sinh = (grow + fade) / base, np.sign(x2) * (grow - fade) / base
    scale = 8 * b * b / np.pi**3 * sign / n**3.0 * k
    g2: Array = -np.sum(scale * np.cos(k * x3) * sinh, axis=0)
    g3: Array = -2 * x3 + np.sum(scale * np.sin(k * x3) * cosh, axis=0)
    return g2, g3


@lru_cache(maxsize=256)
def rounded(height: float, depth: float, bevel: float) -> Torsion:
    """Solve a rectangle with quarter-round corners (0 < bevel <= half the smaller side), mm."""
    z, dz, weight = _quarter(height, depth, bevel)
    basis, slope, recurrence = _arnoldi(z * z, np.sqrt(weight))
    half = 0.5 * np.abs(z) ** 2
    root = np.sqrt(weight)[:, None]
    fit = np.linalg.lstsq(basis.real * root, half * root[:, 0], rcond=None)[0]
    coefficients = np.asarray(fit, dtype=np.float64)
    h = basis.real @ coefficients
    derivative = (slope @ coefficients) * 2 * z  # f'(z), h = Re f
    normal = -1j * dz  # outward for a counter-clockwise outline
    h_n = (derivative * normal).real
    half_n = (np.conj(z) * normal).real
    # Green's second identity: 2 integral(h) = outline integral of (h d(r^2/2)/dn - r^2/2 dh/dn)
    twice = 4 * float(np.sum(weight * (h * half_n - half * h_n)))
    polar = float(np.sum(weight * np.abs(z) ** 2 * half_n))
    constant = twice - polar
    area = 2 * float(np.sum(weight * half_n))
    bound = 2 * area * float(np.max(np.abs(h - half))) / constant
    return Torsion(constant, bound, coefficients, recurrence)


def rounded_gradient(height: float, depth: float, bevel: float, x2: Array, x3: Array) -> tuple[Array, Array]:
    """Return d(phi)/dx2 and d(phi)/dx3 (p,), mm, at points of a rounded rectangle."""
    solved = rounded(height, depth, bevel)
    z = x2 + 1j * x3
    _, slope = _evaluate(z * z, solved.recurrence)
    derivative = (slope @ solved.coefficients) * 2 * z
    return derivative.real - x2, -derivative.imag - x3


def _quarter(height: float, depth: float, bevel: float) -> tuple[Complex, Complex, Array]:
    """Return Gauss points z, unit tangents dz and weights of the outline's first quarter."""
    t, w = np.polynomial.legendre.leggauss(_NODES)
    t, w = (t + 1) / 2, w / 2
    c2, c3 = depth / 2 - bevel, height / 2 - bevel
    angle = t * np.pi / 2
    pieces = [
        (depth / 2 + 1j * c3 * t, np.full(t.shape, 1j), c3 * w),
        (c2 + 1j * c3 + bevel * np.exp(1j * angle), 1j * np.exp(1j * angle), bevel * np.pi / 2 * w),
        (c2 * (1 - t) + 0.5j * height, np.full(t.shape, -1.0 + 0j), c2 * w),
    ]
    z, dz, weight = (np.concatenate(part) for part in zip(*pieces, strict=True))
    return z, dz, weight


def _arnoldi(zeta: Complex, root: Array) -> tuple[Complex, Complex, Array]:
    """Return orthogonal polynomials of `zeta`, their derivatives and the recurrence that made them.

    Plain powers would be hopelessly ill-conditioned (Vandermonde with Arnoldi: Brubeck, Nakatsukasa and
    Trefethen 2021, SIAM Review 63:405; from memory). The outline's lower half counts by its mirror image,
    which keeps the recurrence real: h is then symmetric about both axes.
    """
    size = _DEGREE + 1
    recurrence = np.zeros((size, size))
    basis = np.ones((zeta.size, size), dtype=np.complex128)
    total = float(np.sum(root**2))
    for k in range(_DEGREE):
        v = zeta * basis[:, k]
        for _ in range(2):
            part = (np.conj(basis[:, : k + 1] * root[:, None] ** 2).T @ v).real / total
            recurrence[: k + 1, k] += part
            v = v - basis[:, : k + 1] @ part
        recurrence[k + 1, k] = np.sqrt(np.sum(np.abs(v) ** 2 * root**2) / total)
        basis[:, k + 1] = v / recurrence[k + 1, k]
    return (*_evaluate(zeta, recurrence), recurrence)


def _evaluate(zeta: Complex, recurrence: Array) -> tuple[Complex, Complex]:
    """Return the polynomials of `recurrence` and their derivatives at `zeta` (p, degree + 1)."""
    size = recurrence.shape[0]
    basis = np.zeros((zeta.size, size), dtype=np.complex128)
    slope = np.zeros_like(basis)
    basis[:, 0] = 1.0
    for k in range(size - 1):
        column = recurrence[: k + 1, k]
        basis[:, k + 1] = zeta * basis[:, k] - basis[:, : k + 1] @ column
        slope[:, k + 1] = basis[:, k] + zeta * slope[:, k] - slope[:, : k + 1] @ column
        basis[:, k + 1] /= recurrence[k + 1, k]
        slope[:, k + 1] /= recurrence[k + 1, k]
    return basis, slope
