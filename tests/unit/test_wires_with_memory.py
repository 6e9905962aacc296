"""Wires with memory in a small arch: what they carry over, what they tell, and that nothing is lost on the way."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from test_record import PURE, UNITS, mismatches, numbers

from biomech.appliance import build
from biomech.appliance.inside import inside, memory_of
from biomech.appliance.wires import alloy_of
from biomech.errors import InputError, SolveError
from biomech.mechanics.equilibrium import Settings, equilibrium
from biomech.mechanics.states import arrays_of
from biomech.movement import contacts
from biomech.movement.carry import carried
from biomech.movement.march import Mover
from biomech.rates import make_rate
from biomech.scenario import Scenario
from biomech.studies import Solution, solve
from biomech.studies.batch import solve_all
from biomech.studies.course import run_course
from biomech.studies.layout import schema
from biomech.studies.record import record
from biomech.studies.solve import settings_of
from biomech.studies.warnings import warnings_of
from biomech.wire.fibre_rod import FibreRod, fibre_rod
from biomech.wire.history import let_go

NITI = "nickel-titanium, superelastic"
STEEL = "stainless as drawn, yielding"
BASE = {
    "format": 1,
    "title": "six front teeth",
    "arch": {"jaw": "upper", "form": "beta", "width": "56 mm", "depth": "44 mm", "teeth": [13, 12, 11, 21, 22, 23]},
    "tooth": {"12": {"slot_up": "1.5 mm gingival"}},
    "wire": {
        "main": {
            "section": "rectangular", "height": "0.016 in", "depth": "0.022 in", "alloy": NITI, "elements_per_span": 3,
            "hold": [
                {"teeth": "all", "by": "slot", "ligature": "elastomeric", "slides": "free"},
                {"teeth": [11], "by": "slot", "ligature": "elastomeric", "slides": "tied back"},
            ],
        }
    },
}  # fmt: skip


@cache
def solved(alloy: str = NITI, temperature: str = "36 degC") -> Solution:
    return solve(scenario(alloy, temperature))


def scenario(alloy: str = NITI, temperature: str = "36 degC") -> Scenario:
    return Scenario.parse(BASE).changed({"wire.main.alloy": alloy, "temperature": temperature})


def test_plateau_takes_the_top_off_and_cold_lowers_it() -> None:
    force = {t: solved(NITI, t).tooth(12)["force_N"]["occlusal"] for t in ("12 degC", "36 degC", "55 degC")}
    elastic = solve(scenario("nickel-titanium, elastic stand-in").changed({"wire.main.young": "55 GPa"}))
    assert 0 < force["12 degC"] < force["36 degC"] < force["55 degC"] < 1.001 * elastic.tooth(12)["force_N"]["occlusal"]


def test_temperature_of_one_wire_overrides_that_of_the_mouth() -> None:
    one = solve(scenario().changed({"wire.main.temperature": "12 degC"}))
    assert one.tooth(12)["force_N"] == pytest.approx(solved(NITI, "12 degC").tooth(12)["force_N"])


def test_temperature_outside_the_law_names_wire_and_key() -> None:
    with pytest.raises(InputError, match=r"wire\.main: temperature = 75 C"):
        alloy_of("main", scenario().wire["main"], 75.0)


def test_cold_martensite_stays_bent_and_warms_straight() -> None:
    """Below its Af the wire keeps its bend when taken out; at mouth temperature it does not (shape memory)."""
    cold, warm = (solved(NITI, t).wires["main"].inner for t in ("2 degC", "36 degC"))
    assert cold is not None and warm is not None
    kept = [np.abs(let_go(i.past.law, i.inside.memory)[0] - i.past.formed).max() for i in (cold, warm)]
    assert kept[0] > 1e-3 and kept[1] < 1e-9


def test_states_are_those_of_the_equilibrium_itself() -> None:
    """The search looks at elements where steps lead; what it returns must be the law's own answer."""
    e = solved().equilibrium
    again = e.network.evaluate(e.poses, e.network.start_states())
    for one, other in zip(e.evaluation.responses, again.responses, strict=True):
        assert np.array_equal(one.stress, other.stress)
    for a, b in zip(arrays_of(e.states[0]), arrays_of(again.states[0]), strict=True):
        assert np.array_equal(a, b)


def test_loaded_little_by_little_it_ends_the_same() -> None:
    a = build(scenario())
    slow = equilibrium(a.network, a.start, settings=Settings(first_increment=0.2, largest_shift=0.08, largest_turn=0.5))
    at_once = solved().equilibrium
    assert slow.poses.position == pytest.approx(at_once.poses.position, abs=2e-3)
    share = [inside(a.wires["main"], e.states).readings["martensite"].max() for e in (slow, at_once)]
    assert share[0] == pytest.approx(share[1], abs=0.02)


