"""Time of the wire bench: one wire loaded and unloaded, and twelve wires in the standard's set-up.

    python benchmarks/bench.py

CPU seconds of one process for one wire (start-up and imports not counted); wall seconds for twelve wires on all cores.
"""

from __future__ import annotations

import time

from biomech.bench import drive
from biomech.studies.bend import RIGS, Setup, bend_wires, rig_of, specimen_of
from biomech.studies.parallel import cores

SETUP = Setup("three-point", RIGS["three-point"].turns, RIGS["three-point"].step, RIGS["three-point"].stops)
ALLOYS = ("nickel-titanium, superelastic", "nickel-titanium, heat-activated", "stainless as drawn, yielding")
SIZES = ("0.014 in", "0.016 in", "0.016 x 0.022 in", "0.019 x 0.025 in")


def one(text: str) -> tuple[float, int]:
    """Return CPU seconds and points of one wire."""
    rig = rig_of(specimen_of(text, 36.0), SETUP)
    begin = time.process_time()
    curve = drive(rig, SETUP.turns, step=SETUP.step, stops=SETUP.stops)
    return time.process_time() - begin, len(curve.x)


def main() -> None:
    """Print the figures."""
    one("0.016 in stainless as drawn")  # imports
    for text in ("0.016 in stainless as drawn", *(f"0.016 in {alloy}" for alloy in ALLOYS)):
        seconds, points = one(text)
        print(f"{text:48s} {seconds:6.2f} s CPU, {points} points")
    wires = [f"{size} {alloy}" for size in SIZES for alloy in ALLOYS]
    begin = time.perf_counter()
    bend_wires(wires, SETUP, jobs=cores())
    print(f"{len(wires)} wires on {cores()} cores: {time.perf_counter() - begin:.2f} s")


if __name__ == "__main__":
    main()
