"""Wires with memory as beam elements, against closed forms of plastic bending (ideal plastic rectangle).

Elastic-plastic beams of rectangular section (theory of plasticity, handbooks; from memory, derived again here):
moment M = My (1.5 - 0.5 (ky / k)^2) beyond first yield, hence k = ky / sqrt(3 - 2 M / My). A cantilever under a tip load
p times that of first yield has its tip at dy (5 - (3 + p) sqrt(3 - 2 p)) / p^2 with dy = My L^2 / (3 E I); a beam on two
supports loaded in the middle is two such cantilevers of half the length.
"""

import numpy as np
import pytest
from beams import along, fixed, line, load, springs
from fibres import ElasticSection, PlasticRectangle
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.alloys import REGISTRY
from biomech.mechanics.batch import stack
from biomech.mechanics.equilibrium import Settings, equilibrium
from biomech.mechanics.network import Network
from biomech.mechanics.poses import Pose
from biomech.section import Rectangular, Round
from biomech.wire.fibre_rod import FibreRod, fibre_rod
from biomech.wire.fibre_section import FibreSection
from biomech.wire.rod import element_stiffness, rod

SECTION = Rectangular(0.4826, 0.635)
YOUNG, YIELD = 180e3, 60.0  # so soft in yield that deflections stay small
ELASTIC = SECTION.stiffness(YOUNG, 0.3)
FIRST = YIELD * SECTION.inertia_3 / (SECTION.depth / 2)
"""Moment of first yield in the plane of the arch, N.mm."""
LENGTH = 10.0


def plastic(layers=(2, 40), **more) -> PlasticRectangle:
    return PlasticRectangle(ELASTIC, SECTION.height, SECTION.depth, YOUNG, YIELD, layers=layers, **more)


def graded(elements: int) -> Pose:
    """A straight wire whose elements are short near the origin, where moments are largest."""
    x = LENGTH * np.linspace(0.0, 1.0, elements + 1) ** 2
    return along(x[:, None] * [1.0, 0.0, 0.0], np.tile([1.0, 0.0, 0.0], (elements + 1, 1)))


def links(poses: Pose, section):
    free = poses.take(slice(0, -1)).inverse() @ poses.take(slice(1, None))
    return fibre_rod("wire", np.arange(len(poses.position)), section, free)


def pushed(poses: Pose, section, forces, moments=None, following=False):
    """Equilibria of a cantilever under a tip force (or moment) in the arch plane that takes the given values in turn."""
    n = len(poses.position)
    wire = links(poses, section)
    here, states = Pose(poses.rotation[None], poses.position[None]), None
    found = []
    for i, force in enumerate(forces):
        moment = (0, 0, 0 if moments is None else moments[i])
        network = Network(n, fixed(n, [0]), [wire], load(n - 1, (0, force, 0), moment, follows=following))
        e = equilibrium(network, here, states=states, settings=Settings(tolerance=1e-10))
        here, states = e.poses, e.states
        found.append(e)
    return found


def tip(e) -> float:
    return float(e.poses.position[0, -1, 1])


def share(p: float) -> float:
    """Tip deflection of a cantilever over that at first yield."""
    return p if p <= 1 else (5 - (3 + p) * np.sqrt(3 - 2 * p)) / p**2


def sheared(force: float) -> float:
    return force * LENGTH / ELASTIC[1]


@pytest.mark.parametrize("p", [0.7, 1.2, 1.4, 1.48])
def test_tip_of_a_cantilever_beyond_yield(p):
    force = p * FIRST / LENGTH
    e = pushed(graded(24), plastic(), [force])[0]
    expected = share(p) * FIRST * LENGTH**2 / (3 * ELASTIC[5]) + sheared(force)
    assert tip(e) == pytest.approx(expected, rel=2e-3)


def test_set_of_a_cantilever_let_go():
    force = 1.4 * FIRST / LENGTH
    first = FIRST * LENGTH**2 / (3 * ELASTIC[5])
    _, left = pushed(graded(24), plastic(), [force, 0.0])
    assert tip(left) == pytest.approx((share(1.4) - 1.4) * first, rel=5e-3)


