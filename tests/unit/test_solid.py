"""Solid ligament: meshes, the middle layer, bad input."""

import numpy as np
import pytest

from biomech import solid
from biomech.errors import InputError
from biomech.ligaments import make_ligament
from biomech.solid.grid import core, disk, ring_radii
from biomech.solid.kernel import elasticity, strain_matrices
from biomech.solid.loaded import under_wrench
from biomech.solid.mesh import ligament_mesh
from biomech.solid.surface import root_grid
from biomech.tooth import make_tooth
from biomech.tooth.layer.supports import Profile
from biomech.tooth.roots import Paraboloid

ROOT = Paraboloid(2.5, 3.5, 13.0, 1.5, (0.2, -0.1), (0.1, -0.2))
LAW = make_ligament("linear", poisson=0.45)


def test_grid_of_the_disk():
    grid = disk(3, ring_radii(5, 1.4))
    assert len(grid.quads) == 3 * 3 + 5 * 12
    assert len(np.unique(grid.quads)) == len(grid.points)
    assert np.hypot(*grid.points.T).max() == pytest.approx(1.0)
    corners = grid.points[grid.quads[:, :4]]
    side = np.roll(corners, -1, axis=1) - corners
    turn = np.roll(side, -1, axis=1)
    assert (side[..., 0] * turn[..., 1] - side[..., 1] * turn[..., 0] > 0.0).all()


def test_nodes_on_the_true_surfaces():
    grid = root_grid(ROOT)
    mesh = ligament_mesh(grid, Profile(0.25))

    def outside(points):  # 0 on the paraboloid
        down = points[:, 2] - ROOT.top
        x = points[:, 0] - ROOT.centre[0] - ROOT.slope[0] * down
        y = points[:, 1] - ROOT.centre[1] - ROOT.slope[1] * down
        return (x / ROOT.a) ** 2 + (y / ROOT.b) ** 2 + down / ROOT.length - 1.0

    assert np.abs(outside(mesh.points[mesh.root])).max() < 1e-12
    gap = np.linalg.norm(mesh.points[mesh.socket] - mesh.points[mesh.root], axis=1)
    assert gap == pytest.approx(0.25)
    assert grid.points[:, 2].max() == pytest.approx(ROOT.top + ROOT.length)
    assert grid.points[:, 2].min() == pytest.approx(ROOT.top)


def test_volume_is_area_times_thickness_plus_curvature():
    """Steiner's formula: the volume is A t + H t^2 + ..., so that halving t leaves A from two thicknesses."""
    grid = root_grid(ROOT, 2.0)
    volume = [strain_matrices(m.points, m.hexes, 3).volumes.sum() / t for t in (0.02, 0.04)
              for m in [ligament_mesh(grid, Profile(t))]]  # fmt: skip
    assert 2.0 * volume[0] - volume[1] == pytest.approx(ROOT.surface(20, 48).area, rel=3e-5)


def test_hourglass_keeps_the_mean_and_the_published_range():
    share = np.linspace(0.0, 1.0, 2001)
    found = Profile(0.227, 0.66).at(share)
    assert found.mean() == pytest.approx(0.227, rel=1e-3)
    assert [found.min(), found.max()] == pytest.approx([0.15, 0.38], rel=0.01)  # 0.15 to 0.38 mm: from memory
    stiff = [solid.support(ROOT, LAW, waist=w, fineness=0.5).stiffness[1, 1] for w in (1.0, 0.66)]
    assert stiff[0] != pytest.approx(stiff[1], rel=0.01)


