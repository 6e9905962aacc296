"""Scenarios whose ligament is not a bed of springs: built, solved, moved in time, written, reported."""

import io
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from biomech.appliance import build
from biomech.appliance.teeth import support_of
from biomech.errors import InputError
from biomech.ligaments import make_ligament
from biomech.mechanics.equilibrium import Settings, equilibrium
from biomech.mechanics.poses import pose_log
from biomech.movement.limits import pressures_past
from biomech.movement.march import Control, Mover, march
from biomech.rates import make_rate
from biomech.render.files import root_pressure
from biomech.report.support import print_support
from biomech.scenario import Scenario
from biomech.studies import record, solve
from biomech.studies.batch import solve_all
from biomech.studies.support import support_on, tooth_support
from biomech.tooth import make_tooth
from biomech.tooth.layer.supports import surface_support
from biomech.tooth.resistance import centre_of_resistance

NEARLY = {"law": "linear", "poisson": 0.49, "model": "surface"}


def case(teeth=(13,), ligament=NEARLY, **more):
    arch = {"jaw": "upper", "form": "straight", "teeth": list(teeth)}
    load = {"tooth": 13, "at": "bracket", "force": {"buccal": "1 N"}, "follows": "tooth"}
    document = {"format": 1, "title": "some teeth", "arch": arch, "ligament": ligament, "force": [load]} | more
    return Scenario.parse(document)


def expected_motion(number=13, law=None):
    tooth = make_tooth(number)
    support = surface_support(tooth, law or make_ligament("linear", poisson=0.49))
    return support, tooth


def test_one_loaded_tooth_moves_as_its_support_says():
    solution = solve(case())
    view = solution.teeth[13]
    support, _ = expected_motion()
    assert np.allclose(view.motion, np.linalg.solve(support.stiffness, view.wrench), rtol=2e-3, atol=1e-4)
    assert np.array_equal(view.support, support.stiffness)
    assert np.allclose(view.pressures.normal, support.pressures(view.motion).normal)
    assert len(view.pressures.normal) == len(view.part.bearing.weights)


def test_the_record_names_the_model_and_the_pressure_is_that_of_the_surface():
    solution = solve(case())
    data = record(solution)
    assert data["ligament"][0]["model"] == "surface"
    view = solution.teeth[13]
    p = 1e3 * view.pressures.normal
    assert data["teeth"]["13"]["ligament_pressure_kPa"]["peak"] == pytest.approx(p.max())
    root = view.part.tooth.root_surface()
    drawn = root_pressure(view, root)
    inside = np.isfinite(drawn)
    assert inside.any() and not inside.all()
    assert np.nanmax(drawn) <= p.max() and np.nanmin(drawn) >= p.min()


def test_springs_warn_and_name_the_other_model():
    springs = build(case(ligament=NEARLY | {"model": "springs"})).warnings
    assert any("17 % at 0.49" in w and 'model = "surface"' in w for w in springs)
    assert not any("poisson" in w for w in build(case()).warnings)
    assert any("above 0.499" in w for w in build(case(ligament=NEARLY | {"poisson": 0.4995})).warnings)


def test_teeth_of_one_arch_may_differ():
    own = {"12": {"ligament": {"model": "springs"}}, "11": {"ligament": {"law": "bilinear"}}, "21": {"held": True}}
    appliance = build(case(teeth=[13, 12, 11, 21], tooth=own))
    models = {n: part.model for n, part in appliance.teeth.items()}
    assert models == {13: "surface", 12: "springs", 11: "springs", 21: "springs"}
    assert appliance.teeth[21].stiffness is None and appliance.teeth[21].pressures(np.zeros(6)) is None
    solved = equilibrium(appliance.network, appliance.start)
    assert solved.converged.all()


@pytest.mark.parametrize(
    ("ligament", "tooth", "text"),
    [
        ({"model": "surface"}, {}, 'ligament.model = "surface".*needs law = "linear".*bilinear'),
        ({"law": "rigid", "model": "surface"}, {}, 'no meaning with law = "rigid"'),
        ({"law": "linear", "model": "springz"}, {}, "Did you mean 'springs'"),
        (NEARLY, {"13": {"ligament": {"law": "bilinear", "model": "surface"}}}, r"tooth\.13\.ligament\.model"),
        ({}, {"13": {"ligament": {"model": "surface"}}}, r"tooth\.13\.ligament\.model"),
        (NEARLY | {"poisson": 0.5}, {}, r"ligament\.poisson = 0\.5"),
        (NEARLY | {"thickness": "-0.2 mm"}, {}, r"ligament\.thickness"),
    ],
)
def test_what_cannot_be_is_one_clear_line(ligament, tooth, text):
    with pytest.raises(InputError, match=text) as refused:
        case(ligament=ligament, tooth=tooth)
    assert len(str(refused.value).splitlines()) == 1


