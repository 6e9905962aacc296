"""Courses side by side: the same numbers however they are run, times, rows, who stands in the foreground, errors."""

from __future__ import annotations

import dataclasses
import signal
from functools import lru_cache
from typing import Any

import numpy as np
import pytest
from courses import KEY, VALUES, compared, folder, scenario

from biomech.errors import InputError, SolveError
from biomech.scenario import Scenario
from biomech.studies import parallel
from biomech.studies.compare_courses import check, compare_courses, fellow, foreground, have_courses
from biomech.studies.course import run_course
from biomech.studies.curves import Curves, curves
from biomech.studies.stops import name_of, read_stops, state_at
from biomech.studies.variants import Variant, vary


def without(s: Scenario) -> Scenario:
    return Scenario.parse({k: v for k, v in s.document.items() if k != "course"})


@lru_cache(maxsize=1)
def nine_days() -> Curves:
    return curves(run_course(nine_scenario()))


def nine_scenario() -> Scenario:
    return scenario().changed({"course.duration": "9 days", "course.visit": []})


def test_processes_give_the_same_numbers_as_one_course_by_itself() -> None:
    alone = curves(run_course(scenario().changed({KEY: VALUES[2]})))
    there = compared().courses[2]
    np.testing.assert_array_equal(alone.times, there.times)
    for a, b in zip(alone.readings, there.readings, strict=True):
        for field in dataclasses.fields(a):
            one, other = getattr(a, field.name), getattr(b, field.name)
            np.testing.assert_array_equal(one, other) if isinstance(one, np.ndarray) else None
            assert isinstance(one, np.ndarray) or one == other
    assert [v.actions for v in alone.visits] == [v.actions for v in there.visits]
    assert alone.flags == there.flags and alone.before == there.before


def test_a_second_run_goes_on_from_what_is_kept_whatever_it_is_compared_with() -> None:
    compared()
    told: list[tuple[str, float]] = []
    variants = vary(scenario(), KEY, VALUES[:0:-1])  # other order, one fewer
    again = compare_courses(variants, keys=[KEY], folder=folder() / "legs", progress=lambda *at: told.append(at))
    assert [c.resumed for c in again.courses] == [3, 3]
    assert [c.resumed for c in compared().courses] == [0, 0, 0]
    np.testing.assert_array_equal(again.courses[0].readings[-1].crown, compared().courses[2].readings[-1].crown)
    assert told[-1] == ("courses finished", 1.0)


def test_first_time_that_differs_is_after_the_visit() -> None:
    found = compared()
    start, visit, later = (found.rows_at(stop) for stop in read_stops(["start", "visit 1", "3 weeks"], found.courses, found.planned))

    def spread(rows: list[Any]) -> float:
        return max(r.spread for r in rows if r.path.startswith("teeth.13.crown"))

    assert spread(start) == 0.0 and spread(visit) == 0.0 and spread(later) > 0.01


def test_times() -> None:
    found = compared()
    assert [s.name for s in found.stops] == ["middle", "end"] and found.stops[0].days == (21.0,) * 3
    stops = read_stops(["end", "visits", "10 days", "start"], found.courses, found.planned)
    assert [(s.name, s.days[0]) for s in stops] == [
        ("start", 0.0), ("10 days", 10.0), ("visit 1", 14.0), ("visit 2", 28.0), ("end", 42.0),
    ]  # fmt: skip
    for wrong, message in (("visit 3", "no course gets there; visits: 2"), ("2 years", "last day: 42"),
                           ("noon", "is no time of a course"), ("-1 day", "before the start"), ("visit 0", "no course"),
                           ("", "is no time")):  # fmt: skip
        with pytest.raises(InputError, match=message):
            read_stops([wrong], found.courses, found.planned)
    assert [name_of(d) for d in (1, 15.2, 30.4375, 182.6, 365.25, 100)] == [
        "1 day", "15.2 days", "1 month", "6 months", "12 months", "100 days",
    ]  # fmt: skip


