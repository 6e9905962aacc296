"""What is read off curves of the bench: the largest value with its sign, and doubt about strains at which wires break."""

import csv
import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest

from biomech.alloys import REGISTRY
from biomech.bench.curve import place
from biomech.bench.limits import followed_by, past_words
from biomech.report.bend import notes
from biomech.studies.bend import RIGS, Setup, bend_wires, numbers
from biomech.studies.bend_files import limit_data, write_bend

PAST = Setup("three-point", (1.0, 0.0), 0.25)
"""Past the elastic limit of the usual wires."""


def test_a_wire_that_is_closed_tells_its_largest_force_with_its_sign():
    setup = Setup("opening", (-2.0, 0.0), 1.0)
    (found,) = bend_wires(["1.0 mm stainless as drawn"], setup)
    largest = next(n.value for n in numbers(setup, found) if n.name == "largest force, N")
    assert largest == pytest.approx(found.reading.min()) and largest < -0.01


def test_strains_at_which_a_wire_may_break_are_doubted():
    (found,) = bend_wires(["0.016 in stainless as drawn, yielding"], Setup("three-point", (2.0, 0.0), 0.25))
    assert any(w.startswith("largest fibre strain") and "may kink or break" in w for w in found.warnings)
    (found,) = bend_wires(["0.016 in stainless as drawn, yielding"], Setup("three-point", (0.3, 0.0), 0.25))
    assert not any("break" in w for w in found.warnings)


def test_an_elastic_wire_says_where_its_limit_ends_it_in_every_place(tmp_path):
    wires = ["0.016 in beta-titanium", "0.016 in beta-titanium, yielding", "0.016 in stainless as drawn"]
    found = bend_wires(wires, PAST)
    past, yields, below = ({n.name: n.value for n in numbers(PAST, c)} for c in found)
    assert past["past elastic limit from deflection, mm"] == found[0].past_from == pytest.approx(0.57, abs=0.01)
    assert past["largest stress, % of elastic limit"] == pytest.approx(100 * found[0].share.max())
    assert yields["past elastic limit from deflection, mm"] is yields["largest stress, % of elastic limit"] is None
    (words,) = (w for w in found[0].warnings if "elastic limit of 900 MPa" in w)
    assert "from deflection 0.57 mm on, at most 1.7 times" in words and 'Try "beta-titanium, yielding"' in words
    assert below["past elastic limit from deflection, mm"] == found[2].past_from == pytest.approx(0.32, abs=0.01)
    write_bend(found, PAST, tmp_path)
    data = json.loads((tmp_path / "bend.json").read_text())["wires"]
    assert data[0]["elastic_limit"] == {
        "peak_over_limit": found[0].share.max(), "past_from_deflection_mm": found[0].past_from
    }
    assert data[1]["elastic_limit"] is None and data[0]["warnings"] == list(found[0].warnings)
    rows = list(csv.DictReader((tmp_path / "curves.csv").open()))
    shares = [row["peak_stress_over_limit"] for row in rows if row["wire"] == found[0].wire]
    assert [float(share) for share in shares] == found[0].share.tolist()
    assert {row["peak_stress_over_limit"] for row in rows if row["wire"] == found[1].wire} == {""}


@pytest.mark.parametrize(
    ("alloy", "names"),
    [
        ("stainless as drawn, low modulus", ["stainless as drawn, yielding"]),
        ("nickel-titanium, elastic stand-in", ["nickel-titanium, heat-activated", "nickel-titanium, superelastic"]),
        ("stainless stress-relieved", ["stainless stress-relieved, yielding"]),
    ],
)
def test_what_to_try_for_an_alloy_past_its_limit(alloy, names):
    assert followed_by(REGISTRY.get(alloy)) == names


def test_an_alloy_without_another_law_is_to_go_less_far():
    alloy = replace(REGISTRY.get("beta-titanium"), name="nobody's metal")
    curve = replace(bend_wires(["0.016 in beta-titanium"], PAST)[0])
    assert past_words(curve, alloy).endswith("keeps no set. Go less far")


def test_angles_at_the_limit_are_in_degrees():
    setup = Setup("torsion", (math.radians(20.0),), math.radians(2.0))
    (found,) = bend_wires(["0.019 x 0.025 in cobalt-chromium"], setup)
    read = {n.name: n.value for n in numbers(setup, found)}
    at = read["past elastic limit from twist, deg"]
    assert 8.0 < at < 20.0 and limit_data(found, setup)["past_from_twist_deg"] == at
    assert any(f"from twist {at:.3g} deg on" in w for w in found.warnings)


def test_notes_name_the_wires_they_are_about():
    wires = ["0.016 in beta-titanium", "0.016 in beta-titanium, yielding", "0.018 in beta-titanium, yielding"]
    found = bend_wires(wires, PAST)
    told = notes(found)
    (limit,) = (about for text, about in told.items() if "elastic limit of 900 MPa" in text)
    assert limit == [found[0].wire]
    assert all(not about for text, about in told.items() if text.startswith("alloy '"))
    assert list(notes(found[:1]).values()) == [[found[0].wire]]
    same = [replace(curve, warnings=("alike",)) for curve in found]
    assert notes(same) == {"alike": ["every wire"]}


@pytest.mark.parametrize("name", [name for name, alloy in REGISTRY.items() if alloy.is_linear])
def test_every_elastic_alloy_says_so(name):
    (found,) = bend_wires([f"0.016 in {name}"], Setup("cantilever", (1.5,), 0.5))
    limit = REGISTRY.get(name).elastic_limit
    assert found.is_past and f"past its elastic limit of {limit:g} MPa from deflection" in found.warnings[0]


@pytest.mark.parametrize("rig", RIGS)
def test_every_rig_says_so(rig):
    far = {"opening": 80.0, "couples": 1.0, "torsion": math.radians(30.0)}.get(rig, 1.5)
    options = {"first": math.radians(40.0), "second": math.radians(10.0)} if rig == "couples" else {}
    (found,) = bend_wires(["0.019 x 0.025 in stainless as drawn"], Setup(rig, (far,), far / 10, options=options))
    assert found.is_past and 0.0 < found.past_from < far and "past its elastic limit of 1400" in found.warnings[0]


def test_a_superelastic_wire_says_where_a_set_is_likely():
    """Told stress lies between the law's at the largest strain in tension (the softer side), and in compression."""
    setup = Setup("three-point", (3.1, 0.0), 0.5)
    (found,) = bend_wires(["0.016 in nickel-titanium, superelastic"], setup)
    (words,) = (w for w in found.warnings if "a set is likely" in w)
    alloy = REGISTRY.get("nickel-titanium, superelastic").at(36.0)
    strain = np.nanmax(found.strain) * np.array([1.0, -1.0])
    pulled, pressed = np.abs(alloy.respond(strain, alloy.start((2,))).stress)
    told = re.match(r"carries up to (\d+) MPa, beyond 1000 MPa \(met by deflection ([\d.]+) mm\)", words)
    assert 1000 < pulled - 1 < float(told[1]) < pressed and 1.5 < float(told[2]) < 3.1
    (found,) = bend_wires(["0.016 in nickel-titanium, superelastic"], Setup("three-point", (1.5, 0.0), 0.5))
    assert not any("set is likely" in w for w in found.warnings)


def test_places_are_in_the_units_of_people():
    assert place("twist", math.radians(12.0), "rad") == "twist 12 deg" and place("opening", 43.07, "mm") == "opening 43.1 mm"
    assert place("share of the angles", 0.5, "") == "share of the angles 0.5"
