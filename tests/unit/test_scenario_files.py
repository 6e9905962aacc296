"""Reading files: extending, merging, and every way a file can be unreadable; the schema; the examples."""

import os
from pathlib import Path
from typing import Any

import pytest

from biomech.errors import FileError, InputError
from biomech.scenario import load, schema
from biomech.scenario.loader import merge

EXAMPLES = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))
BASE = """
format = 1
title = "Base"
note = "Invented case."
[arch]
jaw = "upper"
width = "62 mm"
depth = "45 mm"
teeth = [13]
[[force]]
tooth = 13
force = {buccal = "1 N"}
[[expect]]
output = "teeth.13.crown_mm.buccal"
min = 0.0
why = "test"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "base.toml").write_text(BASE, encoding="utf-8")
    return tmp_path


def write(folder: Path, name: str, text: str | bytes) -> Path:
    (folder / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder / name


def refused(path: Path, kind: type[Exception] = InputError) -> str:
    with pytest.raises(kind) as error:
        load(path)
    assert str(path) in str(error.value)
    return str(error.value)


def test_extending_merges_tables_and_replaces_lists(folder: Path) -> None:
    child = write(
        folder,
        "child.toml",
        'extends = "base.toml"\ntitle = "Child"\n[arch]\nteeth = [11, 13]\n[tooth.11]\nheld = true\n',
    )
    scenario = load(child)
    assert scenario.title == "Child"
    assert scenario.arch.teeth == (13, 11)
    assert scenario.arch.width == 62.0
    assert scenario.force[0].tooth == 13


def test_what_describes_one_file_is_not_inherited(folder: Path) -> None:
    scenario = load(write(folder, "child.toml", 'extends = "base.toml"\ntitle = "Child"\n'))
    assert (scenario.note, scenario.expect) == ("", ())
    assert "title is missing" in refused(write(folder, "untitled.toml", 'extends = "base.toml"\n'))


def test_extending_in_several_steps_and_folders(folder: Path) -> None:
    (folder / "sub").mkdir()
    write(folder, "sub/a.toml", 'extends = "../base.toml"\ntitle = "A"\n[arch]\nwidth = "60 mm"\n')
    scenario = load(write(folder, "b.toml", 'extends = "sub/a.toml"\ntitle = "B"\n[arch]\ndepth = "44 mm"\n'))
    assert (scenario.arch.width, scenario.arch.depth) == (60.0, 44.0)


def test_merge_leaves_its_arguments_alone() -> None:
    base: dict[str, Any] = {"a": {"b": 1, "c": [1, 2]}, "d": 1}
    over: dict[str, Any] = {"a": {"c": [3]}, "e": {"f": 1}}
    assert merge(base, over) == {"a": {"b": 1, "c": [3]}, "d": 1, "e": {"f": 1}}
    assert base == {"a": {"b": 1, "c": [1, 2]}, "d": 1}


def test_the_file_that_wrote_the_value_is_named(folder: Path) -> None:
    write(folder, "bad.toml", BASE.replace("62 mm", "62 mmm"))
    message = refused(
        write(folder, "child.toml", 'extends = "bad.toml"\ntitle = "C"\n[arch]\ndepth = "1 km"\n')
    )
    first, second = sorted(message.splitlines())
    assert "child.toml (from bad.toml): arch.width" in first
    assert "child.toml: arch.depth" in second


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (b"", "the file is empty"),
        (b" \n\n", "the file is empty"),
        (b"\x89PNG\r\n\x00\x01", "binary file"),
        (b'title = "\xff\xfe"', "not UTF-8 text (line 1)"),
        ("title = ", "no valid TOML"),
        ('title = "a"\ntitle = "b"', "written twice"),
        ("[arch]\n[arch]", "written twice"),
        ("extends = 3", "must be the name of a file"),
        ('extends = ""', "must be the name of a file"),
        ('extends = "bse.toml"', "Did you mean 'base.toml'?"),
        ('extends = "."', "there is no such file"),
        ('extends = "it.toml"', "leads in a circle"),
        ("x = " + "[" * 5000, "no valid TOML"),
        ("# only a comment", "is missing"),
    ],
)
def test_unusable_files(folder: Path, text: str | bytes, says: str) -> None:
    assert says in refused(write(folder, "it.toml", text))


def test_a_byte_order_mark_is_no_obstacle(folder: Path) -> None:
    assert load(write(folder, "bom.toml", b"\xef\xbb\xbf" + BASE.encode())).title == "Base"


def test_folder_and_missing_file(folder: Path) -> None:
    assert "is a folder" in refused(folder, FileError)
    assert "Did you mean 'base.toml'?" in refused(folder / "base.tml", FileError)


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_unreadable_file(folder: Path) -> None:
    path = write(folder, "secret.toml", BASE)
    path.chmod(0)
    assert "cannot be read" in refused(path, FileError)


def test_oversized_file(folder: Path) -> None:
    assert "is no scenario" in refused(write(folder, "big.toml", b"#" * 5_000_000))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_examples_load_and_say_what_they_are(path: Path) -> None:
    scenario = load(path)
    assert scenario.note.startswith("Invented case.")
    assert scenario.expect
    assert path.read_text(encoding="utf-8").startswith("# ")


def test_schema_lists_the_families_and_knows_the_keys() -> None:
    tables = schema()["$defs"]
    assert "stainless as drawn" in tables["Wire"]["properties"]["alloy"]["enum"]
    assert {"from", "to", "hold", "torque"} <= set(tables["Wire"]["properties"])
    assert tables["Wire"]["additionalProperties"] is False
    assert tables["Bracket"]["properties"]["slot_height"]["default"] == "0.022 in"


def test_schema_describes_every_key() -> None:
    for name, table in {"Scenario": schema(), **schema()["$defs"]}.items():
        for key, value in table.get("properties", {}).items():
            assert value.get("description"), f"{name}.{key}"
