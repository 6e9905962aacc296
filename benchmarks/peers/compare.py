"""Time outside general-purpose beam engines next to this package on benchmarks A and C.

OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 python benchmarks/peers/compare.py

Solve call only, one thread. Each engine gets the fewest load steps with which it converges to the right answer.
Errors are relative to the largest reference displacement component. Engines that are not installed are left out.
"""

import importlib
import os
import sys
from functools import partial
from pathlib import Path

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np  # noqa: E402
from _models import beams  # noqa: E402
from speed import best, table  # noqa: E402

TIP = np.array([15.68469, 47.15010, 53.47548]) - [100 * (1 - np.sqrt(0.5)), 100 * np.sqrt(0.5), 0.0]
REPEATS = 5


def engine(name):
    try:
        return importlib.import_module(name)
    except ImportError as reason:
        print(f"{name}: left out ({reason})")
        return None


def fewest_steps(run, error, allowed=0.05):
    """(load steps, error, best ms) for the fewest load steps with a right answer, or None."""
    for steps in (1, 2, 3, 4, 5, 7, 10, 20, 40):
        try:
            found, _ = run(steps=steps)
        except Exception:
            continue
        if np.isfinite(found).all() and error(found) < allowed:
            return steps, float(error(found)), float(min(run(steps=steps)[1] for _ in range(REPEATS)))
    return None


def error_a(u):
    return np.abs(u - TIP).max() / np.abs(TIP).max()


def error_c(u):
    fine = beams.benchmark_c(24)
    reference = beams.displacement(fine.solve(), fine, fine.at["teeth"])
    return float((np.abs(u - reference).max(axis=0) / np.abs(reference).max(axis=0)).max())


def ours(model, frames, error, **settings):
    e = model.solve(**settings)
    return error(beams.displacement(e, model, frames)), best(lambda: model.solve(**settings))


def benchmark_a():
    rows = []
    for n in (4, 8, 32):
        rows.append(("this package", n, 1, *ours(beams.benchmark_a(n, 600), -1, error_a)))
    kratos, exudyn = engine("kratos"), engine("exudyn_beams")
    for n in (32, 128) if kratos else ():
        found = fewest_steps(partial(kratos.benchmark_a, n), error_a)
        rows.append(("kratos", n, *(found or ("none", np.nan, np.nan))))
    for n in (32, 128) if exudyn else ():
        found = fewest_steps(partial(exudyn.benchmark_a, beams.benchmark_a(n, 600)), error_a)
        rows.append(("exudyn", n, *(found or ("none", np.nan, np.nan))))
    table("A, tip load 600", rows, ("engine", "elements", "load steps", "error", "ms"))
    ratios(rows)


def benchmark_c():
    rows = []
    for n in (2, 4, 8):
        model = beams.benchmark_c(n)
        rows.append(("this package", 20 * n, 1, *ours(model, model.at["teeth"], error_c)))
    module = engine("exudyn_beams")
    for n, o in ((9, 11), (18, 22), (36, 44)) if module else ():
        model = beams.benchmark_c(n, overlay_each=o)
        found = fewest_steps(partial(module.benchmark_c, model), error_c)
        rows.append(("exudyn", 13 * n + 7 * o, *(found or ("none", np.nan, np.nan))))
    table("C, two wires and twelve teeth", rows, ("engine", "elements", "load steps", "error", "ms"))
    ratios(rows)


def ratios(rows):
    """For every outside row: our cheapest mesh that is at least as accurate, and the ratio of the times."""
    for name, n, _, error, ms in rows:
        enough = [(r[4], r[1]) for r in rows if r[0] == "this package" and r[3] <= error]
        if name != "this package" and enough:
            mine, elements = min(enough)
            print(f"  {name} {n} elements, error {error:.1e}: {ms / mine:.0f} times our {elements} elements")


if __name__ == "__main__":
    benchmark_a()
    benchmark_c()