def test_a_solid_ligament_serves_a_tooth_as_well():
    solution = solve(case(ligament=NEARLY | {"model": "solid"}))
    view, other = solution.teeth[13], solve(case()).teeth[13]
    assert view.part.model == "solid" and record(solution)["ligament"][0]["model"] == "solid"
    assert view.motion[1] == pytest.approx(other.motion[1], rel=0.015)
    assert view.pressures.normal.max() == pytest.approx(other.pressures.normal.max(), rel=0.05)
    with pytest.raises(InputError, match=r"tooth 16: .* 3 roots.*single root"):
        build(case(teeth=[13, 16], ligament=NEARLY | {"model": "solid"}))


def test_unknown_model_of_a_tooth_by_itself():
    with pytest.raises(InputError, match="known: 'springs', 'surface'"):
        support_of(make_tooth(11), make_ligament("linear"), "jelly")


def test_a_load_at_the_centre_of_resistance_hardly_turns():
    load = {"tooth": 13, "at": "centre of resistance", "force": {"buccal": "0.2 N"}, "follows": "tooth"}
    view = solve(case(force=[load])).teeth[13]
    assert abs(view.motion[3]) * 10 < 0.1 * abs(view.motion[1])


def test_models_solved_together_give_what_they_give_alone():
    scenarios = [case(), case(ligament=NEARLY | {"model": "springs"}), case(ligament=NEARLY | {"young": "0.1 MPa"})]
    for one, other in zip([solve(s) for s in scenarios], solve_all(scenarios), strict=True):
        assert np.allclose(one.teeth[13].motion, other.teeth[13].motion, rtol=1e-9)
        assert one.teeth[13].part.model == other.teeth[13].part.model


def test_a_tooth_on_another_support_moves_in_time_by_the_same_stress():
    """The socket follows along the elastic motion; the area behind the stress is that of the springs."""
    movers = [Mover(build(case(ligament=NEARLY | {"model": m})), make_rate("logarithmic"), Settings(tolerance=1e-12))
              for m in ("surface", "springs")]  # fmt: skip
    assert movers[0].levers.area == pytest.approx(movers[1].levers.area)
    mover = movers[0]
    solved = equilibrium(mover.network, mover.appliance.start, settings=mover.settings)
    start = mover.moment(0.0, solved.poses, solved.states)
    elastic = start.evaluation.kinematics[mover.appliance.ligament_group].strain[0, 0]
    *_, last = march(mover, start, 15.0, Control())
    twist = pose_log(mover.sockets_of(start.poses).inverse() @ mover.sockets_of(last.poses))[0]
    assert np.linalg.norm(twist) > 0
    assert np.allclose(twist / np.linalg.norm(twist), elastic / np.linalg.norm(elastic), atol=1e-5)
    flags = list(pressures_past(mover.appliance, [start]))
    assert len(flags) == 1 and flags[0].tooth == 13


def test_support_of_one_tooth_on_either_model():
    springs, surface = (tooth_support(16, law="linear", poisson=0.49, model=m) for m in ("springs", "surface"))
    assert np.allclose(surface.centre.point, centre_of_resistance(surface.stiffness).point)
    ratio = [s.ratios["buccolingual"].centre.rotational_stiffness for s in (springs, surface)]
    assert 1.1 < ratio[0] / ratio[1] < 1.3
    text = io.StringIO()
    print_support(surface, Console(file=text, width=120))
    assert "model surface" in text.getvalue() and text.getvalue().count("Warning") == 1  # the roof


def test_its_pressure_is_drawn(tmp_path):
    from biomech.render.section import tooth_section

    assert tooth_section(solve(case()), 13, tmp_path / "section.png").stat().st_size > 10_000


def test_the_missing_roof_of_a_furcation_is_said_where_it_matters():
    nearly = build(case(teeth=[13, 16], ligament=NEARLY | {"model": "surface"})).warnings
    assert [w.split(":")[0] for w in nearly if "furcation" in w] == ["tooth 16"]
    soft = build(case(teeth=[13, 16], ligament=NEARLY | {"model": "surface", "poisson": 0.3})).warnings
    assert not any("furcation" in w for w in soft)


@pytest.mark.parametrize("model, low", [("springs", 0.45), ("surface", 0.37)])
def test_the_size_of_the_missing_roof(model, low):
    """What biomech.tooth.roof states: a molar of the handbook against the same as a closed surface."""
    from biomech.surfaces import Source, mesh_tooth

    file = Path(__file__).parents[2] / "meshes" / "upper-molar.ply"
    source = Source(file, unit="mm", long_axis=(0.0, 0.0, 1.0), buccal=(0.0, -1.0, 0.0), cej=(0.0, 0.0, 0.0))
    law = make_ligament("linear", young=0.68, poisson=0.49)
    own, other = (support_on(t, law, model).stiffness for t in (make_tooth(16), mesh_tooth(16, source, bone_level=1.5)))
    assert np.linalg.inv(other)[2, 2] / np.linalg.inv(own)[2, 2] == pytest.approx(1.0 - low, abs=0.02)
    assert np.diag(own)[:2] == pytest.approx(np.diag(other)[:2], rel=0.065)
