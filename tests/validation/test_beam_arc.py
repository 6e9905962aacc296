"""Benchmark A: the 45-degree space cantilever under a dead tip load.

Bathe and Bolourchi 1979, Int. J. Numer. Meth. Eng. 14:961 (NAFEMS 3DNLG-5). Radius 100, 1 x 1 section, E = 1e7,
nu = 0. Print mixes two torsion constants, the polar 1/6 and Saint-Venant's 0.140577; reference displacements for
both computed independently (shooting solution of the rod equations, GA = 5e6).
"""

import numpy as np
import pytest
from beams import POLAR, SAINT_VENANT, benchmark_a, displacement

COMPUTED = [
    (300, POLAR, (-7.0445, -11.9316, 40.1919)),
    (450, POLAR, (-10.7811, -18.4721, 48.5029)),
    (600, POLAR, (-13.6045, -23.5602, 53.4749)),
    (3000, POLAR, (-25.0565, -47.6871, 68.5404)),
    (300, SAINT_VENANT, (-7.1767, -12.1747, 40.4803)),
    (450, SAINT_VENANT, (-10.9200, -18.7410, 48.7048)),
    (600, SAINT_VENANT, (-13.7315, -23.8188, 53.6074)),
    (3000, SAINT_VENANT, (-25.0753, -47.7520, 68.5229)),
]


def _tip(elements, force, torsion, tolerance=1e-9, **kw):
    model = benchmark_a(elements, force, torsion, **kw)
    return displacement(model.solve(tolerance=tolerance), model, -1)


@pytest.mark.parametrize(("force", "torsion", "u"), COMPUTED)
def test_thirty_two_elements_are_converged(force, torsion, u):
    found = _tip(32, force, torsion, shear=5e6)
    assert np.linalg.norm(found - u) < 2e-5 * np.linalg.norm(u) + 1e-4  # printed to four decimals


@pytest.mark.parametrize(("force", "torsion", "u"), COMPUTED)
def test_four_elements_are_close(force, torsion, u):
    allowed = 1e-3 if force < 3000 else 1e-2  # one element then bends by a quarter turn
    assert np.linalg.norm(_tip(4, force, torsion) - u) < allowed * np.linalg.norm(u)


@pytest.mark.parametrize("elements", [4, 8, 32])
def test_the_whole_load_at_once_takes_few_steps(elements):
    e = benchmark_a(elements, 600).solve()
    assert e.steps[0] <= 6 and not e.history  # no halving of the load


@pytest.mark.parametrize(
    ("torsion", "tip"),
    # limits that several general-purpose engines extrapolate to within 3e-8; GA = 5e6 x 5/6
    [(POLAR, (15.68469, 47.15010, 53.47548)), (SAINT_VENANT, (15.55768, 46.89159, 53.60799))],
)
def test_tip_at_600_with_shear(torsion, tip):
    assert np.allclose(benchmark_a(32, 600, torsion).solve().poses.position[0, -1], tip, atol=3e-5)


@pytest.mark.parametrize(
    ("force", "torsion", "published"),
    [
        (600, POLAR, (-13.4, -23.5, 53.4)),  # Bathe and Bolourchi, seen in full in two public test suites
        (600, POLAR, (-13.5, -23.7, 53.4)),  # Wang et al. 2015, second-hand
        (
            600,
            POLAR,
            (15.79 - 29.289, 47.23 - 70.711, 53.37),
        ),  # Simo and Vu-Quoc 1986, 8 elements, from memory
        (450, POLAR, (18.62 - 29.289, 52.32 - 70.711, 48.39)),  # the same
        (300, POLAR, (22.33 - 29.289, 58.84 - 70.711, 40.08)),  # the same
        (300, SAINT_VENANT, (-7.188, -12.19, 40.50)),  # a solver's NAFEMS page, seen in full; no shear
        (450, SAINT_VENANT, (-10.93, -18.76, 48.73)),  # the same
        (600, SAINT_VENANT, (-13.74, -23.85, 53.63)),  # the same
    ],
)
def test_published_values_within_one_per_cent(force, torsion, published):
    assert np.linalg.norm(_tip(16, force, torsion) - published) < 0.01 * np.linalg.norm(published)


def test_small_loads_follow_castigliano():
    # out of plane on a 45-degree arc: bending R^3 int sin^2, torsion R^3 int (1 - cos)^2, shear R a / GA
    r, a, ei, gj, ga = 100.0, np.pi / 4, 1e7 / 12, 5e6 / 6, 5e6 * 5 / 6
    bending = r**3 * (a / 2 - np.sin(2 * a) / 4) / ei
    torsion = r**3 * (1.5 * a - 2 * np.sin(a) + np.sin(2 * a) / 4) / gj
    up, down = (_tip(16, p, POLAR, tolerance=1e-7)[2] for p in (1e-2, -1e-2))
    assert (up - down) / 2e-2 == pytest.approx(bending + torsion + r * a / ga, rel=1e-5)
