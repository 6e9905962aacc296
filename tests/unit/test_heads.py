"""Heads of compared variants: names break where a reader would, or letters stand for them; nothing wider than the page."""

from __future__ import annotations

import dataclasses
import io
from functools import cache
from pathlib import Path

import pytest
from courses import compared
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from biomech.report.comparison import print_comparison
from biomech.report.course_comparison import print_course_comparison
from biomech.report.heads import LINES, heads, in_lines
from biomech.scenario import load
from biomech.studies.compare import Comparison, compare
from biomech.studies.variants import Variant

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@pytest.mark.parametrize(
    ("label", "lines"),
    [
        ("upper-overlay", ["upper-overlay"]),
        ("upper-overlay-molar-torque-18", ["upper-overlay-", "molar-torque-18"]),
        ("upper_overlay_molar_torque_18", ["upper_overlay_", "molar_torque_18"]),
        ("case.of.somebody.old", ["case.of.", "somebody.old"]),
        ("18 deg buccal root", ["18 deg buccal", "root"]),
        ("0.019 x 0.025 in", ["0.019 x 0.025", "in"]),
        ("torque of -12.5 deg", ["torque of -12.5", "deg"]),
        ("cases/two/upper.toml", ["cases/two/", "upper.toml"]),
    ],
)
def test_names_break_where_a_reader_would(label: str, lines: list[str]) -> None:
    assert heads([label, "x"], 15) == (("\n".join(lines), "x"), ())


@pytest.mark.parametrize("label", ["overlaywithouthyphens", "a-name-of-" + "some-length-" * 5])
def test_letters_where_a_name_cannot_stand(label: str) -> None:
    names, legend = heads(["first", label], 12)
    assert names == ("A", "B") and legend == ("A: first (reference)", f"B: {label}")


def test_more_variants_than_letters() -> None:
    names, _ = heads(["w" * 40, *(str(i) for i in range(799))], 12)
    assert names[:2] + names[25:28] + names[701:703] == ("A", "B", "Z", "AA", "AB", "ZZ", "AAA")
    assert len(set(names)) == 800


@given(st.lists(st.text(min_size=1, max_size=60).filter(str.strip), min_size=1, max_size=4))
def test_any_names(labels: list[str]) -> None:
    names, legend = heads(labels, 12)
    assert len(names) == len(labels) and len(legend) in (0, len(labels))
    if not legend:
        for label, name in zip(labels, names, strict=True):
            assert "".join(name.split()) == "".join(label.split()) and len(name.split("\n")) <= LINES


def test_lines_of_text_break_between_words_only() -> None:
    assert in_lines("in upper-overlay-molar-torque-18 it tips", 24).split("\n") == ["in", "upper-overlay-molar-torque-18", "it tips"]


def test_a_number_stays_with_its_unit() -> None:
    text = "force of 0.35 to 0.6 N at tooth 16 (0.4 N), 70 % of 12.5 N.mm, 3 deg/mm, 5 new ones"
    for width in range(12, 80):
        lines = in_lines(text, width).split("\n")
        assert " ".join(lines) == text and max(map(len, lines)) <= max(width, 12)
        assert not any(line.split()[0].strip("(),.") in ("N", "%", "N.mm", "deg/mm") for line in lines)


NAMES = ("upper-overlay", "upper_overlay_molar_torque_of_ten", "overlay with much more torque at molars", "plain")


@cache
def still() -> Comparison:
    files = ("upper-overlay", "upper-overlay-molar-torque-10", "upper-overlay-molar-torque-18", "upper-overlay-steel-ties")
    return compare([Variant(n, load(SCENARIOS / f"{f}.toml")) for n, f in zip(NAMES, files, strict=True)])


def printed(show: object, found: object, width: int) -> list[str]:
    console = Console(file=io.StringIO(), width=width, markup=False, highlight=False, emoji=False)
    show(found, console)
    return console.file.getvalue().splitlines()


@pytest.mark.parametrize("width", [80, 100, 120])
def test_a_comparison_keeps_to_the_page_and_breaks_no_number(width: int) -> None:
    lines = printed(print_comparison, still(), width)
    assert max(map(len, lines)) <= width
    text = "\n".join(lines)
    assert text.count("Arch and wires") == {80: 3, 100: 2, 120: 1}[width]  # 1, 2 and 3 beside the reference
    for line in lines:
        assert line.count("(") == line.count(")") or "  " not in line.strip(), line  # no cell goes on below
    for piece in ("upper_overlay_", "overlay with", "plain"):
        assert piece in text


@pytest.mark.parametrize("width", [80, 100, 120])
@pytest.mark.parametrize("longest", ["a-plain-name", "anamethatisfartoolongforanycolumn"])
def test_compared_courses_keep_to_the_page(width: int, longest: str) -> None:
    variants = [Variant(n, v.scenario) for n, v in zip(("one", longest, "case 3"), compared().variants, strict=True)]
    lines = printed(print_course_comparison, dataclasses.replace(compared(), variants=tuple(variants), keys=()), width)
    assert max(map(len, lines)) <= width
    legend = f"B: {longest}" in lines
    assert legend == (longest == "anamethatisfartoolongforanycolumn")
    assert not any("…" in line for line in lines)
