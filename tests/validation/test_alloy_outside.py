"""Laws and sections against an outside judge: OpenSees (openseespy 3.7.1.2), run here; not needed otherwise.

Its materials: ElasticPP strands in parallel and Steel01 (bilinear, kinematic) for metals that yield, SelfCentering (a flag of two
parallel lines) for superelastic wire with lines of equal slope and one modulus. SelfCentering is exact only in small
steps: what remains falls with the step, and is smallest for ours.
"""

from __future__ import annotations

import numpy as np
import pytest
from laws import bilinear, plateau, superelastic, walk

from biomech.alloys import REGISTRY
from biomech.section import Rectangular, Round
from biomech.wire.fibre_section import FibreSection

try:
    import openseespy.opensees as ops
except (ImportError, RuntimeError):  # it raises RuntimeError where a shared library is missing
    pytest.skip("openseespy is not installed", allow_module_level=True)

PATH = np.concatenate(
    [
        [0.02, 0.04, 0.03, 0.035, 0.02, 0.025, 0.0, -0.03, -0.02, -0.05, 0.05],
        np.random.default_rng(3).uniform(-0.07, 0.07, 30),
    ]
)


def stresses(build, path):
    """Return stress and tangent (p, 2) of their uniaxial material 1."""
    ops.wipe()
    ops.model("basic", "-ndm", 1, "-ndf", 1)
    build()
    ops.testUniaxialMaterial(1)
    out = []
    for strain in path:
        ops.setStrain(float(strain))
        out.append((ops.getStress(), ops.getTangent()))
    return np.array(out).T


def strands(law, tag):
    """Build the strands of a yielding law, in parallel, as material `tag`."""
    for i, (stiffness, limit) in enumerate(zip(*law.strands, strict=True), tag + 1):
        ops.uniaxialMaterial("ElasticPP", i, float(stiffness), float(limit))
    ops.uniaxialMaterial("Elastic", tag + 50, law.hardening)
    ops.uniaxialMaterial("Parallel", tag, *range(tag + 1, tag + 1 + len(law.curve)), tag + 50)


def flag(tag):
    """Build the superelastic set with both lines rising by 80 MPa, as material `tag`; return our law for it."""
    slope = 80 / (80 / 60e3 + 0.07)
    ops.uniaxialMaterial("SelfCentering", tag, 60e3, slope, 520.0, 300 / 520, 0.0, 0.0, 0.0)
    return superelastic(back_finish_stress=220.0)


@pytest.mark.parametrize("name", ["stainless as drawn, yielding", "cobalt-chromium, yielding"])
def test_yielding_alloys(name):
    law = REGISTRY.get(name)
    theirs = stresses(lambda: strands(law, 1), PATH)
    np.testing.assert_allclose(walk(law, PATH)[:2], theirs, atol=1e-8)


def test_bilinear_metal():
    theirs = stresses(lambda: ops.uniaxialMaterial("Steel01", 1, 1000.0, 200e3, 0.05), PATH)
    np.testing.assert_allclose(walk(bilinear(), PATH)[:2], theirs, atol=1e-8)


@pytest.mark.parametrize(("steps", "within"), [(20, 25.0), (2000, 0.5)])
def test_superelastic_wire(steps, within):
    law = superelastic(back_finish_stress=220.0)
    ways = np.linspace(np.append(0.0, PATH[:-1]), PATH, steps + 1)[1:].T.ravel()
    theirs = stresses(lambda: flag(1), ways)[0][steps - 1 :: steps]
    ours = walk(law, PATH)[0]
    np.testing.assert_allclose(ours[:11], theirs[:11], atol=1e-4)  # no step of these crosses a corner
    np.testing.assert_allclose(ours, theirs, atol=within)


WAY = np.array(
    [[1.5, 0.0], [3.0, 0.0], [3.0, 2.0], [5.0, 2.0], [2.0, 1.0], [0.0, 0.0], [-2.0, 1.0], [1.0, -3.0], [0.0, 0.0]]
)
"""Curvatures over that of first yield of each axis: bent one way, then both, let go, bent back."""


