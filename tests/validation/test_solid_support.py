"""Rigid roots in a solid ligament against a converged axisymmetric solution, identities and other programs.

Case P: paraboloid R 3.9, L 13 mm, thickness 0.229 mm along the normal, E 0.68 MPa; sizes ascribed to an upper central
incisor in the literature (from memory). Its values: quadratic Fourier finite elements of revolution, converged to four
digits (computed, independently of this program).
"""

import numpy as np
import pytest

from biomech import solid
from biomech.ligaments import make_ligament
from biomech.solid.kernel import assemble, elasticity, element_stiffness
from biomech.tooth import make_tooth
from biomech.tooth.resistance import centre_of_resistance
from biomech.tooth.roots import Paraboloid
from biomech.tooth.support import foundation_matrix, motion_matrix

CASE_P = Paraboloid(3.9, 3.9, 13.0)
# nu: K_yy, K_xx N/mm, K_tor N.mm, centre of resistance below the crest / L, sigma^2 mm2
FOURIER = {
    0.30: (567.3, 298.8, 2504.7, 0.3814, 14.12),
    0.45: (1309.4, 369.3, 2245.6, 0.3682, 12.21),
    0.49: (5154.4, 874.0, 2185.3, 0.3672, 10.62),
    0.499: (34540.0, 6110.0, 2172.0, 0.3718, 7.73),
}


def ligament(poisson, young=0.68, thickness=0.229):
    return make_ligament("linear", young=young, poisson=poisson, thickness=thickness)


def five(k, length):
    """The five numbers of a round root from its stiffness about the crest; z apical, force along the mesial axis."""
    lateral, coupling = k[0, 0], k[0, 4]
    sigma = (k[4, 4] - coupling**2 / lateral) / lateral
    return np.array([lateral, k[2, 2], k[5, 5], coupling / lateral / length, sigma])


@pytest.mark.parametrize("poisson", FOURIER)
def test_case_p(poisson):
    found = solid.support(CASE_P, ligament(poisson))
    assert five(found.stiffness, 13.0) == pytest.approx(FOURIER[poisson], rel=0.002)
    assert found.unknowns == 2745


@pytest.mark.parametrize(
    "poisson, displacement, turn, centre, apex",
    [(0.45, 8.04, 0.6745, 5.92, -4.78), (0.49, 2.31, 0.1967, 5.76, -1.42)],
)
def test_case_p_under_one_newton(poisson, displacement, turn, centre, apex):
    """1 N at 6 mm above the crest: um at the load, mrad, mm below the crest, um at the apex (computed, as above)."""
    found = solid.support(CASE_P, ligament(poisson))
    q = found.motion([1.0, 0.0, 0.0, 0.0, -6.0, 0.0])
    at = [1e3 * (q[0] - 6.0 * q[4]), -1e3 * q[4], -q[0] / q[4], 1e3 * (q[0] + 13.0 * q[4])]
    assert at == pytest.approx([displacement, turn, centre, apex], rel=0.005)  # three digits are given


def test_round_root_has_a_centre_in_space_and_the_symmetry_of_its_mesh():
    k = solid.support(CASE_P, ligament(0.49)).stiffness
    assert k[1, 1] == pytest.approx(k[0, 0], rel=1e-10)
    assert k[1, 3] == pytest.approx(-k[0, 4], rel=1e-10)
    assert centre_of_resistance(k).residual < 1e-8


@pytest.mark.parametrize("root", [CASE_P, Paraboloid(2.5, 3.75, 14.0, 1.5, (0.3, -0.2), (0.1, -0.15))])
@pytest.mark.parametrize("poisson", [0.0, 0.45, 0.4999])
def test_symmetric_positive_definite_and_in_equilibrium(root, poisson):
    found = solid.support(root, ligament(poisson), fineness=0.5)
    assert np.linalg.eigvalsh(found.stiffness)[0] > 0.0
    assert np.abs(found.stiffness - found.stiffness.T).max() == 0.0
    assert found.residual < 1e-10


def test_socket_and_root_moving_together_cost_nothing():
    found = solid.support(CASE_P, ligament(0.49))
    mesh = found.mesh
    matrix = assemble(mesh.hexes, element_stiffness(found.strains, elasticity(0.68, 0.49)), len(mesh.points))
    rigid = motion_matrix(mesh.points).reshape(-1, 6)
    assert np.abs(matrix @ rigid).max() < 1e-11 * np.abs(matrix).max() * np.abs(rigid).max()


