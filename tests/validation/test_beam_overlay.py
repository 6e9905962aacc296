"""Benchmarks B and C: an overlay wire on springs; two wires and twelve teeth.

Reference values: independent rod solver (energy minimisation, Richardson-extrapolated); several general-purpose
engines extrapolate to the same limits within 3e-8 (B) and 6e-5 (C). Computed, nothing published.
"""

import numpy as np
import pytest
from beams import batch, benchmark_b, benchmark_c, displacement, turn

from biomech.mechanics.newton import relative_error

SPRING_FORCES = [(-1.99926, -1.03390), (-2.35959, 0.370217), (0.0419407, 0.663682)]  # t = 25, 60, 95


def _b(each):
    model = benchmark_b(each)
    e = model.solve()
    forces = 0.8 * (model.start.position[model.at["anchors"]] - e.poses.position[0, model.at["ties"]])
    return forces, e.poses.position[0, model.at["front"], 1]


@pytest.mark.parametrize(("each", "allowed"), [(4, 6e-5), (20, 2e-6)])
def test_overlay_on_six_springs(each, allowed):
    forces, front = _b(each)
    assert np.allclose(forces[3:, :2], SPRING_FORCES, atol=allowed * 2.4 + 5e-6)
    assert np.allclose(forces[:3], forces[:2:-1] * [-1, 1, 1], atol=1e-6)
    assert front == pytest.approx(43.9905, abs=1e-4)
    assert np.allclose(forces.sum(axis=0), 0.0, atol=1e-6)


# t: displacement of the clamp point (mm), rotation vector (rad), displacement of the ground spring's point (mm)
TABLE = np.array([
    [0.0016171, -0.0156473, 0.0055503, 0.00084876, 0.00003499, 0.00386438, 0.0011410, -0.0046143, 0.0055550],
    [0.0298715, 0.0619669, 0.0116696, -0.00482908, 0.00259383, 0.00061425, -0.0038288, -0.0008211, 0.0118649],
    [-0.0355886, -0.0195899, -0.0187749, 0.00229752, -0.00328607, -0.00181476, 0.0071573, 0.0102390, -0.0186704],
    [0.0294278, 0.0163371, 0.0012411, -0.00093999, 0.00154710, -0.00006119, 0.0093151, 0.0041178, 0.0012624],
    [-0.0397207, -0.0059745, -0.0000270, 0.00033476, -0.00241452, -0.00272050, -0.0083261, -0.0016653, 0.0000116],
    [-0.0599949, -0.0103597, -0.0001075, 0.00023866, -0.00358826, 0.00004735, -0.0133477, -0.0072560, -0.0000235],
])  # fmt: skip


def _c(each):
    model = benchmark_c(each)
    e = model.solve()
    teeth = model.at["teeth"]
    r = e.poses.rotation[0, teeth] @ np.swapaxes(model.start.rotation[teeth], -1, -2)
    clamp = displacement(e, model, teeth)
    arm = np.array([0.0, 0.0, -13.0])
    return np.hstack([clamp, turn(e, model, teeth), clamp + r @ arm - arm])


@pytest.mark.parametrize(("each", "allowed"), [(4, 2e-3), (16, 1e-4)])
def test_two_wires_and_twelve_teeth(each, allowed):
    found = _c(each)
    error = np.abs(found[6:] - TABLE).max(axis=0) / np.abs(TABLE).max(axis=0)
    assert error.max() < allowed
    mirror = np.array([-1, 1, 1, 1, -1, -1, -1, 1, 1])
    assert np.allclose(found[5::-1], found[6:] * mirror, atol=1e-9)


@pytest.mark.parametrize("each", [4, 32])
def test_hundredths_of_a_newton_on_a_fine_mesh(each):
    # rounding of the coordinates times the stretch stiffness of short elements exceeds 1e-9 N here
    model = benchmark_b(each, stiffness=1e-4)
    e = model.solve()
    pulled = model.start.position[model.at["anchors"]] - e.poses.position[0, model.at["ties"]]
    # so soft a spring pulls with its full initial stretch: the wire moves by less than 2 %
    assert np.allclose(pulled[:, 0], -0.2 * model.start.position[model.at["ties"], 0], rtol=0.02)
    assert np.allclose(pulled.sum(axis=0), 0.0, atol=1e-4)
    assert e.converged[0] and e.residual[0] <= 1e-7  # reported as it is, nothing forgiven


def test_a_residual_that_is_not_a_number_is_never_forgiven():
    model = benchmark_b(2)
    start = batch(model.start)
    evaluation = model.network.evaluate(start, model.network.start_states())
    bad = np.full((1, model.network.unknowns), np.nan)
    assert not relative_error(bad, evaluation, start)[0] <= 1.0
