"""The bench's paths, wires as text, curves, files and command."""

import csv
import json

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from biomech.bench.curve import Curve
from biomech.bench.path import WARMING, path
from biomech.bench.rest import Rest
from biomech.cli.commands import biomech
from biomech.errors import FileError, InputError
from biomech.studies.bend import Setup, bend_wires, numbers, read_wire, rig_of, specimen_of

ONE = np.ones(1)
QUICK = Setup("three-point", (0.4, 0.0), 0.2, (0.2,))


def curve(x, reading, leg, *, one_sided=True, permanent=None) -> Curve:
    nothing = np.full(len(x), np.nan)
    return Curve("set-up", "wire", "deflection", "mm", "force", "N", one_sided, np.array(x, dtype=float),
                 np.array(reading, dtype=float), np.array(leg), nothing, {}, permanent, (), np.full(len(x), 36.0), nothing)  # fmt: skip


@given(
    st.lists(st.floats(0.1, 5.0), min_size=1, max_size=4),
    st.floats(0.05, 1.0),
    st.lists(st.floats(0.0, 5.0), max_size=4),
)
def test_paths_halt_at_every_stop_and_never_step_too_far(turns, step, stops):
    ends = [t if i % 2 == 0 else 0.0 for i, t in enumerate(turns)]
    values = path(ends, step, stops)
    x = np.array([halt.x for halt in values])
    assert x[0] == 0.0 and np.abs(np.diff(x)).max() <= step * (1 + 1e-9)
    for leg, end in enumerate(ends):
        mine = [halt.x for halt in values if halt.leg == leg and (leg or halt.x)]
        low, high = sorted((0.0, max(end, ends[leg - 1] if leg else 0.0)))
        assert mine[-1] == end
        assert all(s in mine for s in stops if low < s < high)


@given(st.lists(st.tuples(st.floats(0.0, 3.0), st.none() | st.floats(5.0, 55.0)), min_size=1, max_size=4))
def test_paths_change_temperature_evenly_and_in_small_steps(turns):
    places, temperatures = zip(*turns, strict=True)
    try:
        halts = path(places, 0.5, (1.0,), temperatures, 36.0)
    except InputError:  # a turn that goes nowhere
        return
    warmth = np.array([halt.temperature for halt in halts])
    assert warmth[0] == 36.0 and np.abs(np.diff(warmth)).max() <= WARMING * (1 + 1e-9)
    assert np.abs(np.diff([halt.x for halt in halts])).max() <= 0.5 * (1 + 1e-9)
    now = (0.0, 36.0)
    for leg, (place, wanted) in enumerate(turns):
        mine = [halt for halt in halts if halt.leg == leg]
        goal = (place, now[1] if wanted is None else wanted)
        assert (mine[-1].x, mine[-1].temperature) == goal
        for halt in mine[1:] if leg == 0 else mine:  # both change in step
            assert (halt.x - now[0]) * (goal[1] - now[1]) == pytest.approx(
                (halt.temperature - now[1]) * (goal[0] - now[0]), abs=1e-9
            ) or now[0] == goal[0]
        now = goal


def test_as_many_temperatures_as_turns():
    with pytest.raises(InputError, match="2 temperatures for 1 turns"):
        path((1.0,), 0.1, temperatures=(10.0, 20.0))


@pytest.mark.parametrize("turns", [(), (0.0,), (1.0, 1.0)])
def test_paths_that_go_nowhere_are_refused(turns):
    with pytest.raises(InputError):
        path(turns, 0.1)


def test_wires_as_text():
    section, alloy = read_wire("0.016 x 0.022 in nickel-titanium, superelastic")
    assert (section.height, section.depth, section.bevel) == pytest.approx((0.4064, 0.5588, 0.0))
    assert alloy == "nickel-titanium, superelastic"
    assert read_wire("1.0 mm: stainless as drawn")[0].height == 1.0
    assert read_wire("0.4 x 0.5 mm bevel 0.05 mm beta-titanium")[0].bevel == 0.05


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "write its size"), ("0.016 nickel-titanium, superelastic", "write its size"), ("0.016 in", "write its size"),
        ("0.016 in gold", "unknown alloy 'gold'"), ("9 mm stainless as drawn", "must be"),
        ("0.016 in bevel 0.01 mm stainless as drawn", "no bevel"),
    ],
)  # fmt: skip
def test_wires_that_cannot_be_read(text, says):
    with pytest.raises(InputError, match=says) as error:
        read_wire(text)
    assert f'wire "{text}"' in str(error.value)


