"""Solid ligaments of roots given as triangles: against hexahedra grown from the formula, and published bands."""

from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from biomech import solid
from biomech.ligaments import make_ligament
from biomech.solid.support import of_mesh
from biomech.solid.surface import normals, root_grid
from biomech.solid.thinning import thinned
from biomech.solid.triangles import triangle_mesh
from biomech.surfaces import Source, mesh_tooth
from biomech.tooth import make_tooth
from biomech.tooth.layer.supports import Profile, surface_support
from biomech.tooth.layer.triangles import check_rim
from biomech.tooth.resistance import centre_of_resistance
from biomech.tooth.roots import Paraboloid, RootMesh

MESHES = Path(__file__).parents[2] / "meshes"
ROOT = Paraboloid(2.75, 3.5, 13.0)
THICK = 0.2


def triangulated(fineness=1.5):
    """The middle of the ligament of ROOT: its grid's corners, each quadrilateral cut in two."""
    grid = root_grid(ROOT, fineness)
    corners, faces = np.unique(grid.quads[:, :4], return_inverse=True)
    faces = faces.reshape(-1, 4)
    on = grid.points[corners]
    place = on[:, :2] / [ROOT.a, ROOT.b]
    outward = normals(ROOT, place)
    rim = np.flatnonzero(on[:, 2] < 1e-9)
    triangles = np.concatenate([faces[:, [0, 1, 2]], faces[:, [0, 2, 3]]])
    return RootMesh(on + 0.5 * THICK * outward, triangles, rim, outward)


def test_triangles_agree_with_the_structured_mesh():
    poisson = 0.49
    law = make_ligament("linear", young=0.68, poisson=poisson, thickness=THICK)
    own = solid.support(ROOT, law).stiffness
    found = of_mesh(triangle_mesh(triangulated(), Profile(THICK)), law, np.ones(3)).stiffness
    scale = np.sqrt(np.outer(np.diag(own), np.diag(own)))
    assert np.abs((found - own) / scale).max() < 0.005


def test_thinning_leaves_a_surface_with_the_same_rim():
    root = triangulated(3.0)
    found = thinned(root, 0.4)
    check_rim(found)
    assert len(found.faces) < 0.6 * len(root.faces)
    assert len(found.vertices) - 1.5 * len(found.faces) + len(found.faces) == pytest.approx(1 + 0.5 * len(found.rim))
    assert np.abs(found.vertices[found.rim][:, 2] - root.vertices[root.rim][:, 2].mean()).max() < 0.05
    assert np.linalg.norm(found.normals, axis=1) == pytest.approx(1.0)


in_solid = lru_cache(solid.support)


@lru_cache
def tooth(file, number):
    way = (0.0, 0.0, 1.0 if number < 30 else -1.0)
    source = Source(MESHES / file, unit="mm", long_axis=way, buccal=(0.0, -1.0, 0.0), cej=(0.0, 0.0, 0.0))
    return mesh_tooth(number, source, bone_level=1.5)


@pytest.mark.parametrize("file, number, poisson", [("upper-molar.ply", 16, 0.45), ("lower-incisor.ply", 41, 0.3)])
def test_solid_and_surface_model_of_a_mesh_tooth(file, number, poisson):
    """Within 1.5 % on forces and 0.1 mm on the planar centres: two models of one ligament, computed independently."""
    one = tooth(file, number)
    law = make_ligament("linear", young=0.68, poisson=poisson)
    own, film = in_solid(one, law), surface_support(one, law)
    assert np.diag(own.stiffness)[:3] == pytest.approx(np.diag(film.stiffness)[:3], rel=0.015)
    a, b = (centre_of_resistance(s.stiffness) for s in (own, film))
    for plane in ("buccolingual", "mesiodistal"):
        assert a.planar[plane].point == pytest.approx(b.planar[plane].point, abs=0.1)
        assert a.planar[plane].sigma_squared == pytest.approx(b.planar[plane].sigma_squared, rel=0.03)


@pytest.mark.parametrize("poisson, inside, share", [(0.3, 0.015, 0.005), (0.49, 0.05, 0.005)])
def test_stress_across_the_layer_is_the_pressure_of_the_surface_model(poisson, inside, share):
    """Point by point away from rim and apex, over the largest pressure, and by area: two models, one motion."""
    canine = make_tooth(13)
    law = make_ligament("linear", young=0.68, poisson=poisson)
    own = solid.support(canine, law)
    q = own.motion([0.0, 1.0, 0.0, -12.0, 0.0, 0.0])
    layer = solid.stresses(own, q)
    pressure = surface_support(canine, law).pressure_near(layer.points, q)
    away = np.abs(layer.normal + pressure)[(layer.height > 0.5) & (layer.height < 0.93 * layer.height.max())]
    assert away.max() < inside * np.abs(pressure).max()
    for part in (0.05, 0.95):
        assert layer.percentile(layer.normal, part) == pytest.approx(layer.percentile(-pressure, part), rel=share)


def test_hourglass_in_both_models():
    canine, law = make_tooth(13), make_ligament("linear", young=0.68, poisson=0.49, thickness=0.227)
    own, film = solid.support(canine, law, waist=0.66), surface_support(canine, law, 0.66)
    assert np.diag(own.stiffness) == pytest.approx(np.diag(film.stiffness), rel=0.016)


def test_three_rooted_molar_and_its_trifurcation():
    """Band: 0.136 +- 1.51 mm lingual, 1.48 +- 2.26 distal, 0.188 +- 1.75 gingival of the trifurcation; 50 teeth.

    Upper first molars, finite elements on computed tomograms, AJODO, "Where is the center of resistance of a maxillary
    first molar" (abstract only). Two standard deviations; the roof of our furcation stands 4.2 mm below the junction.
    """
    molar = tooth("upper-molar.ply", 16)
    found = in_solid(molar, make_ligament("linear", young=0.68, poisson=0.45))
    mesial, buccal, apical = centre_of_resistance(found.stiffness).point * molar.signs
    assert -buccal == pytest.approx(0.136, abs=2 * 1.51)
    assert -mesial == pytest.approx(1.48, abs=2 * 2.26)
    assert apical - molar.anatomy.furcation == pytest.approx(0.188, abs=2 * 1.75)
    layer = solid.stresses(found, found.motion([0.0, 1.0, 0.0, 0.0, 0.0, 0.0]))
    assert layer.area == pytest.approx(molar.surface.weights.sum(), rel=0.01)
