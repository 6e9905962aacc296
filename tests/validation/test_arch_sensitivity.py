"""Derivatives of a whole arch's crown displacements against central differences of full solves.

The exact derivative needs one factorisation at the solution; the rates of the links' stresses at fixed configuration
are differences of the laws alone, without a solve.
"""

import numpy as np
import pytest
from arches import crowns, scenario, solve

from biomech.appliance import build

BASE = "upper-overlay-torque-20"
TIGHT = 1e-12
CASES = {
    "diameter of the overlay": ("wire.overlay.diameter", lambda x: f"{x!r} mm", 1.0, 1e-4),
    "modulus of the overlay": ("wire.overlay.young", lambda x: f"{x!r} GPa", 180.0, 1e-2),
    "modulus of the main wire": ("wire.main.young", lambda x: f"{x!r} GPa", 180.0, 1e-2),
    "torque at 16": ("wire.main.torque.16", lambda x: f"{x!r} deg buccal root", 20.0, 1e-3),
    "widening of one side": ("wire.overlay.widen.left", lambda x: f"{x!r} mm", 6.0, 1e-3),
}


def stress_rates(make, base, h):
    """dm/dp of every group at the fixed poses of `base`."""
    appliance, e = base
    plus, minus = (build(make(s * h)).network for s in (1, -1))
    rates = {}
    for i, group in enumerate(appliance.network.groups):
        strain = group.strain(e.poses)
        state = e.states[i]
        up, down = (n.groups[i].law.respond(n.groups[i].strain(e.poses), state).stress for n in (plus, minus))
        assert strain.shape == up.shape
        rates[i] = (up - down)[0] / (2 * h)
    return rates


def crown_rates(appliance, e, steps):
    """Body twists (frames, 6) as displacement rates of crown edge and apex, global axes."""
    out = []
    for part in appliance.teeth.values():
        v, w = steps[part.frame, :3], steps[part.frame, 3:]
        rotation = e.poses.rotation[0, part.frame]
        marks = (part.tooth.landmark("edge"), part.tooth.landmark("apex"))
        out.append([rotation @ (v + np.cross(w, mark)) for mark in marks])
    return np.array(out)


@pytest.mark.parametrize("what", CASES)
def test_crown_displacements(what):
    key, text, value, h = CASES[what]
    here = scenario(BASE)

    def make(change):
        return here.changed({key: text(value + change)})

    base = solve(make(0.0), tolerance=TIGHT)
    rate = base[1].residual_rate(stress_rates(make, base, h))
    exact = crown_rates(*base, base[1].sensitivity(rate)[0])
    plus, minus = (crowns(*solve(make(s * h), tolerance=TIGHT)) for s in (1, -1))
    numeric = (plus - minus) / (2 * h)
    scale = np.abs(numeric).max()
    assert scale > 0
    assert np.abs(exact - numeric).max() < 1e-4 * scale


def test_with_friction():
    hold = [
        {"teeth": "all", "by": "slot", "ligature": "steel", "slides": "friction", "friction": 0.3},
        {"teeth": [16, 26], "by": "tube", "slides": "free"},
        {"teeth": [17, 27], "by": "tube", "slides": "tied back"},
    ]
    here = scenario(BASE).changed({"wire.main.hold": hold})

    def make(change):
        return here.changed({"wire.overlay.diameter": f"{1.0 + change!r} mm"})

    h = 1e-4
    base = solve(make(0.0), tolerance=TIGHT)
    fresh = base[0].network.start_states()
    e = base[1]
    plus, minus = (build(make(s * h)).network for s in (1, -1))
    rates = {
        i: (plus.groups[i].law.respond(g.strain(e.poses), fresh[i]).stress
            - minus.groups[i].law.respond(g.strain(e.poses), fresh[i]).stress)[0] / (2 * h)
        for i, g in enumerate(base[0].network.groups)
    }  # fmt: skip
    exact = crown_rates(*base, e.sensitivity(e.residual_rate(rates))[0])
    a, b = (crowns(*solve(make(s * h), tolerance=TIGHT)) for s in (1, -1))
    numeric = (a - b) / (2 * h)
    assert np.abs(exact - numeric).max() < 1e-4 * np.abs(numeric).max()
