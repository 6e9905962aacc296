"""The cache on disk: what it keeps, what it refuses to trust, and that it never gets in the way."""

import os
import sys

import numpy as np
import pytest

from biomech import cache

INPUTS = {"length": 13.0, "roots": [(1.0, 2.0)], "points": np.arange(6.0).reshape(2, 3), "name": None}


@pytest.fixture
def place(tmp_path, monkeypatch):
    monkeypatch.setenv("BIOMECH_CACHE", str(tmp_path))
    return tmp_path


class Maker:
    """Counts how often it is asked."""

    def __init__(self, value=1.0):
        self.calls, self.value = 0, value

    def __call__(self):
        self.calls += 1
        return {"k": np.full((2, 2), self.value), "empty": np.zeros((0, 3))}


def files(place):
    return [p for p in place.rglob("*") if p.is_file()]


def test_computed_once_then_read(place):
    make = Maker()
    first, second = (cache.cached("thing", INPUTS, make) for _ in range(2))
    assert make.calls == 1 and len(files(place)) == 1
    assert first.keys() == second.keys()
    assert all(np.array_equal(first[k], second[k]) and first[k].dtype == second[k].dtype for k in first)


@pytest.mark.parametrize(
    "change",
    [{"length": np.nextafter(13.0, 14.0)}, {"roots": [(1.0, 2.0), (1.0, 2.0)]}, {"name": "x"},
     {"points": np.arange(6.0).reshape(3, 2)}, {"points": np.arange(6).reshape(2, 3)}],
)  # fmt: skip
def test_any_other_input_is_another_file(place, change):
    make = Maker()
    cache.cached("thing", INPUTS, make)
    cache.cached("thing", INPUTS | change, make)
    assert make.calls == 2 and len(files(place)) == 2


def test_other_code_of_the_program_is_another_folder(place, monkeypatch):
    make = Maker()
    cache.cached("thing", INPUTS, make)
    monkeypatch.setattr(cache, "program", lambda: "f" * 64)
    cache.cached("thing", INPUTS, make)
    assert make.calls == 2


def damage(path, how):
    data = path.read_bytes()
    if how == "cut short":
        path.write_bytes(data[: len(data) // 2])
    elif how == "head only":
        path.write_bytes(data.partition(b"\n")[0])
    elif how == "empty":
        path.write_bytes(b"")
    elif how == "one bit":
        at = len(data) * 2 // 3
        path.write_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])
    else:
        path.write_bytes(b"no such thing\n" * 40)


@pytest.mark.parametrize("how", ["cut short", "head only", "empty", "one bit", "rubbish"])
def test_a_damaged_file_is_made_again(place, how):
    make = Maker()
    good = cache.cached("thing", INPUTS, make)
    (path,) = files(place)
    damage(path, how)
    again = cache.cached("thing", INPUTS, make)
    assert make.calls == 2 and np.array_equal(again["k"], good["k"])
    cache.cached("thing", INPUTS, make)
    assert make.calls == 2


def test_the_file_of_other_inputs_under_this_name_is_not_taken(place):
    cache.cached("thing", INPUTS, Maker(1.0))
    (one,) = files(place)
    cache.cached("thing", INPUTS | {"length": 1.0}, Maker(2.0))
    (other,) = (p for p in files(place) if p != one)
    other.replace(one)
    assert cache.cached("thing", INPUTS, Maker(3.0))["k"][0, 0] == 3.0


def test_off_means_off(tmp_path, monkeypatch):
    monkeypatch.setenv("BIOMECH_CACHE", "off")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    make = Maker()
    for _ in range(2):
        cache.cached("thing", INPUTS, make)
    assert make.calls == 2 and cache.folder() is None and not files(tmp_path)


def test_folder_of_the_user(tmp_path, monkeypatch):
    monkeypatch.delenv("BIOMECH_CACHE")
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert cache.folder() == tmp_path / "biomech"
    monkeypatch.setattr("sys.platform", "win32")
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path))
    assert cache.folder() == tmp_path / "biomech" / "Cache"


def test_a_place_that_cannot_be_written_costs_time_only(tmp_path, monkeypatch):
    taken = tmp_path / "taken"
    taken.write_text("a file")
    monkeypatch.setenv("BIOMECH_CACHE", str(taken / "cache"))
    make = Maker()
    assert cache.cached("thing", INPUTS, make)["k"].shape == (2, 2)
    cache.cached("thing", INPUTS, make)
    assert make.calls == 2


def test_errors_pass_and_leave_nothing(place):
    def fail():
        raise ValueError("no")

    with pytest.raises(ValueError, match="no"):
        cache.cached("thing", INPUTS, fail)
    assert not files(place)
    with pytest.raises(TypeError, match="set"):
        cache.cached("thing", {"x": {1, 2}}, Maker())


def test_old_versions_are_forgotten_and_nothing_else(place, monkeypatch):
    (place / "notes.txt").write_text("mine")
    for number in range(cache.KEPT + 3):
        name = f"{number:064x}"[::-1]
        monkeypatch.setattr(cache, "program", lambda name=name: name)
        cache.cached("thing", INPUTS, Maker())
        os.utime(place / name[:16], (1000 + number, 1000 + number))
    kept = {p.name for p in place.iterdir() if p.is_dir()}
    assert len(kept) == cache.KEPT and (place / "notes.txt").exists()
    assert name[:16] in kept


def test_the_code_that_computes_has_a_hash_and_a_change_changes_it(tmp_path):
    for name, text in (("a.py", "x = 1"), ("render/b.py", "y = 1")):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    before = cache.hash_of_code(tmp_path)
    (tmp_path / "render/b.py").write_text("y = 2")
    assert cache.hash_of_code(tmp_path) == before
    (tmp_path / "a.py").write_text("x = 2")
    assert cache.hash_of_code(tmp_path) != before


def test_the_solid_of_a_second_run_comes_from_disk(place, monkeypatch):
    from biomech import solid
    from biomech.ligaments import make_ligament
    from biomech.tooth import make_tooth

    canine, law = make_tooth(13), make_ligament("linear", poisson=0.45)
    first = solid.support(canine, law, fineness=0.5)
    assert len(files(place)) == 1
    monkeypatch.setattr(sys.modules["biomech.solid.support"], "condense", None)  # nothing is solved any more
    second = solid.support(canine, law, fineness=0.5)
    assert np.array_equal(first.fields, second.fields) and first.residual == second.residual
    q = first.motion([0.0, 1.0, 0.0, 0.0, 0.0, 0.0])
    assert np.array_equal(solid.stresses(first, q).normal, solid.stresses(second, q).normal)
    with pytest.raises(TypeError):
        solid.support(canine, law, fineness=0.5, waist=0.8)
