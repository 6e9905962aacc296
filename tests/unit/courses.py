"""A small course for the tests of comparisons: six teeth, two visits, a rule; and a comparison of it."""

from __future__ import annotations

import atexit
from functools import lru_cache
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp

from biomech.scenario import Scenario, load
from biomech.studies.compare_courses import CourseComparison, compare_courses
from biomech.studies.variants import vary

TEXT = """
format = 1
title = "six teeth"

[arch]
jaw = "upper"
form = "beta"
width = "62 mm"
depth = "45 mm"
teeth = [13, 12, 11, 21, 22, 23]

[ligament]
law = "linear"

[wire.main]
section = "rectangular"
height = "0.019 in"
depth = "0.025 in"
alloy = "beta-titanium"
elements_per_span = 1

[[wire.main.hold]]
teeth = "all"
by = "slot"
ligature = "steel"

[wire.overlay]
section = "round"
diameter = "0.8 mm"
alloy = "stainless as drawn"
out = "1.5 mm"
ends = "1 mm"
elements_per_span = 1
widen = {each_side = "1 mm"}

[[wire.overlay.hold]]
teeth = [13, 11, 21, 23]
by = "tie"
material = "elastomeric"

[course]
start = 2025-01-01
duration = "6 weeks"
tolerance = 1e-2

[[course.visit]]
date = 2025-01-15
reactivate = {overlay = "0.5 mm"}

[[course.visit]]
after = "4 weeks"
remove = ["overlay"]
note = "overlay done"
"""
KEY = "course.visit[1].reactivate.overlay"
VALUES = ["0 mm", "0.5 mm", "1 mm"]


@lru_cache(maxsize=1)
def folder() -> Path:
    """Return a folder with the file case.toml, and legs of what was run."""
    path = Path(mkdtemp(prefix="courses-"))
    atexit.register(rmtree, path, ignore_errors=True)
    (path / "case.toml").write_text(TEXT, encoding="utf-8")
    return path


def scenario() -> Scenario:
    """Return the scenario of the file."""
    return load(folder() / "case.toml")


@lru_cache(maxsize=1)
def compared() -> CourseComparison:
    """Return three re-activations side by side, run in two processes and kept in the folder's legs."""
    return compare_courses(vary(scenario(), KEY, VALUES), keys=[KEY], jobs=2, folder=folder() / "legs")
