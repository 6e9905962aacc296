"""Variants of a scenario: values read from text, keys varied together, values as numbers."""

from __future__ import annotations

from pathlib import Path

import pytest

from biomech.errors import InputError
from biomech.scenario import load
from biomech.studies.variants import Variant, axis, key_words, read_vary, vary

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@pytest.fixture(scope="module")
def scenario():
    return load(SCENARIOS / "upper-overlay.toml")


@pytest.mark.parametrize(
    ("text", "keys", "values"),
    [
        ("bracket.prescription=A,B,C", ["bracket.prescription"], ["A", "B", "C"]),
        ("a.b = 0 deg, 18 deg buccal root", ["a.b"], ["0 deg", "18 deg buccal root"]),
        ("a.16 + a.26 = 1 mm,2 mm", ["a.16", "a.26"], ["1 mm", "2 mm"]),
        ("a=1,0.5,true", ["a"], [1, 0.5, True]),
        ("a=[16, 26],[16]", ["a"], [[16, 26], [16]]),
        ("a='x, y',z", ["a"], ["x, y", "z"]),
        ("a=2026-01-05,2026-02-05", ["a"], ["2026-01-05", "2026-02-05"]),
    ],
)
def test_reading(text, keys, values):
    assert read_vary(text) == (keys, values)


@pytest.mark.parametrize("text", ["", "a", "a=", "=A,B", "a=A,,B", "a + =A,B", "a=A,B,"])
def test_nothing_to_vary(text):
    with pytest.raises(InputError, match="varies nothing"):
        read_vary(text)


def test_several_keys_take_the_same_value(scenario):
    found = vary(scenario, ["wire.main.torque.16", "wire.main.torque.26"], ["0 deg", "18 deg buccal root"])
    assert [v.label for v in found] == ["0 deg", "18 deg buccal root"]
    torque = found[1].scenario.wire["main"].torque
    assert torque[16] == torque[26] == pytest.approx(0.314159, abs=1e-6)


@pytest.mark.parametrize(
    ("keys", "values", "message"),
    [
        ("bracket.prescription", ["A"], "at least two values"),
        ("bracket.prescription", ["A", "A"], "given twice"),
        ("bracket.prescription", ["A", "Z"], r'bracket\.prescription = "Z" is no known prescription'),
        ("bracket.perscription", ["A", "B"], "Did you mean 'prescription'"),
        ("wire.main.torque.16", ["0 deg", "10 deg"], "does not say which way"),
    ],
)
def test_what_cannot_be_compared(scenario, keys, values, message):
    with pytest.raises(InputError, match=message):
        vary(scenario, keys, values)


def numbers(*values):
    return axis([Variant(str(v), None, v) for v in values])


def test_values_as_numbers():
    found = numbers("0 deg", "10 deg buccal root", "5 deg lingual root", "18 deg buccal root")
    assert (found.numbers, found.unit, found.word) == ((0.0, 10.0, -5.0, 18.0), "deg", "buccal root")
    assert numbers("1 mm", "0.036 in") is None
    assert numbers("A", "B") is None
    assert numbers(0.1, 0.2).numbers == (0.1, 0.2)
    assert numbers("5 deg mesial crown", "5 deg buccal root") is None
    assert numbers("5 deg sideways", "5 deg sideways") is None
    assert numbers(True, False) is None
    assert numbers(None, None) is None


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        (["wire.main.torque.16", "wire.main.torque.26"], ["wire", "main", "torque"]),
        (["wire.overlay.widen.left", "wire.overlay.widen.right"], ["wire", "overlay", "widening"]),
        (["wire.overlay.widen.left"], ["wire", "overlay", "widening", "left"]),
        (["bracket.slot_height"], ["bracket", "slot height"]),
    ],
)
def test_keys_in_words(keys, words):
    assert key_words(keys) == words


def test_keys_inside_lists_are_counted_from_1_as_in_messages():
    from courses import scenario as course

    rule = {"teeth": [13], "lead": "0.5 mm", "ease": {"overlay": "0.5 mm"}}
    found = vary(course().changed({"course.rule": [rule]}), "course.rule[1].lead", ["0.2 mm", "1 mm"])
    assert [v.scenario.course.rule[0].lead for v in found] == [0.2, 1.0]
    assert course().changed({"arch.teeth[1]": 14, "wire.overlay.hold[1].teeth[1]": 11, "wire.overlay.hold[1].teeth[2]": 14}).arch.teeth[0] == 14
    for key, message in (
        ("course.visit[3].after", "there is no \\[3\\]; there are 2, counted from 1"),
        ("course.visit[0].after", "there is no \\[0\\]"),
        ("course.visit.after", "'after' is asked of a list: say which one, \\[1\\] to \\[2\\]"),
        ("course.most[1]", "there is nothing in which \\[1\\] could be"),
        ("title.x", "there is nothing in which 'x' could be"),
    ):
        with pytest.raises(InputError, match=message):
            course().changed({key: "1 week"})


def test_lists_and_tables_get_short_labels():
    from courses import scenario as course

    rule = {"teeth": [13, 23], "lead": "0.5 mm", "wire": "main", "torque": "5 deg buccal root"}
    found = vary(course(), "course.rule", [[], [rule]])
    assert [v.label for v in found] == ["none", "value 2"]
    found = vary(course(), "course.stop_at", [["bone"], ["bone", "wire"]])
    assert [v.label for v in found] == ['["bone"]', '["bone", "wire"]']
    with pytest.raises(InputError, match="the value none is given twice"):
        vary(course(), "course.rule", [[], []])
