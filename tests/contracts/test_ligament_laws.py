"""Every registered ligament law: sourced, conservative, symmetric, with a stiffness that is the slope."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.errors import InputError
from biomech.ligaments import REGISTRY, make_ligament

EPS = 1e-8
LAWS = {name: kind() for name, kind in REGISTRY.items()}
LAWS["bilinear, softening"] = make_ligament("bilinear", young=0.2, second_young=0.05)
LAWS["bilinear, nearly incompressible"] = make_ligament("bilinear", poisson=0.45)
NORMALS = np.array([[0.0, 0.6, 0.8]])
vectors = st.lists(st.floats(-0.06, 0.06), min_size=3, max_size=3).map(lambda v: np.array([v]))
every = pytest.mark.parametrize("law", LAWS.values(), ids=LAWS.keys())


def one_sided(law, u, stiffness):
    """Whether each column of `stiffness` lies between the slopes to the left and to the right."""
    here = law.respond(u, NORMALS).traction[0]
    for i in range(3):
        d = np.zeros((1, 3))
        d[0, i] = EPS
        right = -(law.respond(u + d, NORMALS).traction[0] - here) / EPS
        left = -(here - law.respond(u - d, NORMALS).traction[0]) / EPS
        slack = 1e-5 * np.abs(stiffness).max() + 1e-12 / EPS
        inside = (stiffness[:, i] >= np.minimum(left, right) - slack) & (
            stiffness[:, i] <= np.maximum(left, right) + slack
        )
        if not inside.all():
            return False
    return True


@every
def test_has_a_source_and_says_how_far_it_was_seen(law):
    assert law.source.strip() and law.seen.strip() and law.source in law.provenance()


@every
def test_no_traction_without_displacement(law):
    reaction = law.respond(np.zeros((1, 3)), NORMALS)
    assert not reaction.traction.any()
    n = NORMALS[0]
    assert n @ reaction.stiffness[0] @ n == pytest.approx(law.normal_modulus)
    t = np.array([1.0, 0.0, 0.0])
    assert t @ reaction.stiffness[0] @ t == pytest.approx(law.shear_modulus)


@every
@settings(max_examples=60, deadline=None)
@given(u=vectors)
def test_traction_opposes_and_is_minus_the_slope_of_the_energy(law, u):
    traction = law.respond(u, NORMALS).traction[0]
    assert traction @ u[0] <= 0.0
    steps = 1e-6 * np.eye(3)[:, None, :]
    slope = (law.energy(u + steps, NORMALS) - law.energy(u - steps, NORMALS))[:, 0] / 2e-6
    assert np.allclose(traction, -slope, atol=1e-7)


@every
@settings(max_examples=60, deadline=None)
@given(u=vectors)
def test_stiffness_is_symmetric_and_lies_between_the_one_sided_slopes(law, u):
    stiffness = law.respond(u, NORMALS).stiffness[0]
    assert np.allclose(stiffness, stiffness.T, atol=1e-14)
    assert one_sided(law, u, stiffness)


@every
def test_a_wrong_stiffness_is_noticed(law):
    u = np.array([[0.01, -0.02, 0.015]])
    right = law.respond(u, NORMALS).stiffness[0]
    assert one_sided(law, u, right)
    assert not one_sided(law, u, 1.001 * right)
    assert not one_sided(law, u, np.diag(np.diag(right)))


@every
def test_a_closed_path_costs_no_energy(law):
    angle = np.linspace(0, 2 * np.pi, 4001)
    circle = [0.03 + 0.02 * np.cos(angle), 0.04 * np.sin(angle), 0.02 * np.sin(2 * angle)]
    path = np.stack(circle, axis=-1)[:, None, :]
    middle, step = 0.5 * (path[1:] + path[:-1]), np.diff(path, axis=0)
    work = (law.respond(middle, NORMALS).traction * step).sum(axis=-1)
    assert abs(work.sum()) < 1e-6 * np.abs(work).sum()


@every
def test_batches_give_the_same_as_one_at_a_time(law):
    rng = np.random.default_rng(1)
    u = rng.normal(size=(2, 4, 5, 3)) * 0.03
    normals = rng.normal(size=(5, 3))
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    many, one = law.respond(u, normals), law.respond(u[1, 2], normals)
    assert np.allclose(many.traction[1, 2], one.traction) and np.allclose(many.stiffness[1, 2], one.stiffness)
    assert np.allclose(law.energy(u, normals)[1, 2], law.energy(u[1, 2], normals))


@pytest.mark.parametrize(
    ("values", "text"),
    [
        ({"young": -1.0}, "young = -1"),
        ({"young": 0.0}, "young = 0"),
        ({"young": float("nan")}, "young = nan"),
        ({"young": float("inf")}, "young = inf"),
        ({"poisson": 0.5}, "poisson = 0.5"),
        ({"thickness": 20.0}, "thickness = 20"),
        ({"second_young": 0.0}, "second_young = 0"),
        ({"transition_strain": 7.0}, "transition_strain = 7"),
        ({"yung": 0.1}, "Did you mean 'young'"),
    ],
)
def test_bad_values_are_refused_by_name(values, text):
    with pytest.raises(InputError, match=text):
        make_ligament("bilinear", **values)


def test_unknown_law_names_the_known_ones():
    with pytest.raises(InputError, match=r"'bilinear', 'linear'.*Did you mean 'linear'"):
        make_ligament("liner")


def test_warnings_tell_of_incompressible_and_of_stiff_ligaments():
    assert make_ligament("bilinear").warnings() == ()
    assert "0.45" in make_ligament("linear", poisson=0.49).warnings()[0]
    assert "measured band" in make_ligament("linear", young=50.0).warnings()[0]
    assert "given by the user: young" in make_ligament("linear", young=0.1).provenance()
