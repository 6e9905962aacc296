"""Fibre sections: what fineness costs and what it is worth.

    OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 python benchmarks/fibres.py

Error: moments of an ideal plateau, any direction of bending, 1.1 to 8 times the curvature of first yield, against
67 600 cells.
"""

import time

import numpy as np

from biomech.alloys import REGISTRY, Yielding
from biomech.section import Rectangular, Round
from biomech.section.fibres import USUAL, half_width
from biomech.wire.fibre_section import SHEAR, FibreSection

PLATEAU = Yielding("plateau", 60e3, 0.3, 600.0, (1, 2), (1, 2), "made up", "made up", curve=((0.01, 600.0),))
ALLOYS = ("stainless as drawn", "stainless as drawn, yielding", "nickel-titanium, superelastic")


def cells(section, n=260):
    x3 = (np.arange(n) + 0.5) / n * section.height - section.height / 2
    width = half_width(section, x3)
    x2 = np.linspace(-1, 1, 2 * n + 1)[1::2] * width[:, None]
    area = np.broadcast_to((section.height / n * 2 * width / n)[:, None], x2.shape)
    return x2.ravel(), np.broadcast_to(x3[:, None], x2.shape).ravel(), area.ravel()


def curvatures(section):
    angle, ratio = np.meshgrid(np.linspace(0, np.pi / 2, 61), np.geomspace(1.1, 8, 25), indexing="ij")
    way = np.stack([np.cos(angle) / section.height, np.sin(angle) / section.depth], axis=-1)
    reach = section.max_bending_strain(way[..., 0], way[..., 1])
    return way * (ratio * 0.01 / reach)[..., None]


def exact(section, bent):
    x2, x3, area = cells(section)
    out = []
    for k2, k3 in bent.reshape(-1, 2):
        stress = np.clip(60e3 * (k2 * x3 - k3 * x2), -600, 600) * area
        out.append((stress @ x3, -stress @ x2))
    return np.array(out).reshape(bent.shape)


def errors(section):
    bent = curvatures(section)
    fine = exact(section, bent)
    for quarter in (16, 34, 55, 89):
        found = FibreSection(section, PLATEAU, fineness=(quarter, SHEAR))
        strain = np.zeros((*bent.shape[:-1], 6))
        strain[..., 4:] = bent
        got = found.respond(strain, found.start(bent.shape[:-1]))[0][..., 4:]
        error = np.linalg.norm(got - fine, axis=-1) / np.linalg.norm(fine, axis=-1)
        mean, own = np.sqrt(np.mean(error**2)), error[[0, -1]].max()
        count = len(found.fibres.area)
        print(f"  {count:4d} fibres: about the axes {own:.2%}, any way {error.max():.2%}, mean square {mean:.2%}")


def best(call, repeats=100):
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return 1e3 * min(times)


def speed():
    rng = np.random.default_rng(0)
    for name in ALLOYS:
        for sections in (20, 160, 1000):
            found = FibreSection(Rectangular(0.4826, 0.635), REGISTRY.get(name))
            strain = rng.normal(size=(sections, 6)) * [1e-3, 1e-4, 1e-4, 0.02, 0.03, 0.03]
            state = found.respond(strain, found.start((sections,)))[2]
            more = 1.1 * strain
            times = best(lambda: found.respond(more, state)), best(lambda: found.energy(more, state))
            print(f"  {name}, {sections} sections: respond {times[0]:.3f} ms, energy {times[1]:.3f} ms")


if __name__ == "__main__":
    for section in (Rectangular(0.4826, 0.635), Rectangular(0.4826, 0.635, 0.08), Round(0.4064)):
        print(section.label())
        errors(section)
    print(f"speed with {USUAL} fibres a quarter")
    speed()
