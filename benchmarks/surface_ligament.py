"""Print what the surface ligament costs, how fine it is, how far from a solid, and what it changes in an arch.

Run from anywhere: OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 python benchmarks/surface_ligament.py [cost mesh solid arch]
"""

import os
import sys
import tempfile
import time
from pathlib import Path

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
os.environ["BIOMECH_CACHE"] = "off"

import numpy as np  # noqa: E402

from biomech.ligaments import make_ligament  # noqa: E402
from biomech.tooth import make_tooth  # noqa: E402
from biomech.tooth.layer.film import film_support, moduli  # noqa: E402
from biomech.tooth.layer.furcation import root_layer  # noqa: E402
from biomech.tooth.layer.supports import Profile, edge_height, embedded_root, forget, surface_support  # noqa: E402
from biomech.tooth.resistance import centre_of_resistance  # noqa: E402
from biomech.tooth.support import support_matrix  # noqa: E402

SCENARIOS = Path(__file__).parents[1] / "scenarios"
ARCH = (17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27)
RATIOS = (0.30, 0.45, 0.49, 0.499)


def best(run, repeats=15):
    """Smallest processor time in ms; the first call warms up and is not counted."""
    run()
    times = []
    for _ in range(repeats):
        start = time.process_time()
        run()
        times.append(time.process_time() - start)
    return 1e3 * min(times)


def table(title, head, rows):
    print(f"\n{title}\n" + "".join(f"{h:>15}" for h in head))
    for row in rows:
        print("".join(f"{x:>15.4g}" if isinstance(x, float) else f"{x!s:>15}" for x in row))


def fresh(number, nu):
    forget()
    return surface_support(make_tooth(number), make_ligament("linear", poisson=nu))


def cost():
    rows = []
    for number in (11, 13, 14, 16, 36):
        for nu in (0.30, 0.49):
            layer, profile = moduli(0.05, nu), Profile(0.2)
            mesh = root_layer(*embedded_root(make_tooth(number)), profile.over(1.5, 13), edge_height(layer, profile))
            rows.append((number, nu, len(mesh.points), best(lambda n=number, v=nu: fresh(n, v))))
    table("One tooth, processor time", ("tooth", "nu", "nodes", "ms"), rows)
    law, teeth = make_ligament("linear", poisson=0.49), [make_tooth(n) for n in ARCH]

    def arch():
        forget()
        for tooth in teeth:
            surface_support(tooth, law)

    rows = [("computed", best(arch, 5))]
    with tempfile.TemporaryDirectory() as folder:
        os.environ["BIOMECH_CACHE"] = folder
        rows.append(("read from disk", best(arch, 5)))
        os.environ["BIOMECH_CACHE"] = "off"
    table("Fourteen teeth", ("", "ms"), rows)


def mesh():
    rows = []
    for number in (11, 16):
        for nu in RATIOS:
            k = []
            for fineness in (1, 2, 3):
                layer, profile = moduli(0.05, nu), Profile(0.2)
                top = 1.5
                net = root_layer(
                    *embedded_root(make_tooth(number)), profile.over(top, 13.0), edge_height(layer, profile) / fineness,
                    fineness=fineness,
                )  # fmt: skip
                k.append(np.diag(film_support(net, layer).stiffness))
            error = 100 * (k[0] / k[2] - 1)
            rows.append((number, nu, *(float(x) for x in error)))
    head = ("tooth", "nu", "K mesial %", "K buccal %", "K axial %", "torque %", "tip %", "rotation %")
    table("Error of the everyday mesh against one three times as fine", head, rows)


def at_bracket(k, tooth):
    point, force = tooth.landmarks["bracket"], np.array([0.0, 1.0, 0.0])
    q = np.linalg.solve(k, np.concatenate([force, np.cross(point, force)]))
    return float(q[1] + np.cross(q[3:], point)[1])


def solid():
    from biomech.solid.support import support

    rows = []
    for number in (11, 12, 13, 15, 31, 33, 35):
        for nu in RATIOS:
            tooth, law = make_tooth(number), make_ligament("linear", poisson=nu)
            models = (surface_support(tooth, law).stiffness, support_matrix(tooth.surface, law))
            true = support(tooth, law).stiffness
            want, row = centre_of_resistance(true).planar["buccolingual"], [number, nu]
            for k in models:
                got = centre_of_resistance(k).planar["buccolingual"]
                row += [100 * (got.lateral_stiffness / want.lateral_stiffness - 1),
                        100 * (got.sigma_squared / want.sigma_squared - 1),
                        float(abs(got.point[2] - want.point[2])),
                        100 * (at_bracket(k, tooth) / at_bracket(true, tooth) - 1)]  # fmt: skip
            rows.append(tuple(row))
    head = ("tooth", "nu", "K buccal %", "sigma2 %", "centre mm", "at bracket %", "springs: K %", "sigma2 %",
            "centre mm", "at bracket %")  # fmt: skip
    table("Against the solid ligament", head, rows)


def arch():
    from biomech.scenario import load
    from biomech.studies import record, solve

    rows = []
    for name in ("upper-overlay", "upper-overlay-molar-torque-18"):
        for nu in RATIOS[:3]:
            for model in ("springs", "surface", "solid"):
                changes = {"ligament.law": "linear", "ligament.poisson": nu, "ligament.model": model}
                if model == "solid":  # for the teeth with one root
                    changes |= {f"tooth.{n}.ligament.model": "surface" for n in (14, 16, 17, 24, 26, 27)}
                data = record(solve(load(SCENARIOS / f"{name}.toml").changed(changes)))
                for number in ("16", "13", "11"):
                    found = data["teeth"][number]
                    rows.append((
                        name[14:] or "alone", nu, model, number, found["force_N"]["buccal"],
                        found["moment_to_force_mm"], found["turn_deg"]["torque"], 1e3 * found["crown_mm"]["buccal"],
                        1e3 * found["apex_mm"]["buccal"], found["movement"],
                    ))  # fmt: skip
    head = ("overlay", "nu", "model", "tooth", "force N", "M/F mm", "turn deg", "crown um", "apex um", "")
    table("Upper arch, linear ligament of 0.05 MPa", head, rows)


if __name__ == "__main__":
    parts = {"cost": cost, "mesh": mesh, "solid": solid, "arch": arch}
    for part in sys.argv[1:] or parts:
        parts[part]()
