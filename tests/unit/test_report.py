"""The terminal report: anatomical words, figures that agree with the record, 100 columns."""

from __future__ import annotations

import io
import re

import pytest
from rich.cells import cell_len
from rich.console import Console
from solved import held, small

from biomech.report import WIDTH, print_solution
from biomech.report.support import print_support
from biomech.report.words import decimals, either, number, way
from biomech.studies import record
from biomech.studies.support import tooth_support


def printed(solution, width=WIDTH):
    file = io.StringIO()
    console = Console(file=file, width=width, markup=False, highlight=False, emoji=False)
    print_solution(solution, record(solution), console)
    return file.getvalue()


def cells(text, title, row):
    """Return the cells of the row beginning with `row` in the table whose title begins with `title`."""
    lines = text[text.index(title) :].splitlines()
    line = next(line for line in lines if line.strip().startswith(f"{row} "))
    return [cell.strip() for cell in re.split(r"\s{2,}", line.strip())]


@pytest.mark.parametrize(
    ("key", "value", "text"),
    [
        ("buccal", 1.2, "buccal 1.20"), ("buccal", -1.2, "lingual 1.20"), ("mesial", -0.5, "distal 0.50"),
        ("occlusal", -3.0, "apical 3.00"), ("torque", 2.0, "buccal root 2.00"), ("tip", -2.0, "distal crown 2.00"),
        ("rotation", -2.0, "mesial in 2.00"), ("torque", -0.001, "0.00"), ("tip", None, "-"),
    ],
)  # fmt: skip
def test_the_word_says_which_way(key, value, text):
    assert way(key, value, 2) == text


def test_numbers():
    assert number(-0.0004, 3) == "0.000" and number(None, 2) == "-" and number(-1.5, 1) == "-1.5"
    assert [decimals([x]) for x in (0.0, 0.012, 0.5, 2.5, 25.0, 250.0, 2.5e6)] == [1, 4, 3, 2, 1, 0, 0]
    assert decimals([]) == 1 and decimals([None, 25.0]) == 1
    assert either("wider", "narrower", -0.25, 1) == "narrower 0.2"


def test_figures_are_those_of_the_record():
    solution, text = small(), printed(small())
    for n in solution.teeth:
        tooth = solution.tooth(n)
        force = tooth["force_N"]["buccal"]
        (shown,) = re.findall(r"(buccal|lingual) ([\d.]+) \(([\d.]+)", " ".join(cells(text, "Force on each tooth", n)))
        assert shown[0] == ("buccal" if force > 0 else "lingual")
        assert float(shown[1]) == pytest.approx(abs(force), abs=0.006)
        assert float(shown[2]) == pytest.approx(abs(tooth["force_gf"]["buccal"]), abs=0.6)
        torque = tooth["moment_at_bracket_N_mm"]["torque"]
        found = cells(text, "Moment at the bracket", n)[1]
        assert found.startswith("buccal root" if torque > 0 else "lingual root")
        assert float(found.split()[-1]) == pytest.approx(abs(torque), abs=0.06)
        crown = 1e3 * tooth["crown_mm"]["buccal"]
        found = cells(text, "Displacement, buccolingual and vertical, micrometres", n)[1]
        assert found.startswith("buccal" if crown > 0 else "lingual")
        assert float(found.split()[-1]) == pytest.approx(abs(crown), abs=0.6)
        assert cells(text, "Movement in the buccolingual", n)[-1] == tooth["movement"]


def test_the_ratio_stands_beside_the_displacements_it_is_of():
    """A turn about the long axis moves the edge, not the axis: apex over crown is that of the axis, and it says so."""
    text, ways = printed(small()), {"buccal": 1.0, "lingual": -1.0}
    for n in small().teeth:
        axis = small().tooth(n)["long_axis_mm"]
        found = cells(text, "Movement in the buccolingual plane: long axis, micrometres", n)
        crown, apex = (ways[cell.split()[0]] * float(cell.split()[1]) for cell in found[1:3])
        assert [crown, apex] == pytest.approx([1e3 * axis["crown"], 1e3 * axis["apex"]], abs=0.06)
        assert float(found[3]) == pytest.approx(axis["apex"] / axis["crown"], abs=0.006)
    flat = " ".join(text.split())
    assert "ratio and movement are those of the axis" in flat
    assert flat.count("crown: incisal edge or buccal cusp; apex: root tip") == 2


def test_bands_are_named_below_their_table():
    text = printed(small())
    table = text[text.index("Against published bands") : text.index("Wires: peak stress")]
    marks = [cells(table, "Against", n)[3] for n in small().teeth]
    assert all(re.search(r"(below|within|above)$", mark) or mark == "-" for mark in marks)
    assert "torque moment: 5 to 20 N.mm; useful window, Burstone 1982" in table


def test_says_all_that_must_be_said():
    text = printed(small())
    for part in (
        "Six front teeth [with] an overlay",  # brackets are not markup
        "Wires: peak stress (von Mises) against the elastic limit",
        "widths: at crowns between edges or buccal", "Force of wire 'overlay' on the teeth", "tie between 11 and 21", "canines", "Incisal midline",
        "Balance: ", "Newton steps", "stable", "Warnings", "Where values come from", "licensed",
        "met     teeth.23.force_N.buccal", "NOT MET teeth.11.moment_at_bracket_N_mm.torque", "= no value",
    ):  # fmt: skip
        assert part in text, part


def test_fits_in_its_width():
    for width in (WIDTH, 140):
        assert max(cell_len(line.rstrip()) for line in printed(small(), width).splitlines()) <= width


def test_plain_text_without_colour_codes():
    assert "\x1b" not in printed(small())


def test_rigid_teeth_have_forces_but_no_movement():
    text = printed(held())
    assert "Force on each tooth" in text and "Moment at the bracket" in text
    assert "centre of resistance, N.mm" not in text and "Displacement" not in text and "nan" not in text
    assert "ligament, rigid" in text


@pytest.mark.parametrize("number_", [11, 16, 23, 36, 44])
def test_support_of_one_tooth(number_):
    support = tooth_support(number_, bone_level=2.0, law="linear")
    file = io.StringIO()
    print_support(support, Console(file=file, width=WIDTH, markup=False, highlight=False))
    text = file.getvalue()
    ratio = support.ratios["buccolingual"]
    for row, value in (
        ("M/F tipping about the apex, mm", ratio.about_apex),
        ("M/F translation, mm", ratio.translation),
        ("M/F root movement about the bracket, mm", ratio.about_bracket),
        ("sigma squared, mm2", ratio.centre.sigma_squared),
    ):
        assert float(cells(text, "In the two planes", row)[1]) == pytest.approx(value, abs=0.006)
    below = support.tooth.jaw_sign * ratio.centre.point[2] - 2.0
    assert float(cells(text, "In the two", "centre of resistance below")[1]) == pytest.approx(below, abs=0.006)
    assert support.tooth.name in text and "residual" in text and "licensed" in text and "nan" not in text
    assert max(cell_len(line.rstrip()) for line in text.splitlines()) <= WIDTH
