"""An outside judge: exudyn's geometrically exact beam (pip install exudyn) on benchmarks A and C.

A general-purpose multibody engine with its own element and its own solver; skipped when it is not installed.
"""

import sys
from pathlib import Path

import numpy as np
import pytest
from beams import benchmark_a, benchmark_c, displacement

pytest.importorskip("exudyn")
sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "benchmarks" / "peers"))


@pytest.mark.parametrize("force", [300.0, 600.0])
def test_arc_under_a_tip_load(force):
    import exudyn_beams

    coarse, fine = (exudyn_beams.benchmark_a(benchmark_a(n, force), force)[0] for n in (24, 48))
    judged = fine + (fine - coarse) / 3  # its error falls with the square of the element
    model = benchmark_a(16, force)
    assert np.allclose(displacement(model.solve(), model, -1), judged, atol=2e-4 * np.abs(judged).max())


def test_two_wires_and_twelve_teeth():
    import exudyn_beams

    coarse, fine = (exudyn_beams.benchmark_c(benchmark_c(n, overlay_each=n))[0] for n in (12, 24))
    judged = fine + (fine - coarse) / 3
    model = benchmark_c(8)
    ours = displacement(model.solve(), model, model.at["teeth"])
    assert np.abs(ours - judged).max() < 5e-4 * np.abs(judged).max()