def test_the_state_of_a_day_is_that_of_the_moments_around_it() -> None:
    course = compared().courses[1]
    i = course.teeth.index(13)
    exact = course.legs[1][2]
    assert state_at(course, exact.day)["teeth"]["13"]["axis_crown_mm"]["buccal"] == exact.crown[i, 1]
    found = state_at(course, 14.0)  # a visit: as found, not as left
    assert found["wires"]["overlay"]["energy_N_mm"] == course.visits[1].before.wires["overlay"].energy  # type: ignore[union-attr]
    between = state_at(course, 0.5 * (course.legs[1][1].day + exact.day))["teeth"]["13"]["force_N"]["buccal"]
    ends = sorted((course.legs[1][1].force[i, 1], exact.force[i, 1]))
    assert ends[0] <= between <= ends[1]
    assert state_at(course, None) == {"teeth": {}, "arch": {}, "wires": {}}


def test_reading_between_moments_agrees_with_a_course_stopped_there() -> None:
    """A course cut at a day has a moment there: the curve read between moments must pass close to it."""
    cut = nine_days()
    there, read = cut.readings[-1], state_at(compared().courses[0], 9.0)
    for i, number in enumerate(cut.teeth):
        assert read["teeth"][str(number)]["axis_crown_mm"]["buccal"] == pytest.approx(there.crown[i, 1], abs=0.01)
        assert read["teeth"][str(number)]["force_N"]["buccal"] == pytest.approx(there.force[i, 1], abs=0.02)


def test_ratios_follow_from_the_readings() -> None:
    found = compared()
    tooth, reading = state_at(found.courses[2], 42.0)["teeth"]["13"], found.courses[2].readings[-1]
    i = found.courses[2].teeth.index(13)
    assert tooth["buccal_tip_deg"] == -reading.turn[i, 0]
    assert tooth["crown_leads_root_mm"] == pytest.approx(reading.crown[i, 1] - reading.apex[i, 1])
    if tooth["apex_to_crown"] is not None:
        assert tooth["apex_to_crown"] == pytest.approx(reading.apex[i, 1] / reading.crown[i, 1])
        assert tooth["tip_deg_per_mm"] == pytest.approx(-reading.turn[i, 0] / reading.crown[i, 1])
    arch = state_at(found.courses[2], 42.0)["arch"]
    assert arch["width_mm_per_month"]["canine"] == pytest.approx(arch["width_change_mm"]["canine"]["crown"] / (42 / 30.4375))
    assert state_at(found.courses[2], 0.0)["arch"]["width_mm_per_month"]["canine"] is None


def test_rows_and_the_foreground() -> None:
    found = compared()
    row = found.final("teeth.13.crown_mm.buccal")
    assert row.unit == "mm" and row.values == tuple(c.readings[-1].crown[c.teeth.index(13), 1] for c in found.courses)
    assert found.tables[1] == found.rows_at(found.stops[1])
    with pytest.raises(InputError, match="no result of these courses"):
        found.final("teeth.16.crown_mm.buccal")
    assert len(found.teeth) == 1 and found.teeth[0] in (11, 12, 13)  # fellows on the left do the same
    assert fellow(found, 13) == 23


def test_courses_of_different_length_and_other_teeth() -> None:
    long, short = compared().courses[1], nine_days()
    stops = read_stops(["visit 1", "end", "8 days"], [long, short], [42.0, 9.0])
    assert [s.days for s in stops] == [(8.0, 8.0), (42.0, 9.0), (14.0, None)]
    from biomech.studies.stops import usual

    assert [(s.name, s.days) for s in usual([long, short], [42.0, 9.0])] == [
        ("middle", (4.5, 4.5)), ("end of the shortest", (9.0, 9.0)), ("end", (42.0, 9.0)),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("variants", "message"),
    [
        (lambda s: [Variant("a", s)], "at least two scenarios"),
        (lambda s: [Variant("a", s), Variant("a", s)], "two scenarios are called 'a'"),
        (lambda s: [Variant("a", s), Variant("b", without(s))], r"a with \[course\], b without"),
        (lambda s: [Variant("a", without(s)), Variant("b", without(s))], r"none of the scenarios has a \[course\]"),
        (lambda s: [Variant("a", s), Variant("b", s.changed({"course.visit[2].wire": {"new": {}}}))], "b: course.visit\\[2\\].wire.new"),
    ],
)  # fmt: skip
def test_mistakes_are_found_before_anything_is_computed(variants: Any, message: str) -> None:
    with pytest.raises(InputError, match=message):
        compare_courses(variants(scenario()), progress=lambda *_: pytest.fail("computed"))


