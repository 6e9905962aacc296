"""Print the time of a course of two years: 24 visits on the full upper arch, main wire and overlay.

Run from anywhere: OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 python benchmarks/course.py [scenario ...]
Processor time, since others may use the machine; evaluations of the network and equilibria besides, which do not depend
on it.
"""

import os
import sys
import time
from pathlib import Path

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

from biomech.mechanics.network import Network  # noqa: E402
from biomech.movement import march  # noqa: E402
from biomech.scenario import Scenario, load  # noqa: E402
from biomech.studies.course import run_course  # noqa: E402

SCENARIOS = Path(__file__).resolve().parents[1] / "scenarios"
MONTHS = 24


def two_years(name: str) -> Scenario:
    """The scenario with monthly visits: overlay re-activated every fourth, torque at first molars every sixth month."""
    document = load(SCENARIOS / f"{name}.toml").document
    document.pop("expect", None)
    visits = []
    for month in range(1, MONTHS):
        visit = {"after": f"{month} months"}
        if month % 4 == 0:
            visit["reactivate"] = {"overlay": "0.5 mm"}
        if month % 6 == 3:
            visit["torque"] = {"main": {"16": "3 deg buccal root", "26": "3 deg buccal root"}}
        visits.append(visit)
    course = {k: v for k, v in document["course"].items() if k not in ("start", "expect")}
    return Scenario.parse({**document, "course": {**course, "duration": f"{MONTHS} months", "visit": visits}})


def counted(owner, name: str) -> list[int]:
    """Count the calls of a function from now on."""
    calls, plain = [0], getattr(owner, name)

    def call(*args, **kwargs):
        calls[0] += 1
        return plain(*args, **kwargs)

    setattr(owner, name, call)
    return calls


if __name__ == "__main__":
    evaluations, equilibria = counted(Network, "evaluate"), counted(march, "settle")
    for scenario in sys.argv[1:] or ["course-overlay", "course-overlay-torque"]:
        model = two_years(scenario)
        evaluations[0] = equilibria[0] = 0
        begin = time.process_time()
        course = run_course(model)
        spent = time.process_time() - begin
        print(
            f"{scenario}: {spent:.1f} s of processor time, {len(course.times)} moments, {equilibria[0]} equilibria at "
            f"stages, {evaluations[0]} evaluations of the network"
        )
