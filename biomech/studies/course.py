"""A course of treatment: teeth move, the clinician looks and acts, teeth move on."""

from __future__ import annotations

import bisect
import datetime
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from biomech.appliance import Appliance, build
from biomech.errors import InputError, SolveError
from biomech.mechanics.newton import Settings
from biomech.mechanics.poses import Array, Pose
from biomech.movement.carry import carried, settled
from biomech.movement.evidence import Travel, outside, travelled
from biomech.movement.leg import Track, as_stored, equilibrium_of, leg, moment_at, standing, track_of
from biomech.movement.limits import Flag, Watch
from biomech.movement.march import Control, Moment, Mover, usual_tolerance
from biomech.movement.readings import Reader, Reading
from biomech.outputs import tooth_views
from biomech.rates import RateLaw, make_rate
from biomech.scenario import Course as CourseModel
from biomech.scenario import Scenario
from biomech.studies.actions import act, follow, rehearsed, without_course
from biomech.studies.limits import Pace, flags_of, stop_at
from biomech.studies.record import fingerprint
from biomech.studies.solve import Solution, assembled, settings_of
from biomech.studies.store import Store, first_key, next_key

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Visit:
    """One visit, the start of the course being number 0.

    `day` since the start, `date` where the scenario gives one; `actions` done and `rules` that acted, in words; the
    arch as found (`before`, None at the start) and with the wires as left (`after`); `flags` of the time that follows.
    """

    number: int
    day: float
    date: datetime.date | None
    note: str
    actions: tuple[str, ...]
    rules: tuple[str, ...]
    before: Reading | None
    after: Reading
    flags: tuple[Flag, ...]


@dataclass(frozen=True)
class Leg:
    """The time from one visit to the next: its scenario and appliance, moments and what was read at each."""

    scenario: Scenario
    mover: Mover
    track: Track
    readings: tuple[Reading, ...]
    resumed: bool
    travel: Travel

    @property
    def appliance(self) -> Appliance:
        """The appliance as built, teeth where they stood at the start of the course."""
        return self.mover.appliance


@dataclass(frozen=True)
class Course:
    """A course that was run.

    `visits` with the start as number 0; `legs` between them; `stopped`: the sentence of the limit that ended it, or
    None; `law` the rate law; `seconds` it took. Moments of all legs are numbered through: `times`, `readings`.
    """

    scenario: Scenario
    law: RateLaw
    visits: tuple[Visit, ...]
    legs: tuple[Leg, ...]
    stopped: str | None
    warnings: tuple[str, ...]
    seconds: float
    _solutions: dict[int, Solution] = field(default_factory=dict, repr=False, compare=False)

    @property
    def times(self) -> Array:
        """Days (n,) of all moments; a visit has two, as found and as left."""
        return np.concatenate([one.track.times for one in self.legs])

    @property
    def readings(self) -> tuple[Reading, ...]:
        """What was read at every moment."""
        return tuple(r for one in self.legs for r in one.readings)

    @property
    def tolerance(self) -> float:
        """Error allowed in one step, relative to the movement."""
        return tolerance_of(self.scenario)

    @property
    def flags(self) -> tuple[Flag, ...]:
        """All limits passed, in time."""
        return tuple(flag for visit in self.visits for flag in visit.flags)

    def appliance_at(self, i: int) -> tuple[Appliance, Pose]:
        """Return the appliance, its teeth where their sockets stand, and the poses (1, frames) at moment `i`."""
        one, j = self._place(i)
        poses = Pose(one.track.rotation[j : j + 1], one.track.position[j : j + 1])
        return standing(one.appliance, poses), poses

    def solution_at(self, i: int) -> Solution:
        """Return moment `i` (negative: from the end) as a solution: forces, pressures and elastic motions there."""
        i = range(len(self.times))[i]
        if i not in self._solutions:
            one, j = self._place(i)
            moment = moment_at(one.mover, one.track, j)
            solved = equilibrium_of(one.mover, moment)
            stands = standing(one.appliance, moment.poses)
            self._solutions[i] = assembled(stands, solved, tooth_views(stands, solved))
        return self._solutions[i]

    def index_at(self, day: float) -> int:
        """Return the number of the last moment not after `day`."""
        return max(0, bisect.bisect_right(self.times.tolist(), day + 1e-9) - 1)

    def _place(self, i: int) -> tuple[Leg, int]:
        i = range(len(self.times))[i]
        for one in self.legs:
            if i < len(one.track):
                return one, i
            i -= len(one.track)
        raise IndexError(i)


