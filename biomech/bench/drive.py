"""Take a rig along a path: an equilibrium at every point, the wire's memory carried on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from biomech.bench.curve import Curve, place
from biomech.bench.limits import fibre_stress, past_words, set_words, share_of_limit
from biomech.bench.path import goes_back, path
from biomech.bench.rig import Rig
from biomech.errors import InputError, SolveError
from biomech.mechanics.banded import is_definite
from biomech.mechanics.contact import ContactLaw
from biomech.mechanics.links import State
from biomech.mechanics.network import Evaluation, Network
from biomech.mechanics.newton import Run, Settings, elastic_network, iterate, newton
from biomech.mechanics.poses import Pose, pose_exp, pose_log

Progress = Callable[[str, float], None]
_HALVINGS = 10
UNKNOWN = 0.05
"""Fibre strain from which a wire without a known strain at break is doubted. Assumed."""
_ZERO_STEPS = 40
_ZERO = 1e-6
"""Reading, as a part of that before, and share of a step, that count as none."""
_FEEL = 0.05
"""Share of a step by which the rig first follows a wire that pushes again."""
_ROUGH, _NEAR = 0.1, 10
"""Residual at which the wire may be its own again, and the steps it may then take."""
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
    temperature: float
    rate: np.ndarray | None = None


def drive(
    rig: Rig,
    turns: Sequence[float],
    *,
    step: float,
    stops: Sequence[float] = (),
    temperatures: Sequence[float | None] = (),
    settings: Settings = _SETTINGS,
    progress: Progress | None = None,
) -> Curve:
    """Return the curve of a rig driven from 0 through `turns` in steps of at most `step`, mm or rad.

    It halts at `stops` on its way. `temperatures`, C, are those at the turns (see `path`); the wire's memory goes on
    from one temperature to the next.

    On the way back a one-sided rig stops where the reading reaches zero; what deflection is left there is the permanent
    one. Warmed or cooled after that, the wire lies loose and the deflection left is found anew. A rig that can pull is
    followed to the end, and the last crossing of zero on the way back is reported. Raises InputError for a temperature
    outside the alloy's law, SolveError, naming set-up, wire and value, where no equilibrium is found.
    """
    halts = path(turns, step, stops, temperatures, rig.specimen.temperature)
    if rig.one_sided and min(turns) < 0:
        raise InputError(
            f"{rig.name}: the path goes to {min(turns):g} {rig.unit}, but this rig only pushes; at least 0 {rig.unit}"
        )
    for temperature in {t for t in temperatures if t is not None}:
        rig.at(temperature)
    back = [goes_back(*pair) for pair in pairwise([0.0, *turns])]
    now = _first(rig, settings)
    points, legs, permanent, loose = [now], [0], None, False
    for number, halt in enumerate(halts[1:]):
        if loose and halt.x <= now.x and halt.temperature == now.temperature:
            continue
        if progress is not None:
            progress(f"{rig.name}: {rig.specimen.label}", number / len(halts))
        now = new = _at_temperature(rig, now, halt.temperature, settings)
        here = rig.at(halt.temperature)
        most = max(abs(rig.read(p.evaluation, p.poses)) for p in points)
        if loose and halt.x <= now.x:
            if _pushes(here, now, most):
                new = _released(here, now, halt.x, step, settings, most)
                permanent, loose = new.x, not _pushes(here, new, most)
        else:
            new = _advance(here, now, halt.x, settings)
            let_go = back[halt.leg] and _parted(here, now, new)
            if let_go:
                zero = _zero(here, now, new, settings, most)
                permanent = zero.x
                new = zero if rig.one_sided else new
            loose = let_go and rig.one_sided
        points.append(new)
        legs.append(halt.leg)
        now = new
    if permanent is None and back[legs[-1]] and _nothing_left(rig, points):
        permanent = points[-1].x
    return _curve(rig, points, legs, permanent)


def _pushes(rig: Rig, now: _Point, most: float) -> bool:
    return rig.read(now.evaluation, now.poses) > _ZERO * most


def _released(rig: Rig, now: _Point, goal: float, step: float, settings: Settings, most: float) -> _Point:
    """Return the rig where a wire that pushes again has let go of it, at `goal` at the latest."""
    at, reach = now, _FEEL * step
    while at.x > goal:
        new = _advance(rig, at, max(goal, at.x - reach), settings)
        if rig.read(new.evaluation, new.poses) <= 0:
            return _zero(rig, at, new, settings, most)
        at, reach = new, 2 * reach
    return at


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


def _at_temperature(rig: Rig, now: _Point, wanted: float, settings: Settings) -> _Point:
    """Return the rig held where it is and brought to a temperature, C, in as many smaller steps as are needed."""
    at, share = now, 1.0
    while at.temperature != wanted:
        goal = wanted if share == 1.0 else at.temperature + share * (wanted - at.temperature)
        new = _solved(rig.at(goal), at.x, at.poses, at.states, settings)
        if new is not None:
            at, share = new, min(1.0, 2 * share)
        elif (share := share / 2) < 0.5**_HALVINGS:
            raise SolveError(
                f"{rig.name} with {rig.specimen.label}: no equilibrium beyond {at.temperature:.4g} C at "
                f"{place(rig.quantity, at.x, rig.unit)} on the way to {wanted:.4g} C. Try a smaller "
                "step, or less friction"
            )
    return at


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
    run = None if walls else _smooth(network, begin, states, settings)
    if run is None or not run.ok[0]:
        run = newton(network, begin, states, 1.0, settings)
    if not run.ok[0]:
        return None
    exact = network.tangent(run.evaluation, run.poses, exact=True)[0]
    stable = not network.has_potential(run.evaluation) or is_definite(exact)
    return _Point(x, run.poses, run.evaluation, run.evaluation.states, stable, rig.specimen.temperature)


def _smooth(network: Network, begin: Pose, states: list[State], settings: Settings) -> Run:
    """Seek equilibrium without contacts: roughly with an elastic wire first, which costs little, then with its own law.

    From there its law needs two thirds of the steps, and does not run away where the wire begins to be let go.
    """
    stiff = elastic_network(network, states)
    if stiff is not None:
        rough = iterate(stiff, begin, states, 1.0, replace(settings, tolerance=_ROUGH))
        if rough.ok[0]:
            begin, settings = rough.poses, replace(settings, max_steps=min(_NEAR, settings.max_steps))
    return iterate(network, begin, states, 1.0, settings)


def _lost(rig: Rig, reached: float, wanted: float) -> _Point:
    raise SolveError(
        f"{rig.name} with {rig.specimen.label}: no equilibrium beyond {place(rig.quantity, reached, rig.unit)} on the "
        f"way to {place('', wanted, rig.unit).strip()}. Try a smaller step, go less far, or less friction"
    )


def _parted(rig: Rig, now: _Point, new: _Point) -> bool:
    before, after = rig.read(now.evaluation, now.poses), rig.read(new.evaluation, new.poses)
    return before > 0 >= after


def _zero(rig: Rig, now: _Point, new: _Point, settings: Settings, most: float) -> _Point:
    """Return the rig where the reading comes back to zero, between `now` and `new` (regula falsi, Illinois).

    Every trial sets off from the last point that was loaded, so that the wire comes there as it would. Zero is what is
    small beside the largest reading, `most`.
    """
    loaded, beyond = now, new.x
    f, g, side = rig.read(now.evaluation, now.poses), rig.read(new.evaluation, new.poses), 0
    for _ in range(_ZERO_STEPS):
        x = loaded.x + (beyond - loaded.x) * (f / (f - g) if f > g else 0.5)
        mid = _advance(rig, loaded, x, settings)
        value = rig.read(mid.evaluation, mid.poses)
        if abs(value) < _ZERO * most:
            return mid
        if value > 0:
            loaded, f, g, side = mid, value, 0.5 * g if side > 0 else g, 1
        else:
            beyond, g, f, side = x, value, 0.5 * f if side < 0 else f, -1
        if abs(beyond - loaded.x) < _ZERO * abs(new.x - now.x):
            break
    return loaded


def _curve(rig: Rig, points: list[_Point], legs: list[int], permanent: float | None) -> Curve:
    coldest = min(p.temperature for p in points)
    warnings: dict[str, None] = dict.fromkeys(rig.at(coldest).specimen.response.alloy.warnings())
    strains = []
    for p in points:
        strain = rig.specimen.strains(rig.network.groups[rig.wire], p.states[rig.wire])
        strains.append(float("nan") if strain is None else float(np.abs(strain).max()))
        doubt = rig.check(p.evaluation, p.poses)
        if doubt is not None:
            warnings.setdefault(doubt)
        if not p.stable:
            warnings.setdefault(
                f"{place(rig.quantity, p.x, rig.unit)}: the equilibrium found is unstable; the wire would jump"
            )
    limit = rig.specimen.alloy.strain_limit
    worst = np.nanmax(strains) if not np.isnan(strains).all() else 0.0
    if worst > limit:
        warnings.setdefault(
            f"largest fibre strain {worst:.3g} is beyond what the law holds for ({limit:.3g}); it may break"
        )
    elif not np.isfinite(limit) and worst > UNKNOWN:
        warnings.setdefault(
            f"largest fibre strain {100 * worst:.0f} %: at which strain this alloy breaks is not known to the program, "
            "and its curve is assumed there; a real wire may kink or break"
        )
    curve = Curve(
        rig.name, rig.specimen.label, rig.quantity, rig.unit, rig.reading, rig.reading_unit, rig.one_sided,
        np.array([p.x for p in points]),
        np.array([rig.read(p.evaluation, p.poses) for p in points]),
        np.array(legs),
        np.array(strains),
        {name: np.array([read(p.evaluation, p.poses) for p in points]) for name, read in rig.also.items()},
        permanent,
        (),
        np.array([p.temperature for p in points]),
        np.array([share_of_limit(rig, p.evaluation) for p in points]),
    )  # fmt: skip
    stress = [fibre_stress(rig.at(p.temperature), p.states[rig.wire]) for p in points]
    told = (past_words(curve, rig.specimen.alloy), set_words(rig, curve.x.tolist(), stress))
    return replace(curve, warnings=(*(words for words in told if words is not None), *warnings))
