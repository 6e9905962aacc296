"""Teeth by number: signs, landmarks, sizes, pictures, and refusals."""

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.errors import InputError
from biomech.tooth import make_tooth
from biomech.tooth.anatomy import KINDS, NUMBERS, anatomy

every = pytest.mark.parametrize("number", NUMBERS)


def volume(mesh):
    a, b, c = (mesh.vertices[mesh.triangles[:, i]] for i in range(3))
    return np.einsum("fi,fi->", a, np.cross(b, c)) / 6


def test_there_are_28_teeth_of_14_kinds_each_saying_how_far_it_was_seen():
    assert len(NUMBERS) == 28 and len(KINDS) == 14
    assert all(row.seen.strip() for row in KINDS.values())


@every
def test_apices_and_edges_lie_where_the_jaw_says(number):
    tooth = make_tooth(number)
    up = 1 if number < 30 else -1
    assert tooth.landmark("apex")[2] * up > 8 and tooth.landmark("edge")[2] * up == -tooth.crown_length
    assert tooth.landmark("bracket")[1] > 2.0
    assert tooth.landmark("bracket")[2] * up == pytest.approx(tooth.bracket_height - tooth.crown_length)
    assert tooth.landmark("crest")[2] * up == 1.5
    assert np.all(tooth.surface.points[:, 2] * up > 1.5)


@every
def test_mesial_points_to_the_midline_along_the_arch(number):
    tooth = make_tooth(number)
    assert tooth.direction("mesial")[0] == (1 if number // 10 in (1, 4) else -1)
    assert np.allclose(tooth.direction("occlusal"), [0, 0, -1 if number < 30 else 1])
    assert np.allclose(tooth.direction("palatal"), [0, -1, 0])


@every
def test_normals_point_out_of_the_root_on_both_sides_of_the_mouth(number):
    s = make_tooth(number).surface
    assert np.allclose(np.linalg.norm(s.normals, axis=1), 1)
    apical = s.normals[:, 2] * (1 if number < 30 else -1)
    assert s.weights @ apical > 5.0
    if not anatomy(number).roots:
        assert np.all((s.normals * s.points)[:, :2].sum(axis=1) > 0)


@pytest.mark.parametrize("position", range(1, 8))
@pytest.mark.parametrize(("right", "left"), [(10, 20), (40, 30)])
def test_left_teeth_mirror_right_ones(position, right, left):
    a, b = make_tooth(right + position), make_tooth(left + position)
    mirror = np.array([-1.0, 1.0, 1.0])
    assert np.allclose(a.surface.points * mirror, b.surface.points)
    assert np.allclose(a.surface.normals * mirror, b.surface.normals)
    assert all(np.allclose(a.landmark(key) * mirror, b.landmark(key)) for key in a.landmarks)


@every
@pytest.mark.parametrize("part", ["crown_surface", "root_surface"])
def test_meshes_turn_outwards_and_are_closed_but_for_their_cervix(number, part):
    mesh = getattr(make_tooth(number), part)()
    assert volume(mesh) > 50
    edges = Counter()
    for t in mesh.triangles:
        edges.update({(t[0], t[1]): 1, (t[1], t[2]): 1, (t[2], t[0]): 1})
    assert max(edges.values()) == 1, "an edge is run twice in the same sense"
    rim = {v for (a, b) in edges if (b, a) not in edges for v in (a, b)}
    roots = anatomy(number).roots if part == "root_surface" else ()
    levels = {round(abs(float(mesh.vertices[v, 2])), 6) for v in rim}
    assert levels == ({0.0, anatomy(number).furcation} if roots else {0.0})


@every
def test_the_drawn_crown_has_the_measured_size_and_carries_its_landmarks(number):
    tooth = make_tooth(number)
    v = tooth.crown_surface(96).vertices
    size = np.ptp(v, axis=0)
    assert size[0] == pytest.approx(tooth.anatomy.md_crown, rel=0.02)
    assert size[1] == pytest.approx(tooth.anatomy.bl_crown, rel=0.02)
    assert size[2] == pytest.approx(tooth.crown_length, rel=0.02)
    for name in {"edge", "bracket", "palatal cusp", "lingual cusp"} & set(tooth.landmarks):
        assert np.linalg.norm(v - tooth.landmark(name), axis=1).min() < 0.6, name


def test_molars_name_their_roots_and_furcation():
    upper = set(make_tooth(16).landmarks)
    assert {"apex mesiobuccal", "apex distobuccal", "apex palatal", "furcation"} <= upper
    assert {"apex mesial", "apex distal", "lingual cusp"} <= set(make_tooth(36).landmarks)
    tooth = make_tooth(26)
    apices = [tooth.landmark(k) for k in tooth.landmarks if k.startswith("apex ")]
    assert np.allclose(np.mean(apices, axis=0), tooth.landmark("apex"))


@settings(max_examples=40, deadline=None)
@given(number=st.sampled_from(NUMBERS), low=st.floats(0, 8), more=st.floats(0.2, 2))
def test_bone_loss_takes_support_away(number, low, more):
    good, worse = make_tooth(number, bone_level=low), make_tooth(number, bone_level=low + more)
    assert worse.surface.area < good.surface.area
    assert worse.embedded_length == pytest.approx(good.embedded_length - more)


@every
def test_bone_at_the_furcation_is_passed_without_a_jump(number):
    level = anatomy(number).furcation
    if level:
        above, below = (make_tooth(number, bone_level=level + d).surface.area for d in (-1e-6, 1e-6))
        assert above == pytest.approx(below, rel=1e-4)


def test_sizes_can_be_given():
    tooth = make_tooth(16, root_length=10.0, crown_length=8.0, bracket_height=4.0, bone_level=2.0)
    assert tooth.embedded_length == 8.0
    assert tooth.landmark("apex palatal")[2] == pytest.approx(10.0)
    assert tooth.landmark("apex mesiobuccal")[2] == pytest.approx(12 / 13 * 10.0)
    assert tooth.landmark("bracket")[2] == pytest.approx(-4.0)


@pytest.mark.parametrize(
    ("number", "sizes", "text"),
    [
        (19, {}, "tooth number 19"),
        (18, {}, "allowed: 11 to 17"),
        (11.5, {}, r"tooth number 11\.5"),
        (True, {}, "tooth number True"),
        (11, {"bone_level": -1.0}, "tooth 11: bone_level = -1"),
        (11, {"bone_level": 13.0}, "tooth 11: bone level 13 mm.*a root outside the bone"),
        (16, {"bone_level": 12.5}, "tooth 16: bone level 12.5 mm.*a root outside the bone"),
        (11, {"root_length": float("nan")}, "root_length = nan"),
        (16, {"root_length": 5.0}, "does not reach past the furcation"),
        (11, {"crown_length": float("inf")}, "crown_length = inf"),
        (11, {"crown_length": 4.0}, "bracket_height = 5 mm is not on the crown"),
        (11, {"ligament_thickness": 3.0}, "ligament_thickness = 3"),
        (11, {"fineness": 0}, "fineness = 0"),
    ],
)
def test_bad_teeth_are_refused(number, sizes, text):
    with pytest.raises(InputError, match=text):
        make_tooth(number, **sizes)


def test_unknown_words_name_the_known_ones():
    tooth = make_tooth(36)
    with pytest.raises(InputError, match=r"has no landmark 'apex mesal'.*Did you mean 'apex mesial'"):
        tooth.landmark("apex mesal")
    with pytest.raises(InputError, match="Did you mean 'buccal'"):
        tooth.direction("bucal")
