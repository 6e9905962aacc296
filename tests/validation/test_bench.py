"""The bench against closed forms, the elastica and published tables.

Rates of wires: reference table of 48 E I / L^3 (computed); its shear-free values are met once the shear flexibility of
the modelled beam is added, which is why the formula stands in the assertion.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import fsolve

from biomech.alloys import REGISTRY
from biomech.bench import Specimen, drive
from biomech.bench.bending import cantilever, three_point
from biomech.bench.couples import two_brackets
from biomech.bench.opening import horseshoe
from biomech.bench.twisting import torsion
from biomech.section import Rectangular, Round

INCH = 25.4
STEEL = REGISTRY.get("stainless as drawn")


def elastic(section, young: float) -> Specimen:
    return Specimen(section, STEEL.with_young(young))


def round_wire(inches: float) -> Round:
    return Round(inches * INCH)


def flat_wire(height: float, depth: float) -> Rectangular:
    return Rectangular(height * INCH, depth * INCH)


@pytest.mark.parametrize(
    ("section", "edgewise", "rates"),
    [
        (round_wire(0.016), False, (11.57, 4.24, 2.57)),
        (round_wire(0.018), False, (18.53, 6.80, 4.12)),
        (flat_wire(0.016, 0.022), False, (27.0, 9.90, 6.00)),
        (flat_wire(0.018, 0.025), False, (43.7, 16.0, 9.71)),
        (flat_wire(0.019, 0.025), False, (51.4, 18.8, 11.4)),
        (flat_wire(0.019, 0.025), True, (89.0, 32.6, 19.8)),
    ],
)
def test_small_three_point_rates(section, edgewise, rates):
    """48 E I / L^3 at 10 mm span for 180, 66 and 40 GPa (table computed for the reference, three figures)."""
    for young, published in zip((180e3, 66e3, 40e3), rates, strict=True):
        specimen = elastic(section, young)
        ea_ga_gj_ei = specimen.elastic
        bending, shear = (ea_ga_gj_ei[5], ea_ga_gj_ei[1]) if edgewise else (ea_ga_gj_ei[4], ea_ga_gj_ei[2])
        curve = drive(three_point(specimen, nose=0.0, edgewise=edgewise), [1e-3], step=1e-3)
        without_shear = 1 / (1 / curve.stiffness() - 10.0 / (4 * shear))
        assert without_shear == pytest.approx(
            48 * bending / 10.0**3, rel=1e-4
        )  # the edge rolls round the wire a little
        assert without_shear == pytest.approx(published, rel=2.5e-3)  # the table is rounded to three figures


def test_small_cantilever_rate():
    """3 E I / L^3 with the shear flexibility L / (k G A) added (beam theory)."""
    specimen = elastic(round_wire(0.018), 180e3)
    curve = drive(cantilever(specimen, length=5.0, nose=0.0), [1e-3], step=1e-3)
    e = specimen.elastic
    assert 1 / curve.stiffness() == pytest.approx(125 / (3 * e[4]) + 5 / e[2], rel=1e-4)


def sliding_elastica(bending: float, half: float, deflection: float, reach: float) -> float:
    """Force of the indenter from the inextensible elastica sliding on frictionless knife edges.

    Half of the wire from the middle (slope 0) to the edge: theta' = M / EI, M' = -(force across), the contact force N
    at right angles to the wire at the edge, which lies `reach` (half the wire's thickness) off its axis. Unknown: N,
    length s to the edge, the moment in the middle and the slope at the edge.
    """

    def shot(unknown: np.ndarray) -> np.ndarray:
        n, length, moment = unknown

        def rates(_, y):
            theta, m, _, _ = y
            # the edge pushes the wire with N (-sin theta_end, cos theta_end); the section's force is constant
            return [m / bending, -(push[0] * -np.sin(theta) + push[1] * np.cos(theta)), np.cos(theta), np.sin(theta)]

        end = theta_end[0]
        push = n * np.array([-np.sin(end), np.cos(end)])
        y = solve_ivp(rates, (0, length), [0.0, moment, 0.0, 0.0], rtol=1e-10, atol=1e-12).y[:, -1]
        off = reach * np.array([-np.sin(end), np.cos(end) - 1])
        return np.array([y[1], y[2] - half - off[0], y[3] - deflection - off[1], y[0] - end])

    theta_end = [0.0]

    def whole(unknown: np.ndarray) -> np.ndarray:
        theta_end[0] = unknown[3]
        return shot(unknown[:3])

    n0 = 3 * bending * deflection / half**3
    found, _, ok, message = fsolve(whole, [n0, half * 1.1, n0 * half, 1.5 * deflection / half], full_output=True)
    assert ok == 1, message
    return 2 * found[0] * np.cos(found[3])


@pytest.mark.parametrize("deflection", [0.5, 1.5, 2.5, 3.1])
def test_large_three_point_deflections_against_the_elastica(deflection):
    """Independent shooting solution of the sliding elastica (computed here); thin wire, so that shear hardly matters."""
    specimen = elastic(Round(0.1), 180e3)
    curve = drive(three_point(specimen, nose=0.0, elements=24), [3.1], step=0.1, stops=(0.5, 1.5, 2.5))
    assert curve.on(0, deflection) == pytest.approx(
        sliding_elastica(specimen.elastic[4], 5.0, deflection, 0.05), rel=1e-3
    )


@pytest.mark.parametrize("deflection", [1.0, 2.0])
def test_large_cantilever_deflections_against_the_elastica(deflection):
    """Half of a symmetric three-point wire seen from the middle is a cantilever pushed by a sliding edge."""
    specimen = elastic(Round(0.1), 180e3)
    curve = drive(cantilever(specimen, length=5.0, nose=0.0, elements=24), [2.0], step=0.1)
    expected = 0.5 * sliding_elastica(specimen.elastic[4], 5.0, deflection, 0.05)
    assert curve.on(0, deflection) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(
    ("diameter", "legs", "free", "held"),
    [
        (0.9, 0.0, 0.2362, 1.247), (0.9, 15.0, 0.0707, 0.339), (0.9, 25.0, 0.0396, 0.182),
        (1.0, 0.0, 0.3600, 1.900), (1.0, 15.0, 0.1078, 0.516), (1.0, 25.0, 0.0603, 0.277),
    ],
)  # fmt: skip
def test_opening_a_horseshoe(diameter, legs, free, held):
    """Closed form by Castigliano (derivation computed), E 180 GPa, N per mm of total opening; 0.5 %."""
    specimen = elastic(Round(diameter), 180e3)
    for ends, published in (("free", free), ("held", held)):
        curve = drive(horseshoe(specimen, legs=legs, ends=ends), [1e-2], step=1e-2)
        assert curve.stiffness() == pytest.approx(published, rel=5e-3)


@pytest.mark.parametrize(
    ("ratio", "moments", "force"),
    [(1.0, 1.0, 2.0), (0.5, 0.8, 1.8), (0.0, 0.5, 1.5), (-0.5, 0.0, 1.0), (-0.75, -0.4, 0.6), (-1.0, -1.0, 0.0)],
)
def test_six_classes(ratio, moments, force):
    """Moment ratio and F L / M_B of the classes of Burstone and Koenig 1974 (page abstract; formula derived); 1 %."""
    specimen = elastic(Round(0.2), 180e3)
    angle = np.radians(1.0)
    curve = drive(two_brackets(specimen, ratio * angle, angle), [1.0], step=0.5)
    second = curve.also["moment at the second, N.mm"][-1]
    assert curve.reading[-1] / second == pytest.approx(moments, abs=1e-2)
    across = curve.also["force on the wire at the first, N"][-1]
    assert abs(across) * 7.0 / second == pytest.approx(force, abs=1e-2 * max(force, 1.0))


@pytest.mark.parametrize(
    ("height", "depth", "play"), [(0.019, 0.025, 7.24), (0.017, 0.025, 12.48), (0.021, 0.025, 2.33)]
)
def test_play_in_torsion(height, depth, play):
    """h cos t + b sin t = S in a 0.022 in slot (published table seen in full; others computed).

    Contacts give way a little, so that the line of the engaged slope meets zero within 0.1 deg of it.
    """
    specimen = elastic(flat_wire(height, depth), 180e3)
    curve = drive(torsion(specimen), [np.radians(play + 6.0)], step=np.radians(1.0))
    slope, start = curve.steepest()
    assert np.degrees(start) == pytest.approx(play, abs=0.1)
    closed = 2 * specimen.elastic[3] / 4.0  # both spans of 4 mm, GJ / L each
    assert 0.85 * closed < slope < closed


def test_friction_takes_on_the_way_in_and_keeps_on_the_way_back():
    """With friction the wire needs more force to go in and gives less back; the difference is work spent."""
    specimen = elastic(round_wire(0.016), 180e3)
    free, rough = (drive(three_point(specimen, friction=mu), [2.0, 0.0], step=0.1) for mu in (0.0, 0.2))
    assert rough.on(0, 1.5) > free.on(0, 1.5) > rough.on(1, 1.5)
    assert abs(free.spent) < 1e-3 * np.trapezoid(free.reading[:21], free.x[:21])
    # dN-work: friction coefficient times push along the way slid, both ways, positive
    assert rough.spent > 0


@pytest.mark.parametrize(
    ("wire", "low", "high"),
    [
        (round_wire(0.016), 0.8, 2.0),
        (flat_wire(0.016, 0.022), 1.5, 3.5),
        (flat_wire(0.019, 0.025), 2.5, 6.0),
    ],
)
def test_unloading_of_superelastic_wires_is_plausible(wire, low, high):
    """Plausibility, not validation: typical bands at 2 mm on the way back, span 10 mm (from memory, order only)."""
    specimen = Specimen(wire, REGISTRY.get("nickel-titanium, superelastic"))
    curve = drive(three_point(specimen), [3.1, 0.0], step=0.4, stops=(1.0, 2.0, 3.0))
    assert low <= curve.on(1, 2.0) <= high
    assert curve.on(1, 1.0) < curve.on(0, 1.0)
    assert curve.permanent is not None and curve.permanent < 0.05
    assert curve.spent > 0


def test_results_do_not_depend_on_steps_or_elements():
    """A curve is the law's, not the stepping's: halved steps and doubled elements change it by less than 1 %."""
    specimen = Specimen(round_wire(0.016), REGISTRY.get("nickel-titanium, superelastic"))
    coarse = drive(three_point(specimen, elements=8), [3.1, 0.0], step=0.4, stops=(1.0, 2.0, 3.0))
    fine = drive(three_point(specimen, elements=16), [3.1, 0.0], step=0.2, stops=(1.0, 2.0, 3.0))
    for leg in (0, 1):
        for at in (1.0, 2.0, 3.0):
            assert coarse.on(leg, at) == pytest.approx(fine.on(leg, at), rel=1e-2)


def test_a_plastic_wire_springs_back_elastically():
    """Unloaded from its set, a yielding wire starts along its elastic slope (large-deflection rate of the bent wire).

    The first step back is compared with that of an elastic wire of the same modulus that is unloaded from the same
    deflection: bent shape and sliding differ, so 25 %.
    """
    alloy = REGISTRY.get("stainless as drawn, yielding")
    curve = drive(three_point(Specimen(round_wire(0.016), alloy)), [1.0, 0.0], step=0.05)
    turn = int(np.argmax(curve.x))
    back = (curve.reading[turn] - curve.reading[turn + 1]) / 0.05
    assert curve.permanent is not None and 0.1 < curve.permanent < 0.9
    assert back == pytest.approx(curve.stiffness(), rel=0.25)


def after_a_drink(name: str, temperature: float) -> float:
    """Return the force of a wire held at 0.5 mm after a drink over that before it."""
    specimen = Specimen(flat_wire(0.016, 0.022), REGISTRY.get(name), 37.0)
    curve = drive(three_point(specimen), [0.5] * 3, step=0.25, temperatures=[None, temperature, 37.0])
    before, _, after = (float(curve.reading[curve.leg == leg][-1]) for leg in range(3))
    return after / before


@pytest.mark.parametrize("name", ["nickel-titanium, superelastic", "nickel-titanium, heat-activated"])
def test_a_cold_drink_takes_force_for_good_and_a_hot_one_does_not_change_it(name):
    """Meling and Odegaard 2001, AJODO 119:263 (abstract only, in part; year and pages from memory).

    Superelastic wires held at 0.5 mm and 37 C: after cold water of 10 C some go on with up to 32 % less force (up to
    43 % less is mentioned later), and show little tendency to rise again in half an hour; the effect of hot water goes
    quickly. Theirs was 80 C, where this law does not reach; their support span is not in the abstract. The directions
    are the check. Plausibility only: the superelastic wire loses 26 %, inside what they saw; the heat-activated one,
    of which the abstract does not speak, 52 %.
    """
    after = after_a_drink(name, 10.0)
    assert after < 0.99 and (after > 0.57 or name == "nickel-titanium, heat-activated")
    assert after_a_drink(name, 55.0) == pytest.approx(1.0, abs=1e-3)


def test_a_drink_does_nothing_to_a_wire_that_does_not_transform():
    """Same source: a conventional wire was marginally affected."""
    assert after_a_drink("nickel-titanium, elastic stand-in", 10.0) == pytest.approx(1.0, abs=1e-6)
