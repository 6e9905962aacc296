"""Parts of the HTML report: geometry, charts, scenario text, sensitivities."""

from __future__ import annotations

import base64
import json
import re
import tomllib
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from solved import small

import biomech.report.html as package
from biomech.mechanics.poses import identity
from biomech.outputs import REGISTRY
from biomech.report.html.charts import thinned, ticks
from biomech.report.html.geometry import AROUND_CROWN, carry, magnifications, mesh_data, teeth_data
from biomech.report.html.markup import number, table, tag
from biomech.report.html.mesh_study import views_on
from biomech.report.html.pick import MOST, pick
from biomech.report.html.sensitivity import sensitivity
from biomech.report.html.steps import MOVED, SLIDER, since, steps_of
from biomech.report.html.toml import dump
from biomech.report.html.viewer_data import COLUMNS, shown
from biomech.studies import solve
from biomech.studies.solve import compare_meshes

FOLDER = Path(package.__file__).parent


def test_meshes_are_exact_to_the_step_and_shared():
    tooth = small().teeth[11].part.tooth
    mesh = tooth.crown_surface(AROUND_CROWN).mapped(tooth.signs)
    data = mesh_data(tooth.crown_surface(AROUND_CROWN), tooth.signs)
    places = np.frombuffer(base64.b64decode(data["vertices"]), "<u2").reshape(-1, 3)
    back = np.array(data["low"]) + places * data["step"]
    assert np.abs(back - mesh.vertices).max() <= 0.51 * data["step"] + 1e-6 < 2e-4
    faces = np.frombuffer(base64.b64decode(data["triangles"]), "<u2").reshape(-1, 3)
    assert np.array_equal(faces, mesh.triangles)
    meshes, teeth = teeth_data({n: v.part for n, v in small().teeth.items()})
    assert len(meshes) == 3 and [t["mesh"] for t in teeth] == [0, 1, 2, 2, 1, 0]


_SIMPLE = st.one_of(st.booleans(), st.integers(-(2**53), 2**53), st.floats(allow_nan=False), st.text(),
                   st.dates(), st.times(), st.datetimes())  # fmt: skip
_VALUES = st.recursive(_SIMPLE, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
                       max_leaves=12)  # fmt: skip


@given(st.dictionaries(st.text(), _VALUES, max_size=4))
def test_toml_reads_back_as_written(document):
    assert tomllib.loads(dump(document)) == document


def test_refinement_is_the_studys_own():
    asked = solve(small().scenario.changed({"solve.refinement": True}))
    found = compare_meshes(small().teeth, views_on(small(), 2))
    for name in ("displacement", "force", "moment"):
        assert getattr(found, name) == pytest.approx(getattr(asked.refinement, name), rel=1e-3, abs=1e-9)


def test_toml_refuses_what_it_cannot_write():
    with pytest.raises(TypeError, match="NoneType"):
        dump({"a": None})


def test_since_leaves_an_unmoved_start_alone():
    view = small().teeth[11]
    assert since(view, view.part.pose) is view
    assert since(view, view.part.pose @ identity()).motion == pytest.approx(view.motion, abs=1e-12)


def test_every_output_is_of_the_movement_or_of_the_moment():
    """A new output must be sorted here, so that courses count it from the right start."""
    moment = {"force_N", "force_gf", "bands", "moment_at_bracket_N_mm", "moment_at_resistance_N_mm", "resistance_depth_mm",
              "ligament_pressure_kPa", "moment_to_force_mm"}  # fmt: skip
    assert {key for _, key, _, _ in COLUMNS} == set(SLIDER)
    assert moment.isdisjoint(MOVED) and moment | set(MOVED) == set(REGISTRY.names())


def test_wires_are_carried_by_the_slots():
    points = np.column_stack([np.linspace(0, 10, 11), np.zeros(11), np.zeros(11)])
    rows = carry(points, np.array([[8.0, 1, 0], [2.0, 1, 0]]))
    assert rows[0] == [1, 0, 0.0] and rows[2] == [1, 0, 0.0]
    assert rows[5] == [1, 0, 0.5] and rows[8][2] in (0.0, 1.0) and rows[10] == [1, 0, 1.0]