def moments(material, section, curvatures, cells):
    """Return N, M2, M3 (p, 3) of their fibre section on the way along `curvatures` (p, 2), free of axial force."""
    ops.wipe()
    ops.model("basic", "-ndm", 3, "-ndf", 6)
    ops.node(1, 0.0, 0.0, 0.0)
    ops.node(2, 0.0, 0.0, 0.0)
    ops.fix(1, 1, 1, 1, 1, 1, 1)
    ops.fix(2, 0, 1, 1, 1, 0, 0)
    material()
    ops.section("Fiber", 1, "-GJ", 1e3)
    h, d = section.height / 2, section.depth / 2
    if isinstance(section, Round):
        ops.patch("circ", 1, 4 * cells, cells, 0.0, 0.0, 0.0, h, 0.0, 360.0)
    else:
        ops.patch("rect", 1, cells, cells, -d, -h, d, h)
    ops.element("zeroLengthSection", 1, 1, 2, 1)
    for tag, axis, values in ((1, 5, curvatures[:, 0]), (2, 6, curvatures[:, 1])):
        ops.timeSeries("Path", tag, "-time", *map(float, range(len(values) + 1)), "-values", 0.0, *map(float, values))
        ops.pattern("Plain", tag, tag)
        ops.sp(2, axis, 1.0)
    ops.constraints("Transformation")
    ops.numberer("Plain")
    ops.system("BandGeneral")
    ops.test("NormUnbalance", 1e-8, 100)
    ops.algorithm("Newton")
    ops.integrator("LoadControl", 1.0)
    ops.analysis("Static")
    out = []
    for _ in curvatures:
        assert ops.analyze(1) == 0
        n, m3, m2, _ = ops.eleResponse(1, "section", "force")
        out.append((n, m2, m3))
    return np.array(out)


def ours(section, law, curvatures, fineness):
    """Return M2, M3 (p, 2) of our fibre section, free of axial force (Newton)."""
    fibres = FibreSection(section, law, fineness=(fineness, 10))
    state, strain, out = fibres.start(), np.zeros(6), []
    for pair in curvatures:
        strain[4:] = pair
        for _ in range(60):
            force, tangent, new = fibres.respond(strain, state)
            if abs(force[0]) < 1e-9:
                break
            strain[0] -= force[0] / tangent[0, 0]
        assert abs(force[0]) < 1e-9
        state = new
        out.append(force[4:])
    return np.array(out)


@pytest.mark.parametrize("section", [Rectangular(0.4826, 0.635), Round(0.4064)], ids=["rectangle", "round"])
@pytest.mark.parametrize("kind", ["plateau", "stainless", "superelastic"])
def test_sections_bent_about_both_axes(section, kind):
    law = {
        "plateau": plateau(), "stainless": REGISTRY.get("stainless as drawn, yielding"),
        "superelastic": superelastic(back_finish_stress=220.0),
    }[kind]  # fmt: skip
    build = {
        "plateau": lambda: ops.uniaxialMaterial("ElasticPP", 1, 60e3, 0.01),
        "stainless": lambda: strands(law, 1), "superelastic": lambda: flag(1),
    }[kind]  # fmt: skip
    first = law._sides[0].there.first if kind == "superelastic" else law.curve[0][0]
    way = WAY * first / np.array([section.height / 2, section.depth / 2])
    steps = 40
    ways = np.linspace(np.vstack([np.zeros(2), way[:-1]]), way, steps + 1)[1:].swapaxes(0, 1).reshape(-1, 2)
    theirs = moments(build, section, ways, 40)[steps - 1 :: steps, 1:]
    for fineness, most in ((16, 0.018), (89, 0.007)):  # as wires use, and finer: the judge has 1600 and 6400 fibres
        got = ours(section, law, way, fineness)
        error = np.linalg.norm((got - theirs) / np.abs(theirs).max(axis=0), axis=-1)
        assert error.max() < most
        assert np.sqrt((error**2).mean()) < 0.6 * most
