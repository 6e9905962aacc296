"""The solid ligament: mesh study with Richardson's estimate, cost, and what the judge costs.

    OPENBLAS_NUM_THREADS=1 python benchmarks/solid.py

Case P: paraboloid R 3.9, L 13 mm, thickness 0.229 mm, E 0.68 MPa, rigid root and socket. Elements over the root and
through the layer are refined together; the limit and the order are those of the power law through three meshes.
"""

from __future__ import annotations

import os
import time

import numpy as np
from scipy.optimize import brentq

from biomech import solid
from biomech.ligaments import make_ligament
from biomech.solid.whole import whole
from biomech.tooth import make_tooth
from biomech.tooth.roots import Paraboloid

os.environ["BIOMECH_CACHE"] = "off"
ROOT = Paraboloid(3.9, 3.9, 13.0)
NAMES = ("K_yy", "K_xx", "K_tor", "x_CR/L", "sigma2")
MESHES = ((1.0, 2), (1.5, 3), (2.0, 4))


def law(poisson):
    return make_ligament("linear", young=0.68, poisson=poisson, thickness=0.229)


def five(k):
    sigma = (k[4, 4] - k[0, 4] ** 2 / k[0, 0]) / k[0, 0]
    return np.array([k[0, 0], k[2, 2], k[5, 5], k[0, 4] / k[0, 0] / 13.0, sigma])


def limit(values):
    """Return (limit, order) of v = limit + c h^order at h = 1, 1/1.5, 1/2; the last value where there is none."""
    a, b, c = values
    h = [1.0 / fineness for fineness, _ in MESHES]

    def misfit(order):
        return (a - b) * (h[1] ** order - h[2] ** order) - (b - c) * (h[0] ** order - h[1] ** order)

    if (a - b) * (b - c) <= 0.0 or misfit(0.3) * misfit(8.0) > 0.0:
        return c, np.nan
    order = brentq(misfit, 0.3, 8.0)
    return c - (b - c) * h[2] ** order / (h[1] ** order - h[2] ** order), order


def study():
    print("| nu | limit: " + " | ".join(NAMES) + " | away at the default, % | of one layer, % | order |")
    print("|---|" + "---|" * (len(NAMES) + 3))
    for poisson in (0.30, 0.45, 0.49, 0.499):
        rows = np.array([five(solid.support(ROOT, law(poisson), fineness=f, layers=n).stiffness) for f, n in MESHES])
        found = [limit(column) for column in rows.T]
        best = np.array([value for value, _ in found])
        one = five(solid.support(ROOT, law(poisson), layers=1).stiffness)
        away, thin = (" ".join(f"{100 * x:+.2f}" for x in v / best - 1.0) for v in (rows[0], one))
        orders = " ".join("-" if np.isnan(p) else f"{p:.1f}" for _, p in found)
        numbers = " | ".join(f"{x:.5g}" for x in best)
        print(f"| {poisson} | {numbers} | {away} | {thin} | {orders} |", flush=True)


def best_of(count, do):
    wall, cpu = [], []
    for _ in range(count):
        start = time.perf_counter(), time.process_time()
        out = do()
        wall.append(time.perf_counter() - start[0])
        cpu.append(time.process_time() - start[1])
    return out, min(wall), min(cpu)


def cost():
    print("\n| | unknowns | wall s | processor s |\n|---|---|---|---|")

    def row(name, unknowns, wall, cpu):
        print(f"| {name} | {unknowns} | {wall:.2f} | {cpu:.2f} |", flush=True)

    for fineness, layers in ((1.0, 1), (1.0, 2), (1.5, 2), (2.0, 2)):
        found, *t = best_of(5, lambda f=fineness, n=layers: solid.support(ROOT, law(0.49), fineness=f, layers=n))
        row(f"6x6, fineness {fineness:g}, {layers} layer(s)", found.unknowns, *t)
    tooth, soft = make_tooth(11), make_ligament("linear", young=0.68, poisson=0.49)
    for bone in (0.0, 4.0):
        found, *t = best_of(2, lambda b=bone: whole(tooth, soft, bone=b))
        row(f"tooth 11 deformable, {f'{bone:g} mm of bone' if bone else 'rigid socket'}", found.unknowns, *t)
    mesh = solid.support(ROOT, law(0.49)).mesh
    try:
        from biomech.solid.judge import sfepy_stiffness

        _, *t = best_of(3, lambda: sfepy_stiffness(mesh.points, mesh.hexes, 0.68, 0.49))
        row("stiffness of the default mesh assembled by sfepy, imports done", 3 * len(mesh.points), *t)
    except ImportError:
        print("sfepy is not installed")


if __name__ == "__main__":
    study()
    cost()