def test_three_point_bending_beyond_yield():
    """A span of two such cantilevers, pushed in its middle by a prescribed travel; one end slides."""
    n = 32
    x = np.concatenate([-graded(n // 2).position[::-1, 0], graded(n // 2).position[1:, 0]])
    poses = along(x[:, None] * [1.0, 0.0, 0.0], np.tile([1.0, 0.0, 0.0], (n + 1, 1)))
    p = 1.3
    travel = share(p) * FIRST * LENGTH**2 / (3 * ELASTIC[5]) + sheared(p * FIRST / LENGTH)
    # frames: stations, then an anchor at either end (the first free to slide along) and one at the middle
    anchors = poses.take(np.array([0, n, n // 2]))
    start = Pose(np.concatenate([poses.rotation, anchors.rotation])[None], np.concatenate([poses.position, anchors.position])[None])
    count = n + 4
    hold = springs("supports", [n + 1, n + 2, n + 3], [0, n, n // 2], 0.0)
    stiff = np.zeros((3, 6, 6))
    stiff[:, 1, 1] = 1e6
    stiff[:, 2, 2] = stiff[:, 3, 3] = 1.0
    stiff[2, 0, 0] = 1.0
    hold = hold.with_law(type(hold.law)(stiff))
    network = Network(count, fixed(count, [n + 1, n + 2, n + 3]), [links(poses, plastic()), hold])
    target = start.position.copy()
    target[0, n + 3, 1] = travel
    e = equilibrium(network, start, target=Pose(start.rotation, target))
    force = float(e.stress(1)[0, 2, 1])
    assert abs(force) == pytest.approx(2 * p * FIRST / LENGTH, rel=5e-3)


@pytest.mark.parametrize("ratio", [1.5, 2.0, 4.0])
def test_springback_after_pure_bending(ratio):
    """Even curvature: what stays is k - M / EI with M from the closed form; Gauss points see it exactly."""
    moment = FIRST * (1.5 - 0.5 / ratio**2)
    bent, left = pushed(line(LENGTH, 4), plastic(layers=(2, 80)), [0.0, 0.0], [moment, 0.0], following=True)
    first = FIRST / ELASTIC[5]
    assert tip(bent) != tip(left)
    curvature = np.arctan2(*(left.poses.rotation[0, -1, :2, 0][::-1])) / LENGTH
    assert curvature == pytest.approx(first * (ratio - moment / FIRST), rel=2e-2 if ratio > 3 else 1e-2)
    assert np.abs(left.stress(0)).max() < 1e-8


def test_independent_of_the_size_of_steps():
    whole = pushed(graded(12), plastic(kinematic=1e4), [1.5 * FIRST / LENGTH])[-1]
    parts = pushed(graded(12), plastic(kinematic=1e4), 1.5 * FIRST / LENGTH * np.linspace(0.1, 1.0, 10))[-1]
    assert tip(parts) == pytest.approx(tip(whole), rel=1e-5)


def test_refining_the_mesh_converges():
    force = 1.45 * FIRST / LENGTH
    exact = share(1.45) * FIRST * LENGTH**2 / (3 * ELASTIC[5]) + sheared(force)
    errors = [abs(tip(pushed(line(LENGTH, n), plastic(layers=(2, 60)), [force])[0]) / exact - 1) for n in (4, 16, 64)]
    assert errors[0] > errors[1] > errors[2]
    assert errors[2] < 2e-3


def test_an_elastic_section_is_the_elastic_element():
    rng = np.random.default_rng(3)
    rest = np.zeros((5, 6))
    rest[:, 0] = np.linspace(0.5, 3, 5)
    rest += 0.2 * rng.standard_normal((5, 6))
    law, stiffness = FibreRod(ElasticSection(ELASTIC), rest), element_stiffness(ELASTIC, rest)
    strain = rest + 0.01 * rng.standard_normal((3, 5, 6))
    found = law.respond(strain, law.start())
    assert np.abs(found.tangent / np.abs(stiffness).max() - stiffness / np.abs(stiffness).max()).max() < 1e-12
    expected = np.einsum("nij,bnj->bni", stiffness, strain - rest)
    assert np.abs(found.stress - expected).max() < 1e-12 * np.abs(expected).max()
    assert law.energy(strain, law.start()) == pytest.approx(0.5 * (expected * (strain - rest)).sum(axis=-1), rel=1e-12)


def _walk(seed: int, steps: int, closed: bool):
    rng = np.random.default_rng(seed)
    rest = np.zeros((3, 6))
    rest[:, 0] = 1.0
    rest += 0.1 * rng.standard_normal((3, 6))
    law = FibreRod(plastic(layers=(8, 8), kinematic=5e3), rest)
    path = np.cumsum(rng.standard_normal((steps, 3, 6)) * [1e-4, 1e-3, 1e-3, 0.02, 1.5e-3, 1.5e-3], axis=0)
    if closed:
        path -= np.linspace(0, 1, steps)[:, None, None] * path[-1]
    return law, rest + path


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6))
def test_no_energy_from_a_closed_path(seed):
    law, path = _walk(seed, 12, closed=True)
    state, work = law.start(), 0.0
    state = law.respond(path[0], state).state
    for strain in path[1:]:
        work = work + law.energy(strain, state)
        state = law.respond(strain, state).state
    back = law.respond(path[0], state)
    work = work + law.energy(path[0], state)
    assert np.isfinite(back.stress).all()
    # what the first point of the path stored is all that could be won by leaving and coming back
    assert np.all(work + law.energy(path[0], law.start()) >= -1e-12)


REAL = [
    (name, section)
    for name in ("nickel-titanium, superelastic", "stainless as drawn, yielding")
    for section in (Round(1.0), Rectangular(0.4064, 0.5588))
]


@pytest.mark.parametrize(("name", "section"), REAL, ids=lambda x: x if isinstance(x, str) else x.label()[:12])
@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_wires_of_real_laws_find_their_balance_and_create_no_energy(name, section, seed):
    """Random walks of all six strains, far beyond yield and plateau, round to where they began."""
    rng = np.random.default_rng(seed)
    rest = np.zeros((4, 6))
    rest[:, 0] = rng.uniform(0.3, 3.0, 4)
    rest += 0.1 * rng.standard_normal((4, 6))
    law = FibreRod(FibreSection(section, REGISTRY.get(name)), rest)
    bend = rng.choice([0.01, 0.03, 0.08]) / (section.height / 2)
    path = np.cumsum(rng.standard_normal((9, 4, 6)) * [1e-4, 1e-3, 1e-3, bend, bend, bend] * rest[:, :1], axis=0)
    path -= np.linspace(0, 1, 9)[:, None, None] * path[-1]
    state, work = law.start(), 0.0
    for strain in (*(rest + path), rest):
        work = work + law.energy(strain, state)
        found = law.respond(strain, state)
        state = found.state
        assert np.isfinite(found.stress).all()
    assert np.all(work >= -1e-9)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6))
def test_stress_and_tangent_are_derivatives(seed):
    law, path = _walk(seed, 6, closed=False)
    state = law.start()
    for strain in path[:-1]:
        state = law.respond(strain, state).state
    here = law.respond(path[-1], state)
    assert np.abs(here.tangent - np.swapaxes(here.tangent, -1, -2)).max() < 1e-9 * np.abs(here.tangent).max()
    rng = np.random.default_rng(seed + 1)
    way = rng.standard_normal((3, 6)) * [1e-4, 1e-3, 1e-3, 0.02, 1.5e-3, 1.5e-3]
    h = 1e-5
    ahead, behind = law.respond(path[-1] + h * way, state), law.respond(path[-1] - h * way, state)
    slope = np.einsum("ni,nij,nj->n", way, here.tangent, way)
    # the law is smooth between yields of single fibres: those that yield within h make up 1e-3 of the section at most
    assert np.einsum("ni,ni->n", way, ahead.stress - behind.stress) / (2 * h) == pytest.approx(slope, rel=2e-2, abs=1e-9)
    work = (law.energy(path[-1] + h * way, state) - law.energy(path[-1] - h * way, state)) / (2 * h)
    assert work == pytest.approx(np.einsum("ni,ni->n", way, here.stress), rel=1e-5, abs=1e-9)


def test_variants_in_one_batch_are_the_variants_alone():
    networks, starts, section = [], [], plastic()
    for bend in (0.5, 1.0, 1.4):
        poses = graded(10)
        n = len(poses.position)
        networks.append(Network(n, fixed(n, [0]), [links(poses, section)], load(n - 1, (0, bend * FIRST / LENGTH, 0))))
        starts.append(Pose(poses.rotation[None], poses.position[None]))
    both = equilibrium(*stack(networks, starts))
    for i, (network, start) in enumerate(zip(networks, starts, strict=True)):
        alone = equilibrium(network, start)
        assert both.poses.position[i] == pytest.approx(alone.poses.position[0], abs=1e-7)
        assert both.states[0].half[i] == pytest.approx(alone.states[0].half[0], abs=1e-9)


def test_a_section_without_strength_is_said_to_fail():
    """A law that gives no number stops the search and is named, never passed over."""

    class Broken(ElasticSection):
        def respond(self, strain, state):
            resultants, tangent, state = super().respond(strain, state)
            return np.where(np.abs(strain) > 1e-3, np.nan, resultants), tangent, state

    from biomech.errors import SolveError

    with pytest.raises(SolveError, match="no equilibrium"):
        pushed(line(LENGTH, 4), Broken(ELASTIC), [50.0])


def test_large_turns_go_with_the_elastic_rod():
    """A quarter of a circle bent from a straight wire: the same as the rod's, for an elastic section."""
    poses = line(LENGTH, 8)
    free = poses.take(slice(0, -1)).inverse() @ poses.take(slice(1, None))
    n = 9
    moment = np.pi / 2 / LENGTH * ELASTIC[5]
    ends = []
    for wire in (fibre_rod("wire", np.arange(n), ElasticSection(ELASTIC), free), rod("wire", np.arange(n), ELASTIC, free)):
        loads = load(8, moment=(0, 0, moment), follows=True)
        e = equilibrium(Network(n, fixed(n, [0]), [wire], loads), Pose(poses.rotation[None], poses.position[None]))
        ends.append(e.poses.position[0])
    assert ends[0] == pytest.approx(ends[1], abs=1e-9)
    assert ends[0][-1] == pytest.approx(2 * LENGTH / np.pi * np.array([1, 1, 0]), rel=1e-9, abs=1e-9)