def test_a_temperature_outside_the_law_is_refused():
    with pytest.raises(InputError, match="temperature"):
        specimen_of("0.016 in nickel-titanium, superelastic", -40.0)


@pytest.mark.parametrize(
    ("setup", "wire", "says"),
    [
        (Setup("torsion", (0.5,), 0.1), "0.016 in stainless as drawn", "round wire"),
        (Setup("torsion", (0.5,), 0.1, options={"slot": 0.3}), "0.019 x 0.025 in stainless as drawn", "does not fit"),
        (Setup("three-point", (1.0,), 0.1, options={"span": -1.0}), "0.016 in stainless as drawn",
         "span = -1 mm: must be between 1 mm and 100 mm"),
        (Setup("three-point", (1.0,), 0.1, options={"friction": 2.0}), "0.016 in stainless as drawn", "friction"),
        (Setup("couples", (1.0,), 0.1, options={"first": 2.0, "second": 0.0}), "0.016 in stainless as drawn", "60 deg"),
        (Setup("opening", (1.0,), 0.1, options={"radius": 0.1}), "0.016 in stainless as drawn", "radius"),
        (Setup("opening", (1.0,), 0.1, options={"ends": "loose"}), "0.016 in stainless as drawn", "ends"),
    ],
)
def test_rigs_refuse_what_does_not_fit(setup, wire, says):
    with pytest.raises(InputError, match=says):
        rig_of(specimen_of(wire, 36.0), setup)


def test_a_rig_that_only_pushes_cannot_pull():
    with pytest.raises(InputError, match="only pushes"):
        bend_wires(["0.016 in stainless as drawn"], Setup("three-point", (-1.0,), 0.2))


def test_unloading_asked_for_before_loading():
    """An unloading reading of a path that only goes one way is an error, not a number."""
    with pytest.raises(InputError, match="never made"):
        curve([0, 1, 2], [0, 1, 2], [0, 0, 0]).on(1, 1.0)


def test_reading_a_curve():
    c = curve([0, 1, 2, 1.5, 1.2], [0, 2, 3, 1, 0], [0, 0, 0, 1, 1], permanent=1.2)
    assert c.on(0, 1.5) == 2.5 and c.on(1, 1.75) == 2.0
    assert c.on(1, 0.5) == 0.0  # parted
    assert c.first_at(2.5) == 1.5 and c.first_at(9.0) is None
    assert c.stiffness() == 2.0 and c.offset_reading(0.1) == pytest.approx(2.2)
    assert c.spent == pytest.approx(1 + 2.5 - 1.0 - 0.15)
    with pytest.raises(InputError, match="runs from"):
        c.on(0, 3.0)


def test_the_way_back_is_where_the_path_turns_to_zero():
    hold = curve([0, 1, 2, 2, 2, 1, 0], [0, 1, 2, 1, 1, 1, 0], [0, 0, 0, 1, 2, 3, 3], permanent=0.0)
    assert hold.way_back == 3 and not hold.changes_temperature
    assert curve([0, 1, 2], [0, 1, 2], [0, 0, 1]).way_back is None


HOLD = Setup("three-point", (1.6, 1.6, 1.6, 0.0), 0.4, (1.0,), temperatures=(None, 8.0, 60.0, None))
"""Bent in the mouth, a cold drink, a hot one, let go."""


def test_a_held_wire_loses_force_in_the_cold_and_gets_it_back_in_the_heat():
    (found,) = bend_wires(["0.016 in nickel-titanium, heat-activated"], HOLD)
    ends = [found.reading[found.leg == leg][-1] for leg in range(3)]
    assert ends[1] < 0.6 * ends[0] and ends[2] > 1.2 * ends[1]
    assert np.all(np.diff(found.reading[found.leg == 1]) <= 1e-6)  # colder, never more
    assert np.all(np.diff(found.reading[found.leg == 2]) >= -1e-6)  # warmer, never less
    assert found.temperature[found.leg == 3].tolist() == [60.0] * int((found.leg == 3).sum())
    assert found.permanent == pytest.approx(0.0, abs=1e-3)
    assert any("does not spring back" in warning for warning in found.warnings)
    read = {n.name: n.value for n in numbers(HOLD, found)}
    assert read["2: 1.6 mm, 8 C: force, N"] == ends[1] and read["unloading at 1 mm, N"] == found.on(3, 1.0)


