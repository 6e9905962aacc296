"""Alloys made up for checks, and walks along strain paths."""

import numpy as np

from biomech.alloys import Superelastic, Yielding

_SAID = {"young_range": (1.0, 1e9), "elastic_limit_range": (1.0, 1e9), "source": "made up", "seen": "made up"}


def plateau(young=60e3, limit=600.0, poisson=0.3):
    """Elastic, ideally plastic."""
    return Yielding("plateau", young, poisson, limit, **_SAID, curve=((limit / young, limit),))


def bilinear(young=200e3, limit=1000.0, hardening=10e3):
    return Yielding("bilinear", young, 0.3, limit, **_SAID, curve=((limit / young, limit),), hardening=hardening)


def superelastic(martensite=60e3, **values):
    """The set of corner points (0.008667, 520), (0.080, 600), (0.075, 300), (0.003333, 200), unless changed."""
    given = {
        "start_stress": 520.0, "finish_stress": 600.0, "back_start_stress": 300.0, "back_finish_stress": 200.0,
        "length": 0.07, "fracture_strain": 0.2,
    } | values  # fmt: skip
    return Superelastic("superelastic", 60e3, 0.3, 1000.0, **_SAID, martensite=martensite, **given)


def walk(law, path, state=None):
    """Return stress (p,), tangent (p,), work done so far (p,) and the last state along strains `path`."""
    state = law.start() if state is None else state
    stress, tangent, work = [], [], [0.0]
    for value in path:
        strain = np.asarray(value, dtype=float)
        work.append(work[-1] + float(law.work(strain, state)))
        answer = law.respond(strain, state)
        state = answer.state
        stress.append(float(answer.stress))
        tangent.append(float(answer.tangent))
    return np.array(stress), np.array(tangent), np.array(work[1:]), state
