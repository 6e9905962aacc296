"""Sections of teeth in the report: silhouettes, and arrows and arcs in proportion to forces and moments."""

from __future__ import annotations

import math
import re
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from solved import held, small

from biomech.report.html.profile import silhouette
from biomech.report.html.tooth_section import LONGEST, RADIUS, SWEEP, arc, arrow, outlines, sections
from biomech.tooth.meshes import Mesh, merge
from biomech.tooth.model import make_tooth


def ball(centre, radius, around=40):
    """A sphere of triangles."""
    a, b = np.meshgrid(np.linspace(0, 2 * np.pi, around, endpoint=False), np.linspace(0.0, np.pi, around), indexing="ij")
    points = np.stack([np.cos(a) * np.sin(b), np.sin(a) * np.sin(b), np.cos(b)], axis=-1)
    at = np.arange(around * around).reshape(around, around)
    here, east = at[:, :-1].ravel(), np.roll(at, -1, axis=0)[:, :-1].ravel()
    faces = np.concatenate([np.column_stack([here, here + 1, east]), np.column_stack([east, here + 1, east + 1])])
    return Mesh(np.asarray(centre) + radius * points.reshape(-1, 3), faces.astype(np.int64))


def area(strips):
    return sum(float(np.trapezoid(s.right - s.left, s.z)) for s in strips)


def test_silhouette_of_a_ball_is_its_disc():
    strips = silhouette(ball((5.0, 1.0, 2.0), 3.0), 0.1)
    assert len(strips) == 1 and area(strips) == pytest.approx(np.pi * 9.0, rel=0.01)
    middle = np.abs(strips[0].z - 2.0).argmin()
    assert (strips[0].left[middle], strips[0].right[middle]) == pytest.approx((-2.0, 4.0), abs=0.03)


def test_pieces_apart_stay_apart_and_those_that_overlap_join():
    apart = silhouette(merge([ball((0, 0, 0), 1.0), ball((9.0, 4.0, 0), 1.0)]), 0.05)
    assert area(apart) == pytest.approx(2 * np.pi, rel=0.01) and len(apart) == 2
    behind = silhouette(merge([ball((0, 0, 0), 1.0), ball((9.0, 0.0, 0), 1.0)]), 0.05)
    assert area(behind) == pytest.approx(np.pi, rel=0.01)


def test_roots_of_a_molar_are_two_pieces_and_of_an_incisor_one():
    for number, most in ((16, 2), (11, 1)):
        tooth = make_tooth(number)
        root = dict(outlines(tooth))["rootbody"]
        deep = 0.8 * min(abs(float(p[2])) for k, p in tooth.landmarks.items() if k.startswith("apex"))
        there = [s for s in root if min(abs(s.z)) <= deep <= max(abs(s.z))]
        assert len(there) == most
        ends = [tooth.root_surface(24).vertices[:, 1].min(), tooth.root_surface(24).vertices[:, 1].max()]
        assert min(s.left.min() for s in root) == pytest.approx(ends[0], abs=0.05)
        assert max(s.right.max() for s in root) == pytest.approx(ends[1], abs=0.05)


def angle_of(pieces, centre):
    """The angle (degrees, anticlockwise as seen, positive) that an arc sweeps, head and all."""
    path, head = (re.search(r'(?: d| points)="([^"]+)"', str(piece))[1] for piece in pieces)
    x0, y0, _, _, _, large, way, x1, y1 = (float(v) for v in re.findall(r"-?[\d.]+", path))
    tip = [float(v) for v in head.split()[0].split(",")]
    start, base, end = (math.degrees(math.atan2(-(y - centre[1]), x - centre[0])) for x, y in ((x0, y0), (x1, y1), tip))
    shaft = (start - base if way else base - start) % 360.0
    assert (shaft > 180.0) == bool(large) or abs(shaft - 180.0) < 2.0
    rest = (base - end if way else end - base) % 360.0
    return (shaft + rest) * (-1 if way else 1)


@given(st.floats(2.0, 300.0), st.booleans())
def test_arcs_sweep_in_proportion(degrees, clockwise):
    sign = -1 if clockwise else 1
    assert angle_of(list(arc(np.array([300.0, 200.0]), sign * degrees, "given")), (300.0, 200.0)) == pytest.approx(
        sign * degrees, abs=0.6
    )  # places are rounded to a tenth: 0.26 degrees each


def test_a_small_moment_looks_small():
    path = str(next(arc(np.array([0.0, 0.0]), SWEEP * 0.6 / 27.7, "given")))
    assert len(re.findall(r"-?[\d.]+", re.search(r' d="([^"]+)"', path)[1])) == 9
    (head,) = list(arc(np.array([0.0, 0.0]), SWEEP * 0.6 / 27.7, "given"))[1:]
    points = np.array([[float(v) for v in p.split(",")] for p in re.search(r'points="([^"]+)"', str(head))[1].split()])
    assert np.ptp(points, axis=0).max() < RADIUS * math.radians(SWEEP) * 0.6 / 27.7 + 0.2


@cache
def drawn():
    return sections(small())


def drawing(n):
    return re.search(rf"<title>Section of tooth {n}</title>(.*?)</svg>", drawn(), re.DOTALL)[1]


def test_forces_of_all_teeth_have_one_scale():
    sizes = {n: float(np.linalg.norm(v.wrench[1:3])) for n, v in small().teeth.items()}
    largest = max(sizes.values())
    for n, size in sizes.items():
        shaft = re.search(r'<line class="shaft given" x1="([-\d.]+)" y1="([-\d.]+)"', drawing(n))
        foot = np.array([float(v) for v in shaft.groups()])
        tip = np.array([float(v) for v in re.search(r'class="head given" points="([-\d.]+),([-\d.]+)', drawing(n)).groups()])
        assert np.linalg.norm(tip - foot) == pytest.approx(LONGEST * size / largest, abs=0.2)
        way = small().teeth[n].wrench[1:3] / size * [1.0, -1.0]
        assert (tip - foot) / np.linalg.norm(tip - foot) == pytest.approx(way, abs=0.02)


def test_numbers_beside_a_section_are_the_solvers():
    for n, view in small().teeth.items():
        torque = view.turns(view.moment_at(view.bracket))["torque"]
        moved = view.turns(view.moment_at(view.centre.point))["torque"]
        text = re.sub("<[^>]+>", "|", drawing(n)).replace("\u2212", "-")
        assert float(re.search(r"torque at the bracket\|+([-+\d.]+) N", text)[1]) == pytest.approx(torque, abs=0.051)
        assert float(re.search(r"the same force and ([-+\d.]+) N", text)[1]) == pytest.approx(moved, abs=0.051)
        assert small().tooth(n)["movement"] in text


def test_teeth_held_rigidly_have_a_section_without_centres():
    text = sections(held())
    assert "held rigidly: none" in text and "centre of rotation below" not in text and 'class="cross"' not in text


def test_an_arrow_is_no_longer_than_it_should_be():
    line, head = (str(p) for p in arrow(np.zeros(2), np.array([3.0, 4.0]), "given"))
    assert 'points="3.0,4.0' in head and 'x1="0.0" y1="0.0"' in line
