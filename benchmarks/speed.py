"""Print measured times of the solver: benchmarks A, B, C, cost against elements, batches, where the time goes.

Run from anywhere: OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 python benchmarks/speed.py
"""

import cProfile
import os
import pstats
import time

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

from dataclasses import replace  # noqa: E402

import numpy as np  # noqa: E402
from _models import beams  # noqa: E402

from biomech.mechanics import stability  # noqa: E402
from biomech.mechanics.equilibrium import equilibrium  # noqa: E402


def best(run, repeats=7):
    """Smallest wall time in ms; the first call warms up and is not counted."""
    run()
    times = []
    for _ in range(repeats):
        t = time.perf_counter()
        run()
        times.append(time.perf_counter() - t)
    return 1e3 * min(times)


def table(title, rows, head):
    print(f"\n{title}\n" + "".join(f"{h:>16}" for h in head))
    for row in rows:
        print("".join(f"{x:>16.4g}" if isinstance(x, float) else f"{x!s:>16}" for x in row))


def single_solves():
    rows = []
    for name, model in (
        ("A, 32 elements", beams.benchmark_a(32, 600)),
        ("A, 8 elements", beams.benchmark_a(8, 600)),
        ("B, 28 elements", beams.benchmark_b(4)),
        ("B, 77 elements", beams.benchmark_b(11)),
        ("C, 52 + 28", beams.benchmark_c(4)),
        ("C, 117 + 77", beams.benchmark_c(9, overlay_each=11)),
    ):
        e = model.solve()
        ms = best(lambda model=model: model.solve())
        rows.append((name, model.network.unknowns, model.network.band, int(e.steps[0]), ms))
    table("Equilibrium of one variant", rows, ("model", "unknowns", "band", "Newton steps", "ms"))


def cold_start():
    """Building the network, numbering and solving, all from the stations: what one fresh scenario costs."""

    def run():
        beams.benchmark_c(4).solve()

    table("C from scratch (build, number, solve)", [("4 a span", best(run))], ("mesh", "ms"))


def cost_against_elements():
    rows = []
    for each in (2, 4, 8, 16, 32, 64):
        model = beams.benchmark_c(each)
        ms = best(model.solve, repeats=3)
        elements = sum(len(g) for g in model.network.groups[:2])
        rows.append((each, elements, ms, 1e3 * ms / elements))
    table("C: cost against elements", rows, ("a span", "elements", "ms", "us per element"))


def batch(variants=256):
    """Variants of C that differ in the stiffness of the overlay."""
    model = beams.benchmark_c(4)
    factors = np.linspace(0.5, 1.5, variants)
    law = model.network.groups[1].law

    def with_law(stiffness):
        groups = list(model.network.groups)
        groups[1] = groups[1].with_law(replace(law, stiffness=stiffness))
        return model.network.replaced(groups)

    def one_at_a_time():
        for f in factors:
            equilibrium(with_law(law.stiffness * f), beams.batch(model.start))

    rows = [("one at a time", 1, best(one_at_a_time, 2) / variants)]
    for size in (4, 16, 64, 256):

        def together(size=size):
            for part in np.split(factors, variants // size):
                e = equilibrium(with_law(law.stiffness * part[:, None, None, None]), beams.batch(model.start, size))
                assert e.converged.all()

        rows.append(("batch", size, best(together, 2) / variants))
    table(f"C, {variants} variants", rows, ("how", "together", "ms per variant"))


def unstable():
    """C with ties of 50 N/mm, whose first equilibrium is unstable: all, and the part spent on leaving it."""
    leave = stability.leave_unstable
    spent = []

    def timed(*args):
        t = time.perf_counter()
        out = leave(*args)
        spent.append(1e3 * (time.perf_counter() - t))
        return out

    stability.leave_unstable = timed
    rows = []
    for each in (4, 8, 16):
        model = beams.passive_start(beams.benchmark_c(each, tie=50.0))
        spent.clear()
        rows.append((each, best(model.solve, 5), min(spent)))
    stability.leave_unstable = leave
    table("C, ties of 50 N/mm", rows, ("a span", "ms in all", "ms leaving"))


def profile():
    model = beams.benchmark_c(4)
    model.solve()
    run = cProfile.Profile()
    run.enable()
    for _ in range(40):
        model.solve()
    run.disable()
    stats = pstats.Stats(run).strip_dirs()
    total = stats.total_tt
    names = {
        "evaluate": "network.py", "tangent": "network.py", "residual": "network.py", "solve_each": "steps.py",
        "moved": "steps.py", "predict": "steps.py", "energy": "network.py",
    }  # fmt: skip
    rows = []
    for (file, _, name), (_, _, _, cumulative, _) in stats.stats.items():
        if names.get(name) == file:
            rows.append((name, 1e3 * cumulative / 40, 100 * cumulative / total))
    rows.sort(key=lambda r: -r[1])
    table("C, 4 a span: where the time goes (with profiler overhead)", rows, ("part", "ms", "per cent"))


if __name__ == "__main__":
    single_solves()
    cold_start()
    cost_against_elements()
    batch()
    unstable()
    profile()