def test_cooled_and_warmed_without_transformation_a_wire_is_as_before():
    # on the way back at 1 mm the stress lies between both lines: a few degrees do nothing, there and back
    setup = Setup("three-point", (1.2, 1.0, 1.0, 1.0), 0.4, temperatures=(None, None, 33.0, 36.0))
    (found,) = bend_wires(["0.016 in nickel-titanium, superelastic"], setup)
    before, cold, after = (found.reading[found.leg == leg][-1] for leg in (1, 2, 3))
    assert cold == pytest.approx(before, rel=1e-5) and after == pytest.approx(before, rel=1e-5)


def test_bent_in_the_cold_it_stays_bent_until_it_is_warmed():
    setup = Setup("three-point", (1.6, 0.0, 0.0), 0.4, temperature=8.0, temperatures=(None, None, 40.0))
    (found,) = bend_wires(["0.016 in nickel-titanium, heat-activated"], setup)
    left = {leg: found.x[found.leg == leg][-1] for leg in (1, 2)}
    assert 0.7 < left[1] < 1.6 and left[2] == pytest.approx(0.0, abs=1e-3)
    assert np.all(np.diff(found.x[found.leg == 2]) <= 1e-9)
    assert np.all(np.abs(found.reading[found.leg == 2]) < 1e-4)  # it lies loose


def test_temperature_does_nothing_to_an_elastic_wire():
    (found,) = bend_wires(["0.016 in stainless as drawn"], HOLD)
    held = found.reading[(found.leg == 1) | (found.leg == 2)]
    assert np.ptp(held) < 1e-6 * held[0]


def test_temperatures_of_a_path_outside_the_law_are_refused_before_any_test():
    wrong = Setup("three-point", (1.0, 1.0), 0.4, temperatures=(None, -3.0))
    with pytest.raises(InputError, match=r'wire "0.016 in nickel.*temperature = -3'):
        bend_wires(["0.016 in nickel-titanium, superelastic"], wrong)


@given(st.floats(0.2, 2.0), st.floats(-0.4, 0.4), st.floats(-0.4, 0.4))
def test_stress_of_a_rest_is_the_slope_of_its_energy(length, across, friction_way):
    law = Rest(200 * ONE, 4e3 * ONE, 0.2 * ONE, 2, 1.0, 0.0, ONE)
    e = np.zeros((1, 6))
    e[0, 0], e[0, 2] = length, across
    response, h = law.respond(e, law.start()), 1e-6
    for i in (0, 2):
        step = np.zeros((1, 6))
        step[0, i] = h
        slope = (law.energy(e + step, law.start()) - law.energy(e - step, law.start())) / (2 * h)
        assert response.stress[0, i] == pytest.approx(slope[0], rel=1e-4, abs=1e-4 * abs(response.stress).max() + 1e-6)
        rate = (law.respond(e + step, law.start()).stress - law.respond(e - step, law.start()).stress) / (2 * h)
        scale = np.abs(response.tangent).max()
        assert np.allclose(response.tangent[0, :, i], rate[0], rtol=1e-4, atol=1e-5 * scale)


def test_several_processes_give_the_same_curves():
    wires = ["0.016 in stainless as drawn", "0.018 in stainless as drawn", "0.020 in beta-titanium"]
    alone, shared = bend_wires(wires, QUICK), bend_wires(wires, QUICK, jobs=2)
    for a, b in zip(alone, shared, strict=True):
        assert a.wire == b.wire and np.array_equal(a.x, b.x) and np.array_equal(a.reading, b.reading)


def test_the_command_writes_tables_files_and_a_plot(tmp_path):
    wires = ["0.016 in stainless as drawn", "0.016 x 0.022 in beta-titanium"]
    done = CliRunner().invoke(biomech, ["bend", *wires, "--path", "0.4 mm, 0 mm", "--out", str(tmp_path / "b")])
    assert done.exit_code == 0, done.output
    assert "initial rate, N/mm" in done.output and "Not a medical device" in done.output
    assert (tmp_path / "b" / "curves.png").read_bytes()[:4] == b"\x89PNG"
    rows = list(csv.reader((tmp_path / "b" / "readings.csv").open()))
    assert rows[0][1].startswith("0.016 in round") and rows[1][0] == "initial rate, N/mm"
    data = json.loads((tmp_path / "b" / "bend.json").read_text())
    assert data["wires"][0]["readings"]["initial rate, N/mm"] == float(rows[1][1])
    points = list(csv.reader((tmp_path / "b" / "curves.csv").open()))
    assert points[0][:4] == ["wire", "stretch", "deflection_mm", "force_N"]


