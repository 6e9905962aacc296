"""A small arch with two wires, solved once for all tests of records, reports and the command line."""

from __future__ import annotations

from functools import cache

from biomech.scenario import Scenario
from biomech.studies import Solution, solve

TEXT = """
format = 1
title = "Six front teeth [with] an overlay"
question = "Does it print?"
note = "Invented case."
[arch]
jaw = "upper"
form = "beta"
width = "56 mm"
depth = "44 mm"
teeth = [13, 12, 11, 21, 22, 23]
[wire.main]
section = "rectangular"
height = "0.019 in"
depth = "0.025 in"
alloy = "stainless as drawn"
elements_per_span = 2
[wire.main.torque]
11 = "15 deg buccal root"
[[wire.main.hold]]
teeth = "all"
by = "slot"
ligature = "steel"
[[wire.main.hold]]
teeth = [13]
by = "tube"
slides = "tied back"
[wire.overlay]
section = "round"
diameter = "0.7 mm"
alloy = "stainless as drawn"
elements_per_span = 2
widen = { left = "3 mm", right = "1 mm" }
out = "1.5 mm"
[[wire.overlay.hold]]
teeth = [13, 23]
by = "tube"
play = "0.1 mm"
[[wire.overlay.hold]]
between = [[11, 21]]
by = "tie"
[[expect]]
output = "teeth.23.force_N.buccal"
min = 0.0
why = "the overlay pushes out where it is widened most"
[[expect]]
output = "teeth.11.moment_at_bracket_N_mm.torque"
max = -1000.0
why = "wrong on purpose"
[[expect]]
output = "teeth.11.crown_mm.bucal"
min = 0.0
why = "misspelt on purpose"
"""


def document() -> dict[str, object]:
    """Return the tables of the case."""
    import tomllib

    return tomllib.loads(TEXT)


@cache
def small() -> Solution:
    """Return the solution of the case."""
    return solve(Scenario.parse(document()))


@cache
def held() -> Solution:
    """Return the solution with rigid teeth."""
    return solve(Scenario.parse({**document(), "ligament": {"law": "rigid"}, "expect": []}))