def test_sensitivity_is_the_derivative():
    """Against central differences of whole solutions whose ligament moduli, or wire's modulus, are 1 % off."""
    solution = small()
    cases = {
        "moduli of all ligaments": ({"ligament.young": 0.05, "ligament.second_young": 0.20}, {"ligament.law": "bilinear"}),
        "Young's modulus of wire 'overlay'": ({"wire.overlay.young": solution.wires["overlay"].part.alloy.young}, {}),
    }
    found = {c.parameter: c for c in sensitivity(solution, 23)}
    for name, (values, extra) in cases.items():
        crowns = []
        for factor in (1.01, 0.99):
            changed = {k: f"{factor * v:.8f} MPa" for k, v in values.items()}
            solved = solve(solution.scenario.changed({**extra, **changed, "solve.tolerance": 1e-11}))
            crowns.append(solved.tooth(23)["crown_mm"]["buccal"])
        difference = (crowns[0] - crowns[1]) / 0.02
        assert found[name].crown == pytest.approx(difference, rel=2e-2), name


@given(st.floats(-1e4, 1e4), st.floats(1e-5, 1e4))
def test_ticks_enclose_and_are_few(low, span):
    found = ticks(low, low + span)
    slack = 1e-6 * (abs(low) + span)
    assert found[0] <= low + slack and found[-1] >= low + span - slack and 2 <= len(found) <= 9


@given(st.lists(st.floats(-100, 100), min_size=2, max_size=60))
def test_a_thinned_line_goes_where_the_whole_one_went(heights):
    points = [(float(i), y) for i, y in enumerate(heights)]
    kept = thinned(points, 0.5)
    assert kept[0] == points[0] and kept[-1] == points[-1] and set(kept) <= set(points)
    for (x0, y0), (x1, y1) in pairwise(kept):
        for x, y in points[int(x0) : int(x1) + 1]:
            off = abs((x1 - x0) * (y0 - y) - (x0 - x) * (y1 - y0)) / np.hypot(x1 - x0, y1 - y0)
            assert off <= 0.5 + 1e-9


def test_sheets_are_chosen_without_script():
    sheets = [(str(n), tag("p", f"sheet {n}")) for n in range(MOST)]
    text = pick("one", "Tooth", sheets, 3)
    assert re.findall(r'id="(one-\d+)"[^>]* checked', text) == ["one-3"] and text.count('class="sheet"') == MOST
    style = (FOLDER / "data" / "style.css").read_text(encoding="utf-8")
    for i in range(1, MOST + 1):
        assert f".pick > input:nth-of-type({i}):checked ~ .sheet:nth-of-type({i})" in style
    with pytest.raises(ValueError, match="17 sheets"):
        pick("many", "Tooth", [("x", tag("p"))] * 17)
    assert "radio" not in pick("single", "Tooth", sheets[:1])


def test_magnification_shows_the_movement():
    factors, at = magnifications(0.1)
    assert factors[at] == 20 and factors[0] == 1
    assert magnifications(30.0) == ([1], 0)
    assert magnifications(0.0)[1] == len(magnifications(0.0)[0]) - 1


def test_numbers_and_markup():
    assert number(-0.0001, 2) == "0.00" and number(-1.5, 1) == "−1.5" and number(None) == "–"
    assert tag("a", "<&>", href='"', class_="x", hidden=True) == '<a href="&quot;" class="x" hidden>&lt;&amp;&gt;</a>'
    assert "<th scope=\"row\">1</th>" in table("c", [[("t", 1), ("v", 1)]], [["1", "2"]])
    assert shown(steps_of([("x", small())])[0], 11)[0] == "not moved"


def test_viewer_is_committed_with_its_licence_and_no_addresses():
    licence = (FOLDER / "data" / "viewer.LICENSE.txt").read_text(encoding="utf-8")
    assert "three.js" in licence and "MIT" in licence
    wanted = json.loads((FOLDER / "viewer" / "package.json").read_text(encoding="utf-8"))["devDependencies"]["three"]
    assert f"three.js {wanted}:" in licence
    lock = (FOLDER / "viewer" / "package-lock.json").read_text(encoding="utf-8")
    assert '"resolved"' not in lock and "://" not in re.sub(r'"(url|funding)": [^\n]*', "", lock)
