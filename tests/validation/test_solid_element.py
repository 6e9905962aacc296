"""The curved 20-node hexahedron: patch test, one-dimensional states, measured order on a manufactured solution.

Patch test and theoretical orders (three in displacement, two in strain): textbooks of the method (from memory).
"""

import numpy as np
import pytest

from biomech.solid.elements import EDGES, derivatives, gauss, shapes
from biomech.solid.kernel import assemble, elasticity, element_stiffness, strain_matrices
from biomech.solid.solve import factor, unknowns

YOUNG, POISSON = 2.0, 0.4


def block(n, curve):
    """n x n x n elements of the unit cube, every node (also the middles) moved by `curve`; nodes of the skin."""
    line = np.arange(2 * n + 1)
    lattice = np.stack(np.meshgrid(line, line, line, indexing="ij"), axis=-1).reshape(-1, 3)
    number = np.arange(len(lattice)).reshape((2 * n + 1,) * 3)
    first = 2 * np.stack(np.meshgrid(*[np.arange(n)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    cube = np.array([[0, 0, 0], [2, 0, 0], [2, 2, 0], [0, 2, 0], [0, 0, 2], [2, 0, 2], [2, 2, 2], [0, 2, 2]])
    places = np.concatenate([cube, (cube[EDGES].sum(axis=1)) // 2])
    hexes = number[tuple(np.moveaxis(first[:, None] + places, -1, 0))]
    used, hexes_used = np.unique(hexes, return_inverse=True)
    skin = ((lattice[used] == 0) | (lattice[used] == 2 * n)).any(axis=1)
    return curve(lattice[used] / (2.0 * n)), hexes_used.reshape(hexes.shape), np.flatnonzero(skin)


def straight(seed):
    """Corners of the inner lattice moved at random, edges straight."""
    generator = np.random.default_rng(seed)
    points, hexes, skin = block(2, lambda x: x)
    corners = np.setdiff1d(np.unique(hexes[:, :8]), skin)
    points[corners] += generator.uniform(-0.12, 0.12, (len(corners), 3))
    for edge, (a, b) in enumerate(EDGES):
        points[hexes[:, 8 + edge]] = 0.5 * (points[hexes[:, a]] + points[hexes[:, b]])
    return points, hexes, skin


@pytest.mark.parametrize("seed", range(3))
def test_patch_of_constant_strain(seed):
    points, hexes, skin = straight(seed)
    generator = np.random.default_rng(seed + 10)
    gradient = generator.normal(size=(3, 3))
    exact = points @ gradient.T
    strains = strain_matrices(points, hexes)
    matrix = assemble(hexes, element_stiffness(strains, elasticity(YOUNG, POISSON)), len(points))
    held = unknowns(skin)
    free = np.setdiff1d(np.arange(matrix.shape[0]), held)
    found = exact.ravel().copy()
    found[free] = factor(matrix[:, free][free])(-(matrix[:, held] @ exact.ravel()[held])[free])
    assert np.abs(found - exact.ravel()).max() < 1e-12
    strain = np.einsum("egjk,ek->egj", strains.matrix, found.reshape(-1, 3)[hexes].reshape(len(hexes), 60))
    s = 0.5 * (gradient + gradient.T)
    assert strain == pytest.approx(
        np.broadcast_to([s[0, 0], s[1, 1], s[2, 2], 2 * s[1, 2], 2 * s[0, 2], 2 * s[0, 1]], strain.shape), abs=1e-11
    )


def test_volume_of_a_curved_mesh_and_rigid_motions():
    points, hexes, _ = block(4, curve)
    strains = strain_matrices(points, hexes, order=3)
    fine = strain_matrices(*block(12, curve)[:2], order=3)
    assert strains.volumes.sum() == pytest.approx(fine.volumes.sum(), rel=2e-5)
    matrix = assemble(hexes, element_stiffness(strains, elasticity(YOUNG, POISSON)), len(points))
    turn = np.cross([0.3, -0.2, 0.5], points) + np.array([1.0, 2.0, 3.0])
    assert np.abs(matrix @ turn.ravel()).max() < 1e-11


def curve(x):
    """A smooth map of the unit cube onto a curved block."""
    s, c = np.sin(np.pi * x), np.cos(np.pi * x)
    return x + 0.08 * np.stack([s[:, 1] * c[:, 2], s[:, 2] * c[:, 0], s[:, 0] * c[:, 1]], axis=-1)


def exact(x):
    """Displacement (P, 3) of the manufactured solution."""
    return np.stack(
        [np.sin(2 * x[:, 0]) * np.cos(x[:, 1]), np.exp(0.5 * x[:, 2]) * np.sin(x[:, 0]), np.cos(x[:, 1] + 2 * x[:, 2])],
        axis=-1,
    )


def body_force(x):
    """-div stress = -(lame + mu) grad div u - mu laplacian u, worked out by hand."""
    mu = YOUNG / (2 * (1 + POISSON))
    lame = YOUNG * POISSON / ((1 + POISSON) * (1 - 2 * POISSON))
    x, y, z = x.T
    s2, c2 = np.sin(2 * x), np.cos(2 * x)
    # div u = 2 cos 2x cos y + 0 - 2 sin(y + 2z)
    grad_div = [-4 * s2 * np.cos(y), -2 * c2 * np.sin(y) - 2 * np.cos(y + 2 * z), -4 * np.cos(y + 2 * z)]
    laplace = [-5 * s2 * np.cos(y), (0.25 - 1.0) * np.exp(0.5 * z) * np.sin(x), -5 * np.cos(y + 2 * z)]
    return -np.stack([(lame + mu) * g + mu * d for g, d in zip(grad_div, laplace, strict=True)], axis=-1)


def errors(n):
    """L2 errors of displacement and (at the Gauss points) strain on n^3 curved elements, exact values on the skin."""
    points, hexes, skin = block(n, curve)
    strains = strain_matrices(points, hexes)
    matrix = assemble(hexes, element_stiffness(strains, elasticity(YOUNG, POISSON)), len(points))
    place, weight = gauss(4)
    nodes = points[hexes]
    where = np.einsum("ga,eai->egi", shapes(place), nodes)
    size = np.linalg.det(np.einsum("gai,eaj->egij", derivatives(place), nodes)) * weight
    force = body_force(where.reshape(-1, 3)).reshape(where.shape)
    load = np.zeros((len(points), 3))
    np.add.at(load, hexes, np.einsum("ga,eg,egi->eai", shapes(place), size, force))
    known = exact(points).ravel()
    held = unknowns(skin)
    free = np.setdiff1d(np.arange(matrix.shape[0]), held)
    found = known.copy()
    found[free] = factor(matrix[:, free][free])((load.ravel() - matrix[:, held] @ known[held])[free])
    value = np.einsum("ga,eai->egi", shapes(place), found.reshape(-1, 3)[hexes])
    wrong = value - exact(where.reshape(-1, 3)).reshape(where.shape)
    inside = np.einsum("ga,eai->egi", shapes(gauss()[0]), nodes)
    strain = np.einsum("egjk,ek->egj", strains.matrix, found.reshape(-1, 3)[hexes].reshape(len(hexes), 60))
    x, y, _ = np.moveaxis(inside, -1, 0)
    right = 2 * np.cos(2 * x) * np.cos(y)  # du_x/dx
    return (
        np.sqrt((size * (wrong**2).sum(axis=-1)).sum()),
        np.sqrt((strains.volumes * (strain[..., 0] - right) ** 2).sum()),
    )


def test_order_on_a_manufactured_solution():
    found = np.array([errors(n) for n in (2, 4, 6)])
    order = np.log(found[:-1] / found[1:]) / np.log([[2.0], [1.5]])
    assert order[-1, 0] > 2.8, order
    assert order[-1, 1] > 1.9, order
