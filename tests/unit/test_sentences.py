"""Sentences say what the numbers say."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from biomech.scenario import load
from biomech.studies.compare import compare
from biomech.studies.phrases import against, apex_phrase, crown_phrase, root, toward
from biomech.studies.sentences import sentences
from biomech.studies.variants import Variant, vary

SCENARIOS = Path(__file__).parents[2] / "scenarios"
KEYS = ["wire.main.torque.16", "wire.main.torque.26"]


@pytest.fixture(scope="module")
def overlay():
    return load(SCENARIOS / "upper-overlay.toml")


@pytest.mark.parametrize(
    ("crown", "apex", "words"),
    [(0.1, 0.005, "rests"), (0.1, -0.05, "goes the other way"), (0.1, 0.05, "follows the crown"), (0.0, 0.1, "goes alone"),
     (0.1, 0.1, "goes as far as the crown"), (0.1, 0.2, "leads the crown"), (-0.1, -0.05, "follows the crown")],
)  # fmt: skip
def test_apex(crown, apex, words):
    assert f"its apex {words} (" in apex_phrase(crown, apex, 0.03)


@pytest.mark.parametrize(
    ("crown", "before", "words"),
    [(0.05, 0.1, "gains 50 % less"), (0.15, 0.1, "gains 50 % more"), (0.1, 0.101, "gains as much"),
     (-0.05, -0.1, "goes 50 % less far"), (-0.1, -0.05, "goes 100 % farther"), (0.1, -0.1, "goes another way"),
     (0.1, 0.04, "gains 2.5 times as much"), (-0.1, -0.04, "goes 2.5 times as far"), (0.1, 0.001, "moves (")],
)  # fmt: skip
def test_crown(crown, before, words):
    assert words in crown_phrase(crown, before)


def test_amounts():
    assert toward(0.0204) == "0.020 mm buccally"
    assert toward(-0.0001) == "0.000 mm"
    assert against(0.049, 0.079) == "0.049 mm buccally, against 0.079"
    assert against(0.049, -0.079) == "0.049 mm buccally, against 0.079 mm lingually"
    assert against(0.049, 0.0) == "0.049 mm buccally, against 0.000 mm"
    assert (root(-8.2), root(0.01), root(None)) == ("8.2 lingual root", "0", "-")


def test_torque_on_the_molars(overlay):
    # rotation centre at the apex is what textbooks call controlled tipping; amounts come from the solution itself
    found = compare(vary(overlay, KEYS, ["0 deg", "18 deg buccal root"]), keys=KEYS)
    text = sentences(found)
    assert re.match(
        r"With 18 deg buccal root, tooth 16 shows controlled tipping instead of uncontrolled tipping: its apex rests \(.*\) "
        r"while its crown gains \d+ % less",
        text[0],
    )
    stated = int(re.search(r"gains (\d+) % less", text[0])[1])
    assert stated == pytest.approx(-found.row("teeth.16.long_axis_mm.crown").percent(1), abs=0.5)
    reaction = next(s for s in text if s.startswith("The reaction"))
    for payer in map(int, re.findall(r"(\d\d) \(", reaction)):
        assert found.row(f"teeth.{payer}.moment_at_bracket_N_mm.torque").difference(1) < 0
    assert any(s.startswith("Width between the first molars") for s in text)


def test_torque_lost_in_play_is_said(overlay):
    text = sentences(compare(vary(overlay, KEYS, ["0 deg", "2 deg buccal root"]), keys=KEYS))
    assert "Torque is lost in the play of the slot with 2 deg buccal root." in text


def test_a_wire_past_its_limit_is_said(overlay):
    key = "wire.overlay.alloy"
    found = compare(vary(overlay, key, ["stainless as drawn", "beta-titanium"]), keys=[key])
    assert "elastic limit" not in " ".join(sentences(found))
    soft = overlay.changed({"wire.overlay.widen.left": "20 mm", "wire.overlay.widen.right": "20 mm"})
    found = compare(vary(soft, key, ["stainless as drawn", "beta-titanium"]), keys=[key])
    past = [w.utilisation for s in found.solutions for n, w in s.wires.items() if n == "overlay"]
    text = next(s for s in sentences(found) if "elastic limit" in s)
    assert f"with alloy stainless as drawn (peak stress {100 * past[0]:.0f} % of it)" in text


def test_no_difference_is_said(overlay):
    other = overlay.changed({"title": "the same in other words"})
    assert sentences(compare([Variant("one", overlay), Variant("other", other)])) == [
        "The variants do the same: no crown or apex differs by more than 0 um, no force by more than 0 N, no moment by "
        "more than 0 N.mm."
    ]


def test_files_are_named_and_rest_is_no_percentage(overlay):
    main = load(SCENARIOS / "upper-main-wire.toml")
    text = sentences(compare([Variant("main", main), Variant("overlay", overlay)]))
    assert re.match(r"In overlay, tooth \d\d shows .* \(crown .*, apex .*\); in main it hardly moves\.", text[0])
    back = sentences(compare([Variant("overlay", overlay), Variant("main", main)], teeth=[16]))
    assert back[0].startswith("In main, tooth 16 hardly moves in the buccolingual plane")