def test_elements_of_fibres_are_those_of_the_elastic_rod_where_nothing_transforms() -> None:
    """A law whose plateau is out of reach: the same equilibrium as with the elastic elements."""
    even = {"tooth.12.slot_up": "0.02 mm gingival", "wire.main.elements_per_span": 4}  # the midline is a station
    plain = scenario("stainless as drawn").changed(even)
    fibre = plain.changed({"wire.main.alloy": STEEL})
    one, other = solve(plain), solve(fibre)
    assert other.wires["main"].inner is not None and other.wires["main"].inner.largest < 1e-12
    assert other.equilibrium.poses.position == pytest.approx(one.equilibrium.poses.position, abs=1e-7)


def test_variants_in_one_batch_are_those_alone() -> None:
    many = [scenario().changed({"tooth.12.slot_up": f"{x} mm gingival"}) for x in (0.4, 0.9, 1.2)]
    for found, one in zip(solve_all(many), many, strict=True):
        alone = solve(one)
        assert found.tooth(12)["force_N"] == pytest.approx(alone.tooth(12)["force_N"], rel=1e-6, abs=1e-6)
        mine, its = found.wires["main"].inner, alone.wires["main"].inner
        assert mine is not None and its is not None
        assert mine.largest == pytest.approx(its.largest, abs=1e-6)


def test_memory_goes_on_only_in_the_same_wire() -> None:
    first = build(scenario())
    mover = Mover(first, make_rate(), settings_of(scenario()))
    e = solved().equilibrium
    now = mover.moment(0.0, e.poses, e.states)
    kept = memory_of(first.wires["main"], e.states)

    def then(**changes: str) -> float:
        new = build(scenario().changed({f"wire.main.{key}": value for key, value in changes.items()}))
        return float(np.abs(memory_of(new.wires["main"], carried(first, now, new)[1]).strain).max())

    assert then() == pytest.approx(float(np.abs(kept.strain).max()))
    assert then(temperature="20 degC") > 0.0
    assert then(depth="0.025 in") == 0.0
    assert then(alloy="nickel-titanium, heat-activated") == 0.0


def test_memory_goes_on_through_a_bend_but_not_through_a_new_opening() -> None:
    first = build(opening("bending", "2 mm"))
    e = equilibrium(first.network, first.start, settings=settings_of(scenario()))
    now = Mover(first, make_rate(), settings_of(scenario())).moment(0.0, e.poses, e.states)
    kept = memory_of(first.wires["main"], e.states)
    for change, same in (({"wire.main.step_up.12": "0.3 mm occlusal"}, True), ({"wire.main.opening.each_side": "3 mm"}, False)):
        new = build(opening("bending", "2 mm").changed(change))
        found = memory_of(new.wires["main"], carried(first, now, new)[1])
        assert np.array_equal(found.strain, kept.strain) == same
        if not same:
            assert new.wires["main"].past is not None
            assert np.array_equal(found.strain, new.wires["main"].past.law.start().strain)


def test_record_and_warning_tell_what_a_yielding_wire_keeps() -> None:
    found = solve(scenario(STEEL).changed({"tooth.12.slot_up": "2.5 mm gingival"}))
    memory = record(found)["wires"]["main"]["memory"]
    assert memory["set_strain"] > 1e-3 and memory["martensite_share"] is None
    assert 0.3 < memory["force_left"] < 1.0
    assert any("has yielded" in line and "taken out it stands" in line for line in found.warnings)
    assert not any("past its elastic limit" in line for line in found.warnings)
    transformed = record(solved())["wires"]["main"]["memory"]
    assert transformed["martensite_share"] > 0.05 and transformed["set_strain"] is None
    assert transformed["force_left"] is None


def test_record_keeps_to_its_schema_and_names_units() -> None:
    for solution in (solved(), solve(opening("pulling", "3 mm"))):
        data = record(solution)
        assert list(mismatches(data, schema())) == []
        for path in numbers(data["wires"]):
            assert path[-1] in PURE or any(key.endswith(UNITS) for key in path), path


