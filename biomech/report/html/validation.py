"""What the program's own tests compare with results from outside: what, with what, and how well they must agree."""

from __future__ import annotations

from typing import NamedTuple

from biomech.report.html.markup import Raw, table

CLOSED, OTHER, PUBLISHED, IDENTITY, BAND = (
    "closed form", "another program or solver", "published values", "identity or symmetry", "plausibility band"
)  # fmt: skip
"""Kinds of truth, from the strictest kind of evidence on; a band can only be missed badly."""


class Compared(NamedTuple):
    """One comparison: `part` of the program, `what` with `what_with` of which `kind`, `within` what they must agree.

    `test` is the file of the test and `bound` the bound as it stands there.
    """

    part: str
    what: str
    what_with: str
    kind: str
    within: str
    test: str
    bound: str


COMPARED = (
    Compared("wires", "large bending of a straight wire", "elastica", CLOSED, "0.2 %",
             "test_beam_elastica.py", "rel=2e-3"),
    Compared("wires", "column buckled up to three times beyond Euler's load: how far it turns", "elastica", CLOSED,
             "1 %", "test_beam_stability.py", "rel=0.01"),
    Compared("wires", "curved cantilever bent into space (45 degrees, 32 elements)",
             "shooting solution of the rod equations, computed", OTHER, "0.002 %", "test_beam_arc.py", "2e-5"),
    Compared("wires", "the same", "Bathe and Bolourchi 1979", PUBLISHED, "1 %", "test_beam_arc.py", "0.01 *"),
    Compared("wires", "quarter circle and horseshoe under small loads", "Castigliano", CLOSED, "0.1 and 0.5 %",
             "test_beam_curved.py", "rel=0.005"),
    Compared("wires", "two wires tied together on twelve teeth: displacements", "a general multibody engine", OTHER,
             "0.05 % of the largest", "test_beam_outside.py", "5e-4"),
    Compared("wires", "the same, buckled out of its plane: energy", "separate minimisation, extrapolated", OTHER,
             "0.1 %", "test_beam_buckling_arch.py", "rel=1e-3"),
    Compared("wires", "rates of wires in three-point bending", "48 E I / L³", CLOSED, "0.1 %",
             "test_beam_springs.py", "rel=1e-3"),
    Compared("wires", "six classes of two-bracket force systems: moment ratio and force",
             "slopes and deflections of a beam", CLOSED, "0.002 %", "test_beam_springs.py", "abs=2e-5"),
    Compared("wires", "V bend: ratio of the moments", "Burstone and Koenig 1988, table seen in part", PUBLISHED,
             "0.05", "test_beam_springs.py", "abs=0.05"),
    Compared("wires", "torsion constant of rectangles", "Saint-Venant's series", CLOSED, "0.00001 of a b³",
             "test_sections.py", "abs=1e-5"),
    Compared("wires", "sections with rounded edges: bending, torsion, peak stress", "a finite-element section program",
             OTHER, "0.05, 0.1 and 2 %", "test_sections.py", "rel=2e-2"),
    Compared("wires", "whole arches: the wires' forces add up to nothing", "action and reaction", IDENTITY,
             "1e-8 of their size", "test_arch_balance.py", "< 1e-8"),
    Compared("wires", "whole arches: every element halved, and again", "themselves", IDENTITY,
             "0.2 %, and less each time", "test_arch_mesh.py", "first < 2e-3"),
    Compared("wires", "derivatives of crown displacements in a whole arch", "differences of full solutions", IDENTITY,
             "0.01 %", "test_arch_sensitivity.py", "1e-4 * scale"),
    Compared("memory", "superelastic law: corner points of its loop, energy", "kinetics of the law by hand", CLOSED,
             "0.0001 %", "test_alloy_superelastic.py", "rtol=1e-6"),
    Compared("memory", "metals that yield, along a random path", "a general finite-element program", OTHER, "1e-8 MPa",
             "test_alloy_outside.py", "atol=1e-8"),
    Compared("memory", "sections by fibres bent about both axes, as wires use them", "the same, with 1600 fibres",
             OTHER, "1.8 % of the largest moment", "test_alloy_outside.py", "0.018"),
    Compared("memory", "cantilever bent beyond yield, and let go", "plastic bending of a rectangle", CLOSED,
             "0.2 and 0.5 %", "test_fibre_rod.py", "rel=5e-3"),
    Compared("memory", "unloading forces of superelastic wires", "typical bands, from memory, order only", BAND,
             "inside", "test_bench.py", "low <= curve.on(1, 2.0) <= high"),
    Compared("teeth", "support of paraboloid roots on springs", "integrals of the root's surface", CLOSED, "0.001 %",
             "test_root_support.py", "rtol=1e-5"),
    Compared("teeth", "springs on a paraboloid root up to a Poisson's ratio of 0.45", "solid ligament, converged",
             OTHER, "3 %", "test_ligament_values.py", "rtol=0.03"),
    Compared("teeth", "M/F for translation and for tipping about the apex", "derived values of a paraboloid", CLOSED,
             "0.006 mm", "test_ratios.py", "abs=0.006"),
    Compared("teeth", "a tooth translates when M/F is the distance from bracket to centre of resistance",
             "definition of that centre", IDENTITY, "crown and apex to 1e-5 alike",
             "test_arch_resistance.py", "< 1e-5"),
    Compared("teeth", "centre of resistance of the upper incisor, share of the root in bone",
             "0.28 to 0.42 (abstracts only)", BAND, "inside", "test_resistance.py", "0.28 <= share <= 0.42"),
    Compared("teeth", "centre of resistance of the upper molar about its furcation",
             "50 teeth from tomography (abstract only)", BAND, "two standard deviations", "test_resistance.py",
             "abs(-buccal - 0.136) < 3.02"),
    Compared("teeth", "crown of upper incisors at 0.39 N (bilinear ligament)",
             "0.012 to 0.133 mm in ten people, Jones 2001 (abstract only)", BAND, "inside", "test_ligament_values.py",
             "0.39, height) < 0.133"),
    Compared("form", "perimeter of parabola and ellipse", "their integrals", CLOSED, "1e-8",
             "test_archforms.py", "rel=1e-8"),
    Compared("holds", "torque play of three wires in a 0.022 inch slot", "h cos t + b sin t = S, published table",
             PUBLISHED, "0.1 degrees", "test_bench.py", "abs=0.1"),
    Compared("holds", "friction: force along against force across", "Coulomb's bound", IDENTITY, "1e-9",
             "test_arch_contacts.py", "mu * normal * (1 + 1e-9)"),
    Compared("time", "steady velocity of a tooth under a constant load",
             "its elastic displacement, same rotation centre", CLOSED, "1e-6", "test_movement.py", "1e-6"),
    Compared("time", "decay of a spring's force as its tooth follows", "F₀ exp(−t/τ)", CLOSED, "0.01 % of F₀",
             "test_movement.py", "abs=1e-4"),
    Compared("time", "a course cut in two and continued", "the uncut one", IDENTITY, "0.01 % of the way",
             "test_movement.py", "cut_and_whole(Control()) < 1e-4"),
    Compared("time", "speed of translated canines, logarithmic law",
             "five published points, to which the law was fitted: calibration, no test (abstract only)", PUBLISHED,
             "0.002 mm a day", "test_movement.py", '("logarithmic", 0.002)'),
    Compared("time", "width gained in two years", "no more than the wire was set to", IDENTITY, "0.05 mm of clearance",
             "test_course_width.py", "2 * SIDE + 0.05"),
    Compared("prescription", "prescriptions B and C on usual incisors",
             "no difference found in patients (Mittal 2015, Moesi 2013; abstracts only)", BAND,
             "torque apart by < 5 N·mm", "test_prescription_comparison.py", "moment < 5.0"),
)  # fmt: skip
"""Comparisons of tests/validation, each with its bound as asserted there."""

NOT_COMPARED = (
    "No whole arch has been compared with forces or movements measured on a patient or a model of a mouth. Curves of "
    "wires with memory, stiffness of ties and ligatures, and the rate of movement in an arch rest on values that are "
    "assumed, from memory, or fitted."
)


def validation_table(used: set[str]) -> Raw:
    """Return the table of the comparisons that concern the parts `used`."""
    rows: list[list[object]] = [
        [one.what, one.what_with, one.kind, one.within] for one in COMPARED if one.part in used
    ]
    head = [[("what is compared", 1), ("with what", 1), ("kind", 1), ("must agree within", 1)]]
    caption = (
        "Comparisons with results from outside, in the program's own tests. The tests fail where two "
        "disagree; they were not run again for this report. Bands are wide: a value inside one is not thereby right."
    )
    return table(caption, head, rows, words=(1, 2, 3))