def run_course(
    scenario: Scenario,
    *,
    folder: Path | str | None = None,
    progress: Progress | None = None,
    fits: bool = False,
) -> Course:
    """Return the course of a scenario with a [course] table.

    With `folder`, every finished stretch between visits is kept there and a course run again goes on after the last one
    that is complete and of the same inputs. `progress(what, share)` is called now and then. `fits`: the visits have
    been rehearsed. Raises InputError for a scenario without course or with visits that do not fit, SolveError when an
    equilibrium is not found.
    """
    begin = time.perf_counter()
    if scenario.course is None:
        raise InputError("the scenario has no [course]: give at least its duration")
    if not fits:
        rehearse(scenario, scenario.course)
    return _Run(scenario, scenario.course, Store(folder), progress).all(begin)


def rehearse(scenario: Scenario, course: CourseModel) -> None:
    """Act out all visits without time, so that one that cannot be done is refused before anything is computed.

    So is a rule that could act at none of them; the same scenario once in a process. Raises InputError.
    """
    key = fingerprint(scenario)
    if key not in _REHEARSED:
        rehearsed(scenario, course)
        _REHEARSED.add(key)


_REHEARSED: set[str] = set()


def tolerance_of(scenario: Scenario) -> float:
    """Return the error allowed in a step of a scenario's course: its own, or the usual one for so many teeth."""
    given = None if scenario.course is None else scenario.course.tolerance
    return given or usual_tolerance(len(scenario.arch.teeth))


def _written(scenario: Scenario, i: int) -> Mapping[str, object]:
    table: Mapping[str, object] = scenario.document["course"]["visit"][i]
    return table