def test_a_strain_at_which_the_alloy_breaks_is_said() -> None:
    found = solved()
    view = found.wires["main"]
    assert view.inner is not None and view.inner.strain < view.inner.strain_limit
    assert not any("would break" in line for line in found.warnings)
    brittle = replace(view, inner=replace(view.inner, strain_limit=0.5 * view.inner.strain))
    lines = warnings_of(found.appliance, found.equilibrium, found.teeth, {"main": brittle}, found.arch)
    assert any("would break near tooth 1" in line for line in lines)


def opening(by: str, each_side: str, **more: object) -> Scenario:
    table = {"by": by, "each_side": each_side, **more}
    return scenario(STEEL).changed({"wire.main.opening": table, "tooth.12.slot_up": "0 mm"})


@pytest.mark.parametrize("side", [2.0, -2.0])
def test_bent_open_by_hand_it_keeps_what_was_wanted_on_either_side(side: float) -> None:
    past = build(opening("bending", f"{side} mm")).wires["main"].past
    assert past is not None
    assert past.left == pytest.approx((side, side), abs=0.02)
    assert past.strained > 0.01


def test_stress_relief_after_opening_leaves_more_force() -> None:
    worked, relieved = (solve(opening("bending", "2 mm", relieved=r)).wires["main"].inner for r in (False, True))
    assert worked is not None and relieved is not None
    assert worked.force_left is not None and relieved.force_left is not None
    assert worked.force_left < relieved.force_left <= 1.0 + 1e-9
    assert relieved.past.left == pytest.approx((2.0, 2.0), abs=0.02)


@pytest.mark.parametrize(
    ("by", "each_side", "says"),
    [("pulling", "9 mm", "the wire would be straight"), ("bending", "9 mm", "no shape that stands so far open")],
)
def test_opened_further_than_a_wire_can_reach(by: str, each_side: str, says: str) -> None:
    with pytest.raises(InputError, match=says):
        build(opening(by, each_side))


def test_elements_of_which_no_balance_is_found_stop_the_search() -> None:
    appliance = build(scenario())
    part = appliance.network.groups[appliance.wires["main"].elements[0, 0]]
    assert isinstance(part.law, FibreRod)
    lost = part.law.respond(np.full((1, len(part), 6), np.nan), part.law.start())
    assert np.isnan(lost.stress).all()
    groups = list(appliance.network.groups)

    class Broken(type(part.law.section)):  # type: ignore[misc]
        def respond(self, strain, state):  # type: ignore[no-untyped-def]
            resultants, tangent, state = super().respond(strain, state)
            return np.where(np.abs(strain) > 1e-4, np.nan, resultants), tangent, state

    section = Broken(part.law.section.section, part.law.section.alloy)
    groups[0] = part.with_law(FibreRod(section, part.law.rest))
    with pytest.raises(SolveError, match="no number at wire 'main' near tooth"):
        equilibrium(appliance.network.replaced(groups), appliance.start, settings=settings_of(scenario()))


def test_a_rod_of_fibres_needs_no_appliance() -> None:
    law = build(scenario()).wires["main"].past
    assert law is not None
    from biomech.mechanics.poses import pose_exp

    links = fibre_rod("wire", np.arange(4), law.law.section, pose_exp(np.array([[1.0, 0, 0, 0, 0, 0.1]] * 3)))
    assert np.abs(links.law.respond(links.law.rest, links.law.start()).stress).max() == 0.0


def test_a_course_of_wires_with_memory_is_resumed_bit_for_bit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """And every stage is found near the last one: the search from scratch, which would forget the path, is not needed."""

    def from_scratch(*_: object) -> None:
        raise AssertionError("searched from scratch")

    monkeypatch.setattr(contacts, "newton", from_scratch)
    visits = [{"after": "2 days"}, {"after": "5 days"}]
    model = Scenario.parse({**BASE, "course": {"duration": "8 days", "visit": visits}})
    whole = run_course(model, folder=tmp_path)
    for file in sorted(tmp_path.iterdir())[1:]:
        file.unlink()
    again = run_course(model, folder=tmp_path)
    assert [leg.resumed for leg in again.legs] == [True, False, False]
    for one, other in zip(whole.legs, again.legs, strict=True):
        assert np.array_equal(one.track.position, other.track.position)
        for a, b in zip(one.track.memory, other.track.memory, strict=True):
            assert all(np.array_equal(x, y) for x, y in zip(arrays_of(a), arrays_of(b), strict=True))
    for one, other in zip(whole.readings, again.readings, strict=True):
        assert np.array_equal(one.force, other.force) and np.array_equal(one.moment, other.moment)
        assert one.wires == other.wires
    row = whole.readings[0].of(12)
    assert whole.readings[-1].force[row, 2] < 0.9 * whole.readings[0].force[row, 2]
