"""Print the time of films: two courses of a year with 120 pictures of 800 x 600, and two teeth in section.

Run from anywhere: OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 python benchmarks/film.py
Drawing and encoding alone, once the courses are run. Processor time of all processes, since others may use the machine;
time on the clock besides, which on a busy machine says little.
"""

import os
import resource
import tempfile
import time
from pathlib import Path

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

from biomech.render.animate import animate_courses, animate_sections, course_data  # noqa: E402
from biomech.render.probe import ensure_drawing  # noqa: E402
from biomech.scenario import load  # noqa: E402
from biomech.studies import solve  # noqa: E402
from biomech.studies.course import run_course  # noqa: E402

SCENARIOS = Path(__file__).resolve().parents[1] / "scenarios"
COURSES = ("course-overlay", "course-overlay-torque")
SECTIONS = ("upper-overlay", "upper-overlay-molar-torque-21")


def used() -> float:
    """Processor time, s, of this process and those it has ended."""
    return sum(
        sum(resource.getrusage(who)[:2]) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )


def measured(name: str, make) -> None:
    begin, clock = used(), time.perf_counter()
    make()
    print(f"{name}: {used() - begin:.1f} s of processor time, {time.perf_counter() - clock:.1f} s on the clock")


if __name__ == "__main__":
    ensure_drawing()
    scenarios = {name: load(SCENARIOS / f"{name}.toml") for name in (*COURSES, *SECTIONS)}
    courses = [course_data(run_course(scenarios[name])) for name in COURSES]
    solutions = [solve(scenarios[name]) for name in SECTIONS]
    with tempfile.TemporaryDirectory() as folder:
        for ending in ("mp4", "gif"):
            out = Path(folder) / f"a.{ending}"
            for jobs in (1, 2):
                measured(f"{ending}, two courses, {jobs} drawing", lambda: animate_courses(courses, out, jobs=jobs))
            measured(f"{ending}, two sections", lambda: animate_sections(solutions, out))