def test_a_path_with_temperatures_in_words(tmp_path):
    way = "0.4 mm, 0.4 mm at 10 degC, 0.4 mm at 97 degF, 0 mm"
    words = ["bend", "0.016 in beta-titanium", "--path", way, "--out", str(tmp_path / "b")]
    done = CliRunner().invoke(biomech, words)
    assert done.exit_code == 0, done.output
    assert "36 C, then 10 C, then 36.1" in done.output and "2: 0.4 mm, 10 C: force, N" in done.output
    points = list(csv.DictReader((tmp_path / "b" / "curves.csv").open()))
    assert {p["temperature_C"] for p in points if p["stretch"] == "0"} == {"36.0"}
    assert [p["temperature_C"] for p in points if p["stretch"] == "1"][-1] == "10.0"
    data = json.loads((tmp_path / "b" / "bend.json").read_text())
    assert data["temperature_at_turns_C"] == pytest.approx([36.0, 10.0, 36.111, 36.111], abs=1e-3)
    assert (tmp_path / "b" / "curves.png").read_bytes()[:4] == b"\x89PNG"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--rig", "couples"], "--angles"),
        (["--slot", "0.022 in"], "--slot belongs to torsion"),
        (["--temperature", "36"], "--temperature"),
        (["--path", "3"], "--path"),
        (["--path", "1 mm, 0 mm at 10"], '--path "10"'),
        (["--path", "1 mm, 0 mm at 10 N"], "--path"),
        (["--path", "1 mm, 0 mm at 90 degC"], "temperature = 90"),
        (["--path", "0 mm"], "turns at 0"),
        (["--step", "0 mm"], "must be positive"),
        (["--step", "1e-9 mm"], "steps, at most"),
        (["--path", "3 m, 0 mm"], "steps, at most"),
        (["--path", " "], "--path"),
        (["--temperature", ""], "is empty"),
        (["--span", "10 N"], "--span"),
        (["--span", "-10 mm"], '--span "-10 mm": must be between 1 mm and 100 mm'),
        (["--support", "1 in"], '--support "1 in": must be between 0 mm and 5 mm'),
        (["--rig", "cantilever", "--span", "0.2 m"], '--span "0.2 m": must be between 1 mm and 100 mm'),
        (["--rig", "couples", "--angles", "1 rad, 2 rad"], '--angles "1 rad, 2 rad": must be within 60 deg'),
        (["--rig", "couples", "--angles", "1 deg, 2 deg", "--path", "3"], '--path "3": must be a share'),
        (["--rig", "couples", "--angles", "1 deg, 2 deg", "--distance", "0 mm"], "between 0.5 mm and 50 mm"),
    ],
)
def test_wrong_options_of_the_command(words, says, tmp_path):
    done = CliRunner().invoke(biomech, ["bend", "0.016 in stainless as drawn", *words, "--out", str(tmp_path / "b")])
    text = done.output + str(done.exception)
    assert done.exit_code != 0 and says in text
    assert not (tmp_path / "b").exists()


@pytest.mark.parametrize(
    ("setup", "wire"),
    [
        (Setup("cantilever", (0.5, 0.0), 0.25), "0.016 in stainless as drawn"),
        (Setup("torsion", (0.3, 0.0), 0.05), "0.019 x 0.025 in stainless as drawn"),
        (Setup("couples", (1.0, 0.0), 0.5, options={"first": 0.1, "second": 0.05}), "0.016 in stainless as drawn"),
        (Setup("opening", (2.0, 0.0), 1.0), "1.0 mm stainless as drawn"),
    ],
)
def test_every_rig_gives_numbers(setup, wire):
    (found,) = bend_wires([wire], setup)
    read = numbers(setup, found)
    assert all(n.value is None or np.isfinite(n.value) for n in read)
    assert found.permanent == pytest.approx(0.0, abs=1e-6)  # elastic: nothing is left
    assert not any(n.name.endswith(", ") or n.name.endswith(",") for n in read)


def test_files_are_written_before_the_tables_and_tables_printed_without_them(tmp_path, monkeypatch):
    words = ["bend", "0.016 in beta-titanium", "--path", "0.4 mm", "--no-plots", "--out"]
    (tmp_path / "taken").touch()
    done = CliRunner().invoke(biomech, [*words, str(tmp_path / "taken")])
    assert isinstance(done.exception, FileError) and "is a file; name a folder" in str(done.exception)
    assert "initial rate, N/mm" in done.output

    def gone(*_):
        raise BrokenPipeError

    monkeypatch.setattr("biomech.report.bend.print_bend", gone)
    assert isinstance(CliRunner().invoke(biomech, [*words, str(tmp_path / "b")]).exception, BrokenPipeError)
    assert (tmp_path / "b" / "curves.csv").exists() and (tmp_path / "b" / "bend.json").exists()