@pytest.mark.parametrize("root", [CASE_P, Paraboloid(2.75, 3.5, 15.5)])
@pytest.mark.parametrize("poisson", [0.0, 0.3])
def test_thin_compressible_layer_is_a_bed_of_springs(root, poisson):
    """The solid's limit for t -> 0, extrapolated linearly, is the springs of the middle surface (computed)."""
    away = []
    for thickness in (0.05, 0.025):
        law = ligament(poisson, thickness=thickness)
        k = solid.support(root, law).stiffness
        bed = root.grown(0.5 * thickness).surface(20, 48)
        springs = foundation_matrix(bed, law.normal_modulus, law.shear_modulus)
        scale = np.sqrt(np.diag(springs))
        away.append((k - springs) / np.outer(scale, scale))
    assert np.abs(away[1]).max() < 0.004
    assert np.abs(2.0 * away[1] - away[0]).max() < 3e-4


def test_ellipse_turned_by_a_right_angle():
    law = ligament(0.49)
    one = solid.support(Paraboloid(2.75, 3.5, 15.5), law).stiffness
    other = solid.support(Paraboloid(3.5, 2.75, 15.5), law).stiffness
    turn = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    both = np.kron(np.eye(2), turn)
    assert both @ one @ both.T == pytest.approx(other, rel=1e-9, abs=1e-9 * np.abs(other).max())


@pytest.mark.parametrize("number", [21, 31, 41])
def test_mirrored_teeth(number):
    law = make_ligament("linear")
    plain = make_tooth(number)
    own = solid.support(plain, law).stiffness
    spring = foundation_matrix(plain.surface, law.normal_modulus, law.shear_modulus)
    large = np.abs(spring) > 1e-6 * np.abs(spring).max()
    assert own[large] / spring[large] == pytest.approx(1.0, abs=0.035)
    assert np.abs(own[~large]).max() < 1e-6 * np.abs(spring).max()


def judged(poisson):
    found = solid.support(Paraboloid(2.5, 3.75, 14.0, 0.0, (0.0, 0.0), (0.1, -0.15)), ligament(poisson))
    own = assemble(found.mesh.hexes, element_stiffness(found.strains, elasticity(0.68, poisson)), len(found.mesh.points))
    return found, own


def test_against_felupe(poisson=0.499):
    """FElupe, a general package: its quadratic hexahedron with 2 x 2 x 2 points, the same mesh (run here)."""
    fem = pytest.importorskip("felupe")
    found, own = judged(poisson)
    mesh = fem.Mesh(found.mesh.points, found.mesh.hexes, "hexahedron20")
    region = fem.RegionQuadraticHexahedron(mesh, quadrature=fem.GaussLegendre(order=1, dim=3))
    field = fem.FieldContainer([fem.Field(region, dim=3)])
    matrix = fem.SolidBody(fem.LinearElastic(E=0.68, nu=poisson), field).assemble.matrix()
    assert np.abs(matrix - own).max() < 1e-12 * np.abs(own).max()
    root = fem.Boundary(field[0], fx=0.0, mask=np.isin(np.arange(len(mesh.points)), found.mesh.root))
    held = fem.Boundary(field[0], fx=0.0, mask=np.isin(np.arange(len(mesh.points)), found.mesh.socket))
    free = np.setdiff1d(np.arange(field[0].values.size), np.concatenate([root.dof, held.dof]))
    from scipy.sparse.linalg import spsolve

    given = motion_matrix(found.mesh.points[found.mesh.root]).reshape(-1, 6)
    matrix = matrix.tocsr()
    solved = spsolve(matrix[free][:, free].tocsc(), -(matrix[free][:, root.dof] @ given))
    k = given.T @ (matrix[root.dof][:, root.dof] @ given + matrix[root.dof][:, free] @ solved)
    scale = np.sqrt(np.outer(np.diag(k), np.diag(k)))
    assert np.abs((k - found.stiffness) / scale).max() < 1e-9


@pytest.mark.filterwarnings("ignore")
def test_against_sfepy(poisson=0.499):
    """sfepy, a general package: its serendipity field, curved, with 2 x 2 x 2 points, the same mesh (run here)."""
    pytest.importorskip("sfepy")
    from biomech.solid.judge import sfepy_stiffness

    found, own = judged(poisson)
    matrix = sfepy_stiffness(found.mesh.points, found.mesh.hexes, 0.68, poisson)
    assert np.abs(matrix - own).max() < 1e-12 * np.abs(own).max()
