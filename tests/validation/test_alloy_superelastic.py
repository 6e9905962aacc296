"""The superelastic law against closed forms of linear kinetics.

Parameters commonly used with Auricchio and Taylor 1997 (Comput Methods Appl Mech Eng 143:175): from memory. The corner
points and the energy of the loop follow from them by hand (computed).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from laws import superelastic, walk

from biomech.alloys import REGISTRY
from biomech.errors import InputError

CORNERS = [(0.52 / 60, 520.0), (0.080, 600.0), (0.075, 300.0), (0.2 / 60, 200.0), (0.0, 0.0)]


@pytest.mark.parametrize("sign", [1, -1])
def test_corner_points(sign):
    strain, stress = np.array(CORNERS).T
    np.testing.assert_allclose(walk(superelastic(), sign * strain)[0], sign * stress, rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize("path", [[0.0812, 0.0], [-0.09, 0.0], [0.01, 0.1, 0.004, -0.001]])
def test_energy_of_a_full_loop(path):
    # the area between the lines: 0.07 (560 - 250) MPa = 21.70 MJ/m3
    work = walk(superelastic(), path)[2][-1]
    assert work - 0.5 * 60e3 * path[-1] ** 2 == pytest.approx(21.70, rel=1e-6)


def test_energy_of_a_sub_loop():
    # between shares a and b of martensite: 0.07 (b - a) times the mean height,
    # upper mean 520 + 40 (a + b), lower mean 200 + 50 (a + b)
    outer, inner = (520 + 80 * 0.7) / 60e3 + 0.07 * 0.7, (200 + 100 * 0.2) / 60e3 + 0.07 * 0.2
    work = walk(superelastic(), [outer, inner, outer])[2]
    assert work[2] - work[0] == pytest.approx(0.07 * 0.5 * (320 - 10 * 0.9), rel=1e-9)


def test_energy_of_the_loop_against_the_integral_of_the_stress():
    path = np.concatenate([np.linspace(0, 0.085, 40001), np.linspace(0.085, 0, 40001)[1:]])
    stress, _, work, _ = walk(superelastic(martensite=30e3), path)
    assert np.trapezoid(stress, path) == pytest.approx(work[-1], rel=1e-7)


def test_martensite_is_softer_past_the_plateau():
    # strain = stress / E + length x; the share x is linear in stress, 1/E in x (derived by hand)
    law = superelastic(martensite=30e3)
    share = 0.25
    stress = 520 + share * 80
    strain = stress * ((1 - share) / 60e3 + share / 30e3) + 0.07 * share
    got, _, _, state = walk(law, [strain])
    assert got[0] == pytest.approx(stress, rel=1e-12)
    assert state[1] == pytest.approx(share, rel=1e-12)
    end = 600 / 30e3 + 0.07
    assert law.plateau_end == pytest.approx(end)
    past, tangent, _, _ = walk(law, [end, end + 0.01])
    assert past[0] == pytest.approx(600.0)
    assert past[1] == pytest.approx(900.0)
    assert tangent[1] == pytest.approx(30e3)


def test_sub_loops_return_to_the_point_they_left():
    law = superelastic(martensite=30e3)
    out = walk(law, [0.04])[0][0]
    for low in (0.036, 0.03, 0.02, 0.001):
        assert walk(law, [0.04, low, 0.04])[0][-1] == pytest.approx(out, rel=1e-12)
    # and inside a loop that goes back and forth
    twice = walk(law, [0.06, 0.03, 0.04, 0.035, 0.04])[0]
    assert twice[2] == pytest.approx(twice[4], rel=1e-12)


def test_temperature_lifts_all_stresses():
    # 6.5 MPa/K, inside 5.5-8 (from memory)
    law = REGISTRY.get("nickel-titanium, superelastic")
    path = [0.03, 0.06, 0.03, 0.02]
    warm, cold = (walk(law.at(t), path)[3] for t in (47.0, 37.0))
    assert abs(warm[1]) < abs(cold[1])
    share = 0.3
    for temperature in (27.0, 47.0):
        stress = law.start_stress + 6.5 * (temperature - 37) + share * (law.finish_stress - law.start_stress)
        strain = stress * ((1 - share) / law.young + share / law.martensite) + law.length * share
        assert walk(law.at(temperature), [strain])[0][0] == pytest.approx(stress, rel=1e-9)


def test_compression_needs_more_stress_and_gives_less_strain():
    law = superelastic(asymmetry=1.25)
    pulled, pressed = walk(law, [0.03])[0][0], walk(law, [-0.03])[0][0]
    assert 1.2 < -pressed / pulled < 1.35
    start = 1.25 * 520
    assert walk(law, [-start / 60e3])[0][0] == pytest.approx(-start, rel=1e-12)
    end = 1.25 * 600 / 60e3 + 0.07 / 1.25
    assert walk(law, [-end])[0][0] == pytest.approx(-1.25 * 600, rel=1e-12)


def test_shear_law():
    # von Mises: stresses over sqrt 3, transformation strain times sqrt 3, elastic part with G
    law = superelastic(martensite=30e3).in_shear()
    g = 60e3 / 2.6
    assert walk(law, [520 / math.sqrt(3) / g])[0][0] == pytest.approx(520 / math.sqrt(3), rel=1e-12)
    end = 600 / math.sqrt(3) / (30e3 / 2.6) + 0.07 * math.sqrt(3)
    assert walk(law, [end])[0][0] == pytest.approx(600 / math.sqrt(3), rel=1e-12)
    assert superelastic(asymmetry=1.25).in_shear().start_stress == pytest.approx(2 / (1 / 520 + 1 / 650) / math.sqrt(3))


@pytest.mark.parametrize(
    ("values", "text"),
    [
        ({"fracture_strain": 0.075}, "fracture_strain = 0.075 .* end of the plateau, strain 0.08"),
        ({"back_start_stress": 620.0}, "back_start_stress = 620.0 .* below finish_stress, 600 MPa"),
        ({"back_start_stress": 560.0, "back_finish_stress": 530.0}, "back_finish_stress = 530.0 .* start_stress"),
        ({"back_finish_stress": -10.0}, "back_finish_stress = -10.0 .* above 0"),
        ({"finish_stress": 500.0}, "finish_stress = 500.0 .* at least start_stress, 520 MPa"),
        ({"martensite": 70e3}, "martensite = 70000.0"),
        ({"length": 0.0}, "length = 0.0"),
        ({"slope": -1.0}, "slope = -1.0"),
        ({"asymmetry": 0.9}, "asymmetry = 0.9"),
        (
            {"start_stress": 200.0, "back_finish_stress": 150.0, "temperature": 5.0},
            "temperature = 5.0 C .* above 6.231 C and at most 60 C",
        ),
        ({"temperature": math.nan}, "temperature = nan"),
    ],
)
def test_what_makes_no_sense_is_refused(values, text):
    with pytest.raises(InputError, match=text):
        superelastic(**{"martensite": 60e3} | values)


@pytest.mark.parametrize("name", ["nickel-titanium, superelastic", "nickel-titanium, heat-activated"])
@pytest.mark.parametrize("temperature", [-5.0, 60.5, math.inf])
def test_temperatures_outside_the_law_are_refused(name, temperature):
    with pytest.raises(InputError, match=f"'{name}': must be within 0 and 60 C"):
        REGISTRY.get(name).at(temperature)


def test_a_cold_drink_takes_force_that_warmth_does_not_bring_back():
    # held at one strain: cooled, more turns to martensite, down to the plateau of the cold (6.5 MPa/K); warm again,
    # nothing turns back before the lower line is met; hot, that line lifts the stress.
    law = REGISTRY.get("nickel-titanium, superelastic")
    strain = np.array(0.04)
    state = law.respond(strain, law.start()).state
    stress = {}
    for name, temperature in (("mouth", 37.0), ("cold", 15.0), ("again", 37.0), ("hot", 60.0)):
        answer = law.at(temperature).respond(strain, state)
        stress[name], state = float(answer.stress), answer.state
    assert stress["cold"] < stress["mouth"] - 0.8 * 6.5 * 22
    assert stress["cold"] > law.start_stress - 6.5 * 22
    assert stress["again"] == pytest.approx(stress["cold"], rel=1e-12)
    assert stress["hot"] > stress["again"]


# Below Af, by hand from linear kinetics (computed): slope 6.5 MPa/K, lower line (200 + 6.5 d) to (300 + 6.5 d), upper
# (520 + 6.5 d) to (600 + 6.5 d), d = temperature - 37; one modulus of 60 GPa, length 0.07. Af = 37 - 200/6.5 = 6.23 C.
COLD, HALF = 37 - 320 / 6.5, 37 - 250 / 6.5
"""Lower line wholly (-120 to -20 MPa) or half (-50 to 50 MPa) below zero."""


def cold(temperature):
    """Return the law with everything 25 C warmer, so that all this lies within what a mouth may meet."""
    return superelastic(reference=62.0, temperature=temperature + 25)


def test_below_af_martensite_stays_at_zero_load():
    law = cold(COLD)
    _, _, _, state = walk(law, [0.08])
    assert state[1] == pytest.approx(1.0)
    stress, tangent, _, state = walk(law, [0.07], state)  # no load: the whole transformation strain is left
    assert stress[-1] == pytest.approx(0.0, abs=1e-9)
    assert state[1] == pytest.approx(1.0)
    assert tangent[-1] == pytest.approx(60e3)


def test_below_af_the_opposite_load_turns_it_back():
    law = cold(COLD)
    ends = [(0.08, None), (0.07 - 20 / 60e3, -20.0), (0.035 - 70 / 60e3, -70.0), (-120 / 60e3, -120.0)]
    stress, _, _, state = walk(law, [e for e, _ in ends])
    np.testing.assert_allclose(stress[1:], [s for _, s in ends[1:]], rtol=1e-9)
    assert state[1] == pytest.approx(0.0, abs=1e-12)


def test_between_as_and_af_a_part_stays():
    law = cold(HALF)
    stress, _, _, state = walk(law, [0.09, 0.035])
    assert stress[-1] == pytest.approx(0.0, abs=1e-9)
    assert state[1] == pytest.approx(0.5)


@pytest.mark.parametrize("sign", [1, -1])
def test_warmed_without_load_the_wire_recovers(sign):
    # what is left falls with the lower line: share where it crosses zero
    law = cold(COLD)
    state = walk(law, [sign * 0.09, sign * 0.07])[3]
    for back in (-70.0, -25.0, 0.0):  # of the lower line at no martensite
        warm = law.at(law.temperature + (back + 120) / 6.5)
        left = -back / 100 if back > -100 else 1.0
        stress, _, _, state = walk(warm, [sign * 0.07 * left], state)
        assert stress[-1] == pytest.approx(0.0, abs=1e-9)
        assert sign * state[1] == pytest.approx(left, abs=1e-12)


@pytest.mark.parametrize("sign", [1, -1])
def test_heated_at_one_strain_the_stress_follows_the_lower_line(sign):
    # clamped at the strain left cold: at d K above, stress = back(x) with strain = stress / E + 0.07 x (by hand)
    law = cold(COLD)
    strain = 0.07
    state, before = walk(law, [sign * 0.09, sign * strain])[3], 0.0
    for rise in (10.0, 20.0, 40.0):
        warm = law.at(law.temperature + rise)
        low = -120 + 6.5 * rise
        share = min(1.0, (strain - low / 60e3) / (100 / 60e3 + 0.07))
        expected = max(60e3 * (strain - 0.07 * share), 0.0)
        stress, _, _, state = walk(warm, [sign * strain], state)
        assert sign * stress[-1] == pytest.approx(expected, rel=1e-9, abs=1e-9)
        assert sign * stress[-1] >= before
        before = sign * stress[-1]
    assert before > 50.0


def test_martensite_of_one_sense_never_needs_more_to_turn_than_austenite():
    # far below Af: the lower line at 20 MPa compression more than the start of compression is cut to it
    law = superelastic(
        start_stress=100.0, finish_stress=180.0, back_start_stress=-0.1 + 100.0, back_finish_stress=1.0, slope=6.5,
        reference=37.0, temperature=37 - 80 / 6.5,
    )  # fmt: skip
    assert law._sides[0].back.start == pytest.approx(-law._sides[1].there.start) == pytest.approx(-20.0)
    stress = walk(law, [0.09, 0.0, -0.02])[0]
    assert stress[-1] < 0


def test_no_law_is_kept_where_austenite_would_turn_without_load():
    assert REGISTRY.get("nickel-titanium, heat-activated").lowest == pytest.approx(37 - 300 / 6.5)
    assert REGISTRY.get("nickel-titanium, superelastic").springs_back == pytest.approx(37 - 170 / 6.5)


def test_a_wire_below_af_says_so():
    law = REGISTRY.get("nickel-titanium, heat-activated")
    assert not any("does not spring back" in w for w in law.at(36.0).warnings())
    (said,) = [w for w in law.at(20.0).warnings() if "does not spring back" in w]
    assert "at 20 C" in said and "27.8 C" in said and "recovers when warmed" in said
