"""Print measured times of arches whose wires have a memory, beside the same arches with elastic wires.

Run from anywhere: OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 python benchmarks/memory.py
"""

import os
import time
from pathlib import Path

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

from biomech.appliance import build  # noqa: E402
from biomech.mechanics.equilibrium import equilibrium  # noqa: E402
from biomech.scenario import load  # noqa: E402
from biomech.studies.course import run_course  # noqa: E402
from biomech.studies.solve import settings_of  # noqa: E402

SCENARIOS = Path(__file__).parents[1] / "scenarios"
STIFF = {"wire.main.alloy": "nickel-titanium, elastic stand-in", "wire.main.young": "55 GPa"}


def best(run, repeats=5):
    """Smallest processor time in s; the first call warms up and is not counted."""
    run()
    times = []
    for _ in range(repeats):
        t = time.process_time()
        run()
        times.append(time.process_time() - t)
    return min(times)


def arch(name, changes=None):
    scenario = load(SCENARIOS / f"{name}.toml").changed(changes or {})
    appliance = build(scenario)
    settings = settings_of(scenario)
    found = equilibrium(appliance.network, appliance.start, settings=settings)
    seconds = best(lambda: equilibrium(appliance.network, appliance.start, settings=settings))
    building = best(lambda: build(scenario), 3)
    return int(found.steps[0]), building, seconds


def main():
    elastic = {"wire.overlay.alloy": "stainless as drawn", "wire.overlay.widen.left": "12 mm"}
    elastic |= {"wire.overlay.widen.right": "12 mm"}
    rows = [
        ("main wire, elastic", arch("upper-superelastic", STIFF)),
        ("main wire, superelastic", arch("upper-superelastic")),
        ("overlay widened by 12 mm a side, elastic", arch("upper-overlay", elastic)),
        ("overlay opened by 12 mm a side by hand, yielding", arch("upper-overlay-opened")),
    ]
    print(f"{'arch':<50}{'Newton steps':>14}{'build, s':>12}{'solve, s':>12}")
    for name, (steps, building, seconds) in rows:
        print(f"{name:<50}{steps:>14}{building:>12.3f}{seconds:>12.3f}")
    for changes in (STIFF, {}):
        scenario = load(SCENARIOS / "course-superelastic.toml").changed(changes)
        t = time.process_time()
        course = run_course(scenario)
        kind, seconds = "elastic" if changes else "superelastic", time.process_time() - t
        print(f"course, {kind}: {seconds:.1f} s, {len(course.times)} moments")


if __name__ == "__main__":
    main()