class _Run:
    """One run of a course, leg by leg."""

    def __init__(self, scenario: Scenario, course: CourseModel, store: Store, progress: Progress | None) -> None:
        self.scenario, self.course, self.store, self.progress = scenario, course, store, progress
        self.law = make_rate(course.law, **course.values)
        self.control = Control(tolerance=tolerance_of(scenario))
        self.days = [0.0, *(course.day(v) for v in course.visit), course.duration]
        self.key = first_key(scenario)
        self.start: Pose | None = None
        self.now: Moment | None = None  # at the end of the last leg
        self.visits: list[Visit] = []
        self.legs: list[Leg] = []
        self.history: list[str] = []
        self.rest = 0.0  # the day up to which teeth rest after wires were changed

    def all(self, begin: float) -> Course:
        stopped: str | None = None
        for number in range(len(self.days) - 1):
            stopped = self._visit(number)
            if stopped is not None:
                break
        gone = sum((one.travel for one in self.legs), Travel())
        told = (*self.history, *(w for one in self.legs for w in one.appliance.warnings), *outside(self.law, gone))
        warnings = dict.fromkeys(told)
        return Course(
            self.scenario, self.law, tuple(self.visits), tuple(self.legs), stopped, tuple(warnings),
            time.perf_counter() - begin,
        )  # fmt: skip

    def _visit(self, number: int) -> str | None:
        """Do one visit and let time pass until the next; return what stopped the course, if anything."""
        scenario, actions, rules = self._acted(number)
        last = self.legs[-1] if self.legs else None
        settings = settings_of(scenario)
        same = last is not None and scenario.document == last.scenario.document
        mover = last.mover if last is not None and same else Mover(build(scenario), self.law, settings)
        start = self._start(mover.appliance)
        reader, watch = Reader(mover.appliance, start), Watch(mover.appliance, start, self.course.bone)
        if not same:
            self.rest = self.days[number] + self.law.lag
        loaded = self.store.load(number, self.key, mover.network.start_states())
        if loaded is None:
            found, history = self._march(mover, number, same, watch, reader, settings)
            track = track_of(found)
            self.store.save(number, self.key, track, history)
            moments = as_stored(mover, found, track)
        else:
            track, history = loaded
            moments = [moment_at(mover, track, i) for i in range(len(track))]
        self.history += history
        self.now = moments[-1]
        readings = tuple(reader.read(m) for m in moments)
        pace = Pace(self.law.most, self.rest, self._earlier(), number == len(self.days) - 2)
        flags = flags_of(mover.appliance, watch, moments, readings, pace)
        travel = travelled(mover, moments)
        before = last.readings[-1] if last is not None else None
        day, date, note = self.days[number], self._date(number), self._note(number)
        self.visits.append(Visit(number, day, date, note, actions, rules, before, readings[0], flags))
        self.legs.append(Leg(scenario, mover, track, readings, loaded is not None, travel))
        self.key = next_key(self.key, number, track)
        return next((f"day {f.day:.0f}: {f.text}" for f in flags if f.kind in self.course.stop_at), None)

    def _acted(self, number: int) -> tuple[Scenario, tuple[str, ...], tuple[str, ...]]:
        """Return the scenario as the visit leaves it, with the visit's own actions and those of the rules in words."""
        if number == 0:
            return without_course(self.scenario), (), ()
        now = self.legs[-1].scenario
        name = f"course.visit[{number}]"
        done = act(now, self.course.visit[number - 1], _written(self.scenario, number - 1), name)
        reading = self.legs[-1].readings[-1]
        leads = dict(zip(reading.teeth, reading.lead.tolist(), strict=True))
        ruled = follow(done.scenario, self.course.rule, leads)
        return ruled.scenario, done.lines, ruled.lines

    def _start(self, appliance: Appliance) -> Pose:
        if self.start is None:
            parts = appliance.teeth.values()
            self.start = Pose(np.stack([p.pose.rotation for p in parts]), np.stack([p.pose.position for p in parts]))
        return self.start

    def _march(
        self, mover: Mover, number: int, same: bool, watch: Watch, reader: Reader, settings: Settings
    ) -> tuple[list[Moment], tuple[str, ...]]:
        begin, end = self.days[number], self.days[number + 1]
        now, history = self._loaded(mover, number, same, settings)
        stop = stop_at(self.course.stop_at, mover, watch, reader, self._earlier(), self._tell)
        try:
            return leg(mover, now, end, max(0.0, self.rest - begin), self.control, stop), history
        except SolveError as error:
            raise SolveError(f"after visit {number}, between day {begin:g} and {end:g}: {error}") from None

    def _loaded(
        self, mover: Mover, number: int, same: bool, settings: Settings
    ) -> tuple[Moment, tuple[str, ...]]:
        """Return the arch with the wires as the visit leaves them, and what happened on the way."""
        day = self.days[number]
        if self.now is not None:
            now = self.now
            if same:
                return now, ()
            poses, states = carried(self.legs[-1].appliance, now, mover.appliance)
            gone = now.gone
        else:
            gone = 0.0
            poses, states = mover.appliance.start, mover.network.start_states()
        try:
            solved = settled(mover.appliance, poses, states, settings, near=self.now is not None)
        except SolveError as error:
            raise SolveError(f"day {day:g} of the course: {error}") from None
        history = tuple(f"day {day:g}: {line}" for line in solved.history)
        return replace(mover.moment(day, solved.poses, solved.states), gone=gone), history

    def _earlier(self) -> list[Reading]:
        return [reading for one in self.legs for reading in one.readings]

    def _tell(self, day: float) -> None:
        if self.progress is not None:
            self.progress(f"day {day:.0f} of {self.course.duration:.0f}", day / self.course.duration)

    def _date(self, number: int) -> datetime.date | None:
        if self.course.start is None:
            return None
        return self.course.start + datetime.timedelta(days=round(self.days[number]))

    def _note(self, number: int) -> str:
        return self.course.visit[number - 1].note if number else ""
