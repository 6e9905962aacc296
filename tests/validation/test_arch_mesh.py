"""Refining the wires of a whole arch changes little, and less each time.

The bound is that asked of four elements a span: 2e-3 of the largest value (own requirement, two wires tied together).
"""

import numpy as np
import pytest
from arches import crowns, solve

from biomech.outputs import tooth_views


def _numbers(name, refine):
    appliance, e = solve(name, refine=refine)
    views = tooth_views(appliance, e)
    forces = np.array([v.wrench[:3] for v in views.values()])
    moments = np.array([v.moment_at(v.bracket) for v in views.values()])
    return crowns(appliance, e), forces, moments


@pytest.mark.parametrize("name", ["upper-overlay", "upper-overlay-molar-tight", "lower-overlay"])
def test_refinement_converges(name):
    coarse, fine, finest = (_numbers(name, refine) for refine in (1, 2, 4))
    for a, b, c in zip(coarse, fine, finest, strict=True):
        scale = np.abs(c).max()
        first, second = np.abs(a - b).max() / scale, np.abs(b - c).max() / scale
        assert first < 2e-3
        assert second < 0.7 * first + 1e-6