def test_middle_layer_balances_the_load():
    """The traction on the middle surface carries the wrench, but for the free rim's share (half a thickness)."""
    support = solid.support(ROOT, LAW)
    wrench = np.array([[0.0, 1.0, 0.0, 6.0, 0.0, 0.0], [0.3, 0.0, 1.0, 0.0, 0.0, 2.0]])
    layer = solid.stresses(support, support.motion(wrench))
    assert layer.hydrostatic.shape == (2, len(layer.weights))
    assert layer.principal.shape == (2, len(layer.weights), 3)
    assert (np.diff(layer.principal, axis=-1) <= 0.0).all()
    assert layer.principal.mean(axis=-1) == pytest.approx(layer.hydrostatic)
    assert layer.area == pytest.approx(ROOT.grown(0.1).surface(20, 48).area, rel=0.015)
    pull = layer.normal[0] @ (layer.weights * layer.normals[:, 1])
    assert 0.7 < -pull < 1.0  # the rest is carried by shear
    assert 0.0 <= layer.height.min() < 0.1 and 12.9 < layer.height.max() < 13.1
    assert layer.angle.min() < -3.0 and layer.angle.max() > 3.0


def test_percentiles_by_area():
    layer = solid.stresses(solid.support(ROOT, LAW, fineness=0.5), np.array([0.0, 1e-3, 0.0, 0.0, 0.0, 0.0]))
    low, high = layer.percentile(layer.shear, 0.05), layer.percentile(layer.shear, 0.95)
    assert layer.weights[layer.shear <= high].sum() == pytest.approx(0.95 * layer.area, rel=0.03)
    assert low < layer.mean(layer.shear) < high < layer.shear.max()
    with pytest.raises(InputError, match="share = 95"):
        layer.percentile(layer.shear, 95)


@pytest.mark.parametrize("layers", [1, 3])
def test_layers(layers):
    one = solid.support(ROOT, LAW, layers=layers, fineness=0.75)
    two = solid.support(ROOT, LAW, fineness=0.75)
    assert np.diag(one.stiffness) == pytest.approx(np.diag(two.stiffness), rel=0.004)
    q = np.array([0.0, 1e-3, 0.0, 0.0, 0.0, 0.0])
    found, plain = (solid.stresses(s, q) for s in (one, two))
    assert found.percentile(found.normal, 0.95) == pytest.approx(plain.percentile(plain.normal, 0.95), rel=0.02)


WRONG = {
    "negative thickness": (lambda: make_ligament("linear", thickness=-0.2), "thickness = -0.2.*allowed: 0.02 to 1"),
    "nu of a half": (lambda: make_ligament("linear", poisson=0.5), "poisson = 0.5 cannot be used; allowed: 0 to 0.49"),
    "modulus of a half": (lambda: elasticity(1.0, 0.5), "allowed: young above 0, poisson above -1 and below 0.5"),
    "crest below apex": (lambda: make_tooth(11, bone_level=14.0), "tooth 11: bone level 14 mm.*allowed: less than 13"),
    "thick as a root": (lambda: Profile(-0.1), "thickness = -0.1.*allowed: above 0"),
    "waist": (lambda: solid.support(ROOT, LAW, waist=2.0), "waist = 2.0.*allowed: 0.1 to 1.4"),
    "fineness": (lambda: solid.support(ROOT, LAW, fineness=0.0), "fineness = 0.0.*allowed: 0.25 to 8"),
    "layers": (lambda: solid.support(ROOT, LAW, layers=0), "0 layers.*allowed: 1, 2, 3"),
    "elements": (lambda: core(0), "0 elements across.*allowed: 1, 2, 3"),
    "motion": (lambda: solid.stresses(solid.support(ROOT, LAW, fineness=0.25), np.zeros(5)), "six finite"),
    "wrench": (lambda: under_wrench(solid.support(ROOT, LAW, fineness=0.25), np.full(6, np.nan)), "six finite"),
}


@pytest.mark.parametrize("case", WRONG)
def test_wrong_input(case):
    do, text = WRONG[case]
    with pytest.raises(InputError, match=text):
        do()


def test_element_inside_out_is_named_with_its_place():
    mesh = ligament_mesh(root_grid(ROOT, 0.5), Profile(0.2))
    points = mesh.points.copy()
    points[mesh.hexes[7, 4:8]] -= 3.0 * (points[mesh.hexes[7, 4:8]] - points[mesh.hexes[7, :4]])
    with pytest.raises(InputError, match=r"elements are turned inside out, first element \d+ at \(.*\) mm"):
        strain_matrices(points, mesh.hexes)
