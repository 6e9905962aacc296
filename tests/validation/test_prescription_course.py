"""Prescriptions over half a year: what can be derived of it, and an order of magnitude beside patients. No validation."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import nct, t

from biomech.scenario import load
from biomech.studies.compare_courses import compare_courses
from biomech.studies.course_prescriptions import SPREAD, VISIBLE, pairs_of, prescription_sentences
from biomech.studies.prescriptions import resting
from biomech.studies.variants import vary

SCENARIOS = Path(__file__).parents[2] / "scenarios"
KEY = "bracket.prescription"
INCISORS = (12, 11, 21, 22)


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    variants = vary(load(SCENARIOS / "prescription-a-half-year.toml"), KEY, ["A", "B", "C"])
    return compare_courses(variants, keys=[KEY], jobs=2, folder=tmp_path_factory.mktemp("legs"))


@pytest.fixture(scope="module")
def pairs(found):
    return pairs_of(found, INCISORS)


def test_there_is_a_number_for_every_pair(found, pairs):
    assert [(p.one, p.other) for p in pairs] == [("A", "B"), ("A", "C"), ("B", "C")]
    text = " ".join(prescription_sentences(found))
    for pair in pairs:
        assert f"{pair.teeth:.1f} between {pair.one} and {pair.other} (at {pair.tooth}, slots" in text


def test_incisors_turn_the_way_of_their_slots(found):
    for n in INCISORS:
        turned = found.final(f"teeth.{n}.turn_deg.torque").values  # + buccal root, slots + crown
        slots = [resting(label, n, 0.0)[0] for label in found.labels]
        assert all(b < a for a, b in pairwise(turned)) and all(b > a for a, b in pairwise(slots))


def test_what_no_moment_holds_stands_level_with_the_wire(found, pairs):
    # Derived: ligatures press the wire on the slot's floor. Where no torque moment is left the floor is flush with it, so
    # that incisors stand as far apart as their slots, but for the tilt of the whole arch with its wire. The tilt is a mean
    # over premolars and molars, whose tip shows cos of their angle to the midline of it: 10 % of 5 deg.
    for pair in pairs:
        left = found.final(f"teeth.{pair.tooth}.moment_at_bracket_N_mm.torque").values
        assert max(abs(m) for m in left) < 0.05  # N.mm, a hundredth of what is of use
        assert pair.share == pytest.approx(1.0, abs=0.1)


def test_disagreement_with_patients_is_labelled(found, pairs):
    # Plausibility: B and C could not be told apart in patients (Mittal 2015, Moesi 2013; abstracts only). Whatever the run
    # gives, the text must say whether so many cases would have shown it.
    apart = pairs[-1].teeth
    text = " ".join(prescription_sentences(found))
    assert ("This run disagrees with patients" in text) == (apart > VISIBLE)
    assert ("This run does not contradict it" in text) == (apart <= VISIBLE)
    assert f"B and C end {apart:.1f} deg apart" in text


def test_what_forty_cases_show_four_times_in_five():
    # two-sided t test at 5 % of 20 against 20, noncentral t distribution: own arithmetic
    shift, free = VISIBLE / SPREAD * np.sqrt(20 / 2), 38
    limit = t.ppf(0.975, free)
    assert 1.0 - nct.cdf(limit, free, shift) == pytest.approx(0.8, abs=1e-3)
