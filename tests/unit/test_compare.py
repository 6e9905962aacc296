"""Comparisons: what is in the foreground, differences, percent, what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from biomech.errors import InputError
from biomech.scenario import load
from biomech.studies import lookup, record, solve
from biomech.studies.compare import compare
from biomech.studies.rows import Row, rows, unit
from biomech.studies.variants import Variant, vary

SCENARIOS = Path(__file__).parents[2] / "scenarios"
KEYS = ["wire.main.torque.16", "wire.main.torque.26"]


@pytest.fixture(scope="module")
def overlay():
    return load(SCENARIOS / "upper-overlay.toml")


@pytest.fixture(scope="module")
def molars(overlay):
    return compare(vary(overlay, KEYS, ["0 deg", "18 deg buccal root"]), keys=KEYS)


def test_the_teeth_named_by_the_keys_are_in_front_and_mirror_images_once(molars):
    assert molars.teeth == (16,)


def test_rows_are_the_numbers_of_the_single_solutions(molars, overlay):
    alone = record(solve(overlay.changed(dict.fromkeys(KEYS, "18 deg buccal root"))))
    for row in molars.rows:
        if isinstance(row.values[1], float):
            assert row.values[1] == pytest.approx(lookup(alone, row.path), rel=1e-5, abs=1e-6), row.path


def test_difference_and_percent():
    row = Row("tooth 16", "x_mm", "x", "mm", (0.05, 0.02, None, -0.05))
    assert [row.difference(i) for i in (1, 3)] == pytest.approx([-0.03, -0.1])
    assert row.percent(1) == pytest.approx(-60.0)
    assert row.percent(3) is None  # another way: no percentage says that
    assert row.difference(2) is row.percent(2) is None
    assert Row("", "", "", "mm", (-0.05, -0.02)).percent(1) == pytest.approx(-60.0)  # of the size: less far
    assert Row("", "", "", "mm", (1e-9, 1.0)).percent(1) is None  # per cent of nothing
    assert Row("", "", "", "mm", (0.001, 1.0)).percent(1) is None  # of next to nothing
    assert Row("", "", "", "mm", (1.0, 0.0)).percent(1) == -100.0
    assert Row("", "", "", "", ("tipping", "bodily")).differs
    assert not Row("", "", "", "mm", (0.05, 0.05 + 1e-6)).differs


@pytest.mark.parametrize(
    ("path", "expected"),
    [("teeth.16.force_N.buccal", "N"), ("teeth.16.moment_at_bracket_N_mm.torque", "N.mm"), ("a.tip_deg_per_mm", "deg/mm"),
     ("teeth.16.ligament_pressure_kPa.mean", "kPa"), ("teeth.16.apex_to_crown", ""), ("arch.midline_to_left_mm", "mm")],
)  # fmt: skip
def test_units_come_from_the_keys(path, expected):
    assert unit(path) == expected


def test_every_number_of_a_record_has_a_row_and_a_title(molars):
    paths = {row.path for row in molars.rows}
    assert {"teeth.16.movement", "arch.width_change_mm.first_molar.crown", "wires.main.peak_over_limit"} <= paths
    assert not any("young" in p or "limit_MPa" in p for p in paths)
    assert all(row.title for row in molars.rows)


def test_a_tooth_that_one_variant_lacks_has_no_numbers_there(overlay):
    shorter = load(SCENARIOS / "upper-main-wire.toml").changed(
        {"arch.teeth": [16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26],
         "wire.main.hold": [{"teeth": "all", "by": "slot", "ligature": "steel", "slides": "tied back"}]}
    )  # fmt: skip
    found = compare([Variant("whole", overlay), Variant("short", shorter)])
    assert 17 not in found.common
    assert found.row("teeth.17.crown_mm.buccal").values[1] is None
    assert found.row("wires.overlay.peak_stress_MPa").values[1] is None
    with pytest.raises(InputError, match="tooth 17 is not in all scenarios"):
        compare(found.variants, teeth=[17])


def test_refused(overlay):
    with pytest.raises(InputError, match="at least two"):
        compare([Variant("one", overlay)])
    with pytest.raises(InputError, match="called 'same'"):
        compare([Variant("same", overlay), Variant("same", overlay)])
    with pytest.raises(InputError, match="no tooth in common"):
        compare([Variant("upper", overlay), Variant("lower", load(SCENARIOS / "lower-overlay.toml"))])


def test_unknown_path(molars):
    with pytest.raises(InputError, match="is no result"):
        molars.row("teeth.16.colour")


def test_rows_of_nothing():
    assert rows([{"teeth": {}, "wires": {}, "arch": {}}]) == []
