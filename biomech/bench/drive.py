"""Take a rig along a path: an equilibrium at every point, the wire's memory carried on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from biomech.bench.curve import Curve
from biomech.bench.rig import Rig
from biomech.errors import InputError, SolveError
from biomech.mechanics.banded import is_definite
from biomech.mechanics.contact import ContactLaw
from biomech.mechanics.links import State
from biomech.mechanics.network import Evaluation
from biomech.mechanics.newton import Settings, iterate, newton
from biomech.mechanics.poses import Pose, pose_exp, pose_log

Progress = Callable[[str, float], None]
_HALVINGS = 10
_ZERO_STEPS = 40
_ZERO = 1e-6
"""Reading, as a part of that before, and share of a step, that count as none."""
_ACCEPTED = 0.5**5
"""Share of a step at which an unstable equilibrium is no longer laid to the size of the step."""
_SETTINGS = Settings(tolerance=1e-7, max_steps=25)


@dataclass(frozen=True)
class _Point:
    """The rig at one value: equilibrium poses (1, frames), links, states; `rate` of the poses per unit of x."""

    x: float
    poses: Pose
    evaluation: Evaluation
    states: list[State]
    stable: bool
    rate: np.ndarray | None = None


def path(turns: Sequence[float], step: float, stops: Sequence[float] = ()) -> list[tuple[float, int]]:
    """Return the values, with the number of their stretch, of a path from 0 through the `turns`.

    It halts at every one of `stops` that lies on its way, and at least every `step`. Raises InputError for a path
    without a turn, a turn that goes nowhere, or a step that is not positive.
    """
    if not turns:
        raise InputError("the path has no turn: give at least how far to go")
    if not step > 0:
        raise InputError(f"step = {step:g}: must be positive")
    out = [(0.0, 0)]
    for leg, goal in enumerate(map(float, turns)):
        here = out[-1][0]
        if goal == here:
            raise InputError(f"the path turns at {goal:g}, where it already is")
        between = sorted({s for s in stops if min(here, goal) < s < max(here, goal)}, reverse=goal < here)
        for end in (*between, goal):
            n = max(1, int(np.ceil(abs(end - here) / step - 1e-9)))
            out += [(here + (end - here) * i / n, leg) for i in range(1, n)] + [(float(end), leg)]
            here = end
    return out


def drive(
    rig: Rig,
    turns: Sequence[float],
    *,
    step: float,
    stops: Sequence[float] = (),
    settings: Settings = _SETTINGS,
    progress: Progress | None = None,
) -> Curve:
    """Return the curve of a rig driven from 0 through `turns` in steps of at most `step`, mm or rad.

    It halts at `stops` on its way.

    On the way back a one-sided rig stops where the reading reaches zero; what deflection is left there is the permanent
    one. A rig that can pull is followed to the end, and the last crossing of zero on the way back is reported. Raises
    SolveError, naming set-up, wire and value, where no equilibrium is found.
    """
    values = path(turns, step, stops)
    if rig.one_sided and min(turns) < 0:
        raise InputError(
            f"{rig.name}: the path goes to {min(turns):g} {rig.unit}, but this rig only pushes; at least 0"
        )
    now = _first(rig, settings)
    points, legs, permanent = [now], [0], None
    lost = -1
    for number, (x, leg) in enumerate(values[1:]):
        if leg == lost:
            continue
        if progress is not None:
            progress(f"{rig.name}: {rig.specimen.label}", number / len(values))
        new = _advance(rig, now, x, settings)
        back = leg % 2 == 1
        if back and _parted(rig, now, new):
            zero = _zero(rig, now, new, settings)
            permanent = zero.x
            if rig.one_sided:
                lost = leg
                new = zero
        points.append(new)
        legs.append(leg)
        now = new
    if permanent is None and legs[-1] % 2 == 1 and _nothing_left(rig, points):
        permanent = points[-1].x
    return _curve(rig, points, legs, permanent)


def _nothing_left(rig: Rig, points: list[_Point]) -> bool:
    """Return whether the reading has come back to zero at the end of the path."""
    last = abs(rig.read(points[-1].evaluation, points[-1].poses))
    return last <= _ZERO * max(abs(rig.read(p.evaluation, p.poses)) for p in points)


def _first(rig: Rig, settings: Settings) -> _Point:
    found = _solved(rig, 0.0, rig.start, rig.network.start_states(), settings) or _lost(rig, 0.0, 0.0)
    return replace(found, rate=rig.heading)


def _advance(rig: Rig, now: _Point, x: float, settings: Settings) -> _Point:
    """Return the rig at `x`, coming from `now` in as many smaller steps as are needed."""
    at, share = now, 1.0
    for _ in range(1 << _HALVINGS):
        goal = x if share == 1.0 else at.x + share * (x - now.x)
        goal = min(goal, x) if x > now.x else max(goal, x)
        new = _from(rig, at, goal, settings)
        if new is not None and (new.stable or share < _ACCEPTED):
            at = new
            if goal == x:
                return at
            share = min(1.0, 2 * share)
            continue
        share /= 2
        if share < 0.5**_HALVINGS:
            break
    return _lost(rig, at.x, x)


def _from(rig: Rig, now: _Point, x: float, settings: Settings) -> _Point | None:
    """Return the rig at `x` one step from `now`, beginning where it was heading; None without equilibrium."""
    guess = now.poses
    if now.rate is not None:
        guess = guess @ pose_exp((x - now.x) * now.rate)
    new = _solved(rig, x, guess, now.states, settings)
    if new is None and now.rate is not None:
        new = _solved(rig, x, now.poses, now.states, settings)
    if new is None or x == now.x:
        return new
    rate = pose_log(now.poses.inverse() @ new.poses) / (x - now.x)
    return replace(new, rate=rate)


def _solved(rig: Rig, x: float, guess: Pose, states: list[State], settings: Settings) -> _Point | None:
    network, target = rig.network, rig.held(x)
    fixed = network.fixed
    rotation = np.where(fixed[None, :, None, None], target.rotation, guess.rotation)
    begin = Pose(rotation, np.where(fixed[None, :, None], target.position, guess.position))
    walls = any(isinstance(g.law, ContactLaw) for g in network.groups)
    run = newton(network, begin, states, 1.0, settings) if walls else iterate(network, begin, states, 1.0, settings)
    if not run.ok[0] and not walls:
        run = newton(network, begin, states, 1.0, settings)
    if not run.ok[0]:
        return None
    exact = network.tangent(run.evaluation, run.poses, exact=True)[0]
    stable = not network.has_potential(run.evaluation) or is_definite(exact)
    return _Point(x, run.poses, run.evaluation, run.evaluation.states, stable)


def _lost(rig: Rig, reached: float, wanted: float) -> _Point:
    raise SolveError(
        f"{rig.name} with {rig.specimen.label}: no equilibrium beyond {rig.quantity} {reached:.4g} {rig.unit} on the "
        f"way to {wanted:.4g}. Try a smaller step, go less far, or less friction"
    )


def _parted(rig: Rig, now: _Point, new: _Point) -> bool:
    before, after = rig.read(now.evaluation, now.poses), rig.read(new.evaluation, new.poses)
    return before > 0 >= after


def _zero(rig: Rig, now: _Point, new: _Point, settings: Settings) -> _Point:
    """Return the rig where the reading comes back to zero, between `now` and `new`: a secant from the loaded side.

    Points beyond only bound the search: what parts there has no reading of its own.
    """
    loaded, bound = now, new.x
    f = scale = rig.read(now.evaluation, now.poses)
    last = rig.read(new.evaluation, new.poses)
    x = now.x + (new.x - now.x) * (f / (f - last) if last < 0 else 0.5)
    for _ in range(_ZERO_STEPS):
        mid = _advance(rig, now, x, settings)
        value = rig.read(mid.evaluation, mid.poses)
        if value > 0:
            slope = (value - f) / (mid.x - loaded.x)
            loaded, f = mid, value
            if f < _ZERO * scale:
                break
            x = loaded.x - f / slope if slope else 0.5 * (loaded.x + bound)
        else:
            bound = x
        if not min(loaded.x, bound) < x < max(loaded.x, bound):
            x = 0.5 * (loaded.x + bound)
        if abs(bound - loaded.x) < _ZERO * abs(new.x - now.x):
            break
    return loaded


def _curve(rig: Rig, points: list[_Point], legs: list[int], permanent: float | None) -> Curve:
    warnings: dict[str, None] = dict.fromkeys(rig.specimen.alloy.warnings())
    strains = []
    for p in points:
        strain = rig.specimen.strains(rig.network.groups[rig.wire], p.states[rig.wire])
        strains.append(float("nan") if strain is None else float(np.abs(strain).max()))
        doubt = rig.check(p.evaluation, p.poses)
        if doubt is not None:
            warnings.setdefault(doubt)
        if not p.stable:
            warnings.setdefault(
                f"{rig.quantity} {p.x:.4g} {rig.unit}: the equilibrium found is unstable; the wire would jump"
            )
    limit = rig.specimen.alloy.strain_limit
    worst = np.nanmax(strains) if not np.isnan(strains).all() else 0.0
    if worst > limit:
        warnings.setdefault(
            f"largest fibre strain {worst:.3g} is beyond what the law holds for ({limit:.3g}); it may break"
        )
    return Curve(
        rig.name, rig.specimen.label, rig.quantity, rig.unit, rig.reading, rig.reading_unit, rig.one_sided,
        np.array([p.x for p in points]),
        np.array([rig.read(p.evaluation, p.poses) for p in points]),
        np.array(legs),
        np.array(strains),
        {name: np.array([read(p.evaluation, p.poses) for p in points]) for name, read in rig.also.items()},
        permanent,
        tuple(warnings),
    )  # fmt: skip
