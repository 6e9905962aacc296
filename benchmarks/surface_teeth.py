"""Print what a tooth from a surface file costs, how it converges to the closed form, and what noise does to it.

Run from anywhere: OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 python benchmarks/surface_teeth.py [cost order noise]
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

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "validation"))

from surface_teeth import source, turned_surface, write_stl  # noqa: E402

from biomech.errors import InputError  # noqa: E402
from biomech.surfaces import Crest, Source, mesh_tooth  # noqa: E402
from biomech.surfaces.reading import read_mesh  # noqa: E402
from biomech.tooth.resistance import shift  # noqa: E402
from biomech.tooth.support import foundation_matrix  # noqa: E402

# R 3, L 13: K_yy, K_xx, x_CR, sigma2 on normal springs of 1 N/mm3, and the area; closed form, computed
CLOSED = (80.28492, 5.81527, 4.80398, 11.39240, 166.38512)
FOLDER = Path(tempfile.mkdtemp())


def table(title, head, rows):
    print(f"\n{title}\n" + "".join(f"{h:>14}" for h in head))
    for row in rows:
        print("".join(f"{x:>14.3g}" if isinstance(x, float) else f"{x!s:>14}" for x in row))


def numbers(tooth):
    k = shift(foundation_matrix(tooth.surface, 1.0, 0.0), tooth.landmarks["crest"])
    return k[1, 1], k[2, 2], abs(k[1, 3] / k[1, 1]), (k[3, 3] - k[1, 3] ** 2 / k[1, 1]) / k[1, 1], tooth.surface.area


def cost():
    rows = []
    mesh_tooth(11, source(write_stl(FOLDER / "warm.stl", *turned_surface(10, 16))))
    for rings, around in ((20, 32), (32, 48), (46, 80), (96, 136), (160, 210)):
        path = write_stl(FOLDER / f"{rings}.stl", *turned_surface(rings, around, inset=0.1))
        start = time.process_time()
        tooth = mesh_tooth(11, source(path))
        rows.append((path.stat().st_size // 50 - 1, time.process_time() - start, len(tooth.surface.weights)))
    table("Processor time of one tooth, all included", ("triangles", "s", "points"), rows)


def order():
    rows, before = [], None
    for rings, around in ((12, 18), (24, 36), (48, 72), (96, 144)):
        path = write_stl(FOLDER / f"o{rings}.stl", *turned_surface(rings, around, inset=0.1))
        error = np.abs(np.array(numbers(mesh_tooth(11, source(path)))) / CLOSED - 1.0)
        rows.append((path.stat().st_size // 50 - 1, *(float(e) for e in error)))
        if before is not None:
            rows.append(("order", *(float(o) for o in np.log2(before / error))))
        before = error
    table("Error against the closed form", ("triangles", "K_yy", "K_xx", "x_CR", "sigma2", "area"), rows)


def noise():
    rows, dice = [], np.random.default_rng(0)
    mesh = read_mesh(ROOT / "meshes" / "upper-molar.ply")
    for size in (0.0, 0.01, 0.03, 0.05):
        path = write_stl(FOLDER / "n.stl", mesh.vertices + dice.normal(0.0, size, mesh.vertices.shape), mesh.triangles)
        given = Source(path, "mm", (0.0, 0.0, 1.0), (0.0, -1.0, 0.0), cej=(0.0, 0.0, 0.0),
                       crest=Crest(point=(0.0, 0.0, 1.5)))  # fmt: skip
        try:
            rows.append((size, *(float(x) for x in numbers(mesh_tooth(16, given)))))
        except InputError as error:
            rows.append((size, "refused:", str(error)[-110:]))
    table("Upper molar, vertices moved at random", ("mm", "K_yy", "K_xx", "x_CR", "sigma2", "area"), rows)


if __name__ == "__main__":
    wanted = sys.argv[1:] or ("cost", "order", "noise")
    for name in wanted:
        {"cost": cost, "order": order, "noise": noise}[name]()