def test_teeth_asked_for_must_be_in_all() -> None:
    s = scenario()
    fewer = s.changed({"arch.teeth": [12, 11, 21, 22], "wire.overlay.hold": [{"teeth": [12, 11, 21, 22], "by": "tie"}]})
    both = [Variant("a", s), Variant("b", fewer)]
    check(both, [12])
    with pytest.raises(InputError, match="tooth 13 is not in all scenarios; in all: 12, 11, 21, 22"):
        check(both, [13])
    assert have_courses(both) and not have_courses([Variant("a", without(s))])


def test_a_failure_names_its_variant_and_ends_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    import multiprocessing

    monkeypatch.setattr(parallel, "_there", _one_fails)
    with pytest.raises(SolveError, match=r"^0\.5 mm: day 14 of the course: no equilibrium\n0\.5 mm: activate less$"):
        parallel.run_all(vary(scenario(), KEY, VALUES), jobs=2)
    assert not multiprocessing.active_children()


def test_what_a_process_says_of_an_error() -> None:
    class Pipe(list[Any]):
        send = list.append

    heard = Pipe()
    alone = scenario().changed({"course.visit[2].remove": []}).document
    alone["wire"]["main"]["hold"][0]["teeth"] = [13]
    before = [signal.getsignal(s) for s in (signal.SIGINT, signal.SIGTERM)]
    try:
        parallel._there(heard, alone, None)  # type: ignore[arg-type]
    finally:
        for s, handler in zip((signal.SIGINT, signal.SIGTERM), before, strict=True):
            signal.signal(s, handler)
    word, kind, text = heard[-1]
    assert word == "failed" and kind is InputError and "main" in text


def test_a_process_that_dies_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parallel, "_there", _dies)
    with pytest.raises(SolveError, match=r"mm: its process ended without a result \(exit status 3\)"):
        parallel.run_all(vary(scenario(), KEY, VALUES[:2]), jobs=2)


def test_a_bug_in_a_process_is_no_result(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parallel, "_there", _crashes)
    with pytest.raises(RuntimeError, match="mm: the program failed in its own process:\nZeroDivisionError"):
        parallel.run_all(vary(scenario(), KEY, VALUES[:2]), jobs=2)


def test_an_interrupt_ends_all_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    import multiprocessing

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        parallel.run_all(vary(scenario(), KEY, VALUES[:2]), jobs=2, progress=stop)
    assert not multiprocessing.active_children()


def test_jobs_and_stores() -> None:
    with pytest.raises(InputError, match="jobs = 0"):
        parallel.run_all(vary(scenario(), KEY, VALUES), jobs=0)
    a, b = (parallel.store_of(folder(), Variant(label, scenario())) for label in ("../x y", "z"))
    assert a == b and a.parent == folder() and a != parallel.store_of(folder(), Variant("z", nine_scenario()))
    assert parallel.cores() >= 1


def _one_fails(pipe: Any, document: dict[str, Any], _: object) -> None:
    import time

    if document["course"]["visit"][0]["reactivate"]["overlay"] == "0.5 mm":
        pipe.send(("failed", SolveError, "day 14 of the course: no equilibrium\nactivate less"))
    time.sleep(60)


def _dies(pipe: Any, *_: object) -> None:
    import os

    os._exit(3)


def _crashes(pipe: Any, *_: object) -> None:
    pipe.send(("crashed", "ZeroDivisionError"))


def test_a_tooth_that_is_pulled_otherwise_stands_in_front_though_the_ends_are_alike() -> None:
    course = compared().courses[0]
    first = course.legs[0][0]
    force = first.force.copy()
    force[first.of(12)] = [0.0, 0.0, 5.0]
    legs = ((dataclasses.replace(first, force=force), *course.legs[0][1:]), *course.legs[1:])
    pulled = dataclasses.replace(course, legs=legs)
    assert foreground([course, pulled], ["wire.main.alloy"], None)[0] == 12
    assert foreground([course, course], ["wire.main.alloy"], None)[0] == first.teeth[0]
    assert foreground([course, pulled], ["wire.main.torque.11"], None) == (11,)
