"""The HTML report: it stands alone, says what was solved, and can be run again."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import tomllib
from collections import Counter
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from solved import small

import biomech.report.html as package
from biomech.cli import main
from biomech.errors import FileError, InputError
from biomech.mechanics.poses import Pose, pose_exp
from biomech.report.html import Whole, report_text, write_report
from biomech.report.html.checks import Check, Checked
from biomech.report.html.inputs import Stage
from biomech.report.html.markup import number, tag
from biomech.report.html.page import scenario_text
from biomech.report.html.steps import steps_of
from biomech.report.html.tables import widths
from biomech.report.html.toml import dump
from biomech.scenario import Scenario, load
from biomech.studies import CAUTION, record, solve

ROOT = Path(__file__).parents[2]
FOLDER = Path(package.__file__).parent


@pytest.fixture(scope="module")
def page():
    return report_text([("in equilibrium", small())])


def data_of(page):
    found = re.search(r'<script type="application/json" id="viewer-data">(.*?)</script>', page, re.DOTALL)
    return json.loads(found[1])


class Reader(HTMLParser):
    """Checks that every element is closed, and gathers ids and addresses."""

    def __init__(self):
        super().__init__()
        self.open, self.ids, self.addresses, self.styled = [], [], [], []

    def handle_starttag(self, name, attributes):
        found = dict(attributes)
        self.ids += [found["id"]] if "id" in found else []
        self.addresses += [v for k, v in attributes if k in ("href", "src", "action", "poster", "data", "xlink:href")]
        self.styled += [k for k, _ in attributes if k == "style" or k.startswith("on")]
        if name not in ("meta", "input", "br", "hr", "col"):
            self.open.append(name)

    def handle_endtag(self, name):
        assert self.open.pop() == name


def test_page_is_well_formed_and_stands_alone(page):
    reader = Reader()
    reader.feed(page)
    assert not reader.open and not reader.styled
    assert [i for i, count in Counter(reader.ids).items() if count > 1] == []
    assert all(a.startswith(("#", "data:text/plain")) for a in reader.addresses)
    assert all(a[1:] in reader.ids for a in reader.addresses if a.startswith("#"))
    assert set(re.findall(r"https?://[^\s\"'`)]+", page)) <= {"http://www.w3.org/1999/xhtml"}


def test_content_policy_names_exactly_the_inline_code(page):
    policy = re.search(r'<meta http-equiv="Content-Security-Policy" content="([^"]+)">', page)[1]
    assert page.index(policy) < page.index("<style") < page.index("<script")
    code = [t for kind, t in re.findall(r"<(script|style)>(.*?)</\1>", page, re.DOTALL)]
    assert len(code) == 2
    for text in code:
        assert f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'" in policy
    assert "default-src 'none'" in policy and "unsafe" not in policy and "*" not in policy


def test_page_says_what_was_solved(page):
    text = unescape(page)
    for expected in ("Six front teeth [with] an overlay", "Does it print?", "Invented case.", CAUTION, "NOT met",
                     "mesh: every element halved, the result", "Force card", "Not covered by evidence", record(small())["versions"]["biomech"]):  # fmt: skip
        assert expected in text
    for warning in small().warnings:
        assert warning in text


def test_text_of_a_scenario_is_escaped_everywhere():
    nasty = "</script><script>alert(1)</script> & \"quotes\""
    solution = small()
    scenario = solution.scenario.changed({"title": nasty, "question": nasty, "note": nasty})
    page = report_text([(nasty, replace(solution, scenario=scenario))])
    reader = Reader()
    reader.feed(page)
    assert len(re.findall(r"<script", page)) == 2 and "alert(1)</script> &" not in page
    assert data_of(page)["steps"][1]["label"] == nasty


def test_numbers_shown_are_the_solvers(page):
    solution, data = small(), data_of(page)
    for i, (n, view) in enumerate(solution.teeth.items()):
        crown = solution.tooth(n)["long_axis_mm"]["crown"]
        force = view.words(view.wrench[:3])["buccal"]
        row = [text.replace("−", "-") for text in data["steps"][1]["numbers"][i]]
        assert float(row[1]) == pytest.approx(crown, abs=0.5001e-3)
        assert float(row[3]) == pytest.approx(force, abs=0.5001e-2)
        assert data["steps"][1]["forces"][i] == pytest.approx(view.wrench[:3], abs=1e-5)
        tooth = data["teeth"][i]
        start = Pose(np.array(tooth["start"]["R"]).reshape(3, 3), np.array(tooth["start"]["x"]))
        now = start @ pose_exp(np.array(data["steps"][1]["motions"][i]))
        assert now.position == pytest.approx(view.pose.position, abs=2e-5)
        assert now.rotation == pytest.approx(view.pose.rotation, abs=1e-7)
        assert tooth["number"] == n and data["steps"][0]["motions"][i] == [0.0] * 6


def test_table_of_forces_has_every_tooth(page):
    for n in small().teeth:
        force = small().tooth(n)["force_N"]
        cells = "".join(f"<td>{number(force[w], 3)}</td>" for w in ("mesial", "buccal", "occlusal"))
        assert f'<th scope="row">{n}</th>{cells}' in page


def test_scenario_in_the_report_gives_the_same_solution(page):
    text = unescape(re.search(r'<pre class="scenario">(.*?)</pre>', page, re.DOTALL)[1])
    assert hashlib.sha256(text.encode()).hexdigest() in page
    address = re.search(r'href="data:text/plain;charset=utf-8;base64,([^"]+)"', page)[1]
    assert base64.b64decode(address).decode() == text
    again = solve(Scenario.parse(tomllib.loads(text)))
    assert all(again.tooth(n) == small().tooth(n) for n in small().teeth)


@pytest.mark.parametrize("path", sorted((ROOT / "scenarios").glob("*.toml")), ids=lambda p: p.stem)
def test_every_scenario_is_written_so_that_it_reads_back(path, tmp_path):
    scenario = load(path)
    assert tomllib.loads(dump(scenario.document)) == scenario.document
    alone = tmp_path / "alone.toml"
    alone.write_text(scenario_text(scenario), encoding="utf-8")
    document = scenario.document
    document.pop("extends", None)
    assert load(alone).document == document


def _unsolved(scenario):
    return replace(small(), scenario=scenario)


def test_a_course_counts_from_its_first_step():
    """A second solution whose sockets were carried on: displacements add up, forces are its own."""
    first = small()
    carried = {n: replace(v, part=replace(v.part, pose=v.pose), pose=v.pose @ pose_exp(v.motion))
               for n, v in first.teeth.items()}  # fmt: skip
    second = replace(first, teeth=carried, _reports={})
    steps = steps_of([("one", first), ("two", second)])
    assert [s.label for s in steps] == ["start", "one", "two"]
    for n, view in first.teeth.items():
        assert steps[2].motions[n] == pytest.approx(2 * view.motion, abs=1e-12)
        edge = view.part.tooth.landmarks["edge"]
        total = view.words(pose_exp(2 * view.motion).point(edge) - edge)
        assert steps[2].numbers[n]["crown_mm"] == pytest.approx(total, abs=1e-12)
        assert steps[2].numbers[n]["force_N"] == second.tooth(n)["force_N"]
    text = report_text([("one", first), ("two", second)])
    assert "The steps side by side" in text and "follows the rate law" in text


def test_width_agrees_with_the_arch():
    solution = small()
    parts = {n: v.part for n, v in solution.teeth.items()}
    found = widths(steps_of([("x", solution)])[1], parts)
    assert found["canine crown"] == pytest.approx(solution.arch.widths[3].crown, abs=1e-9)
    assert found["canine apex"] == pytest.approx(solution.arch.widths[3].apex, abs=1e-9)


def test_written_whole_or_not_at_all(tmp_path):
    path = write_report([("in equilibrium", small())], tmp_path / "new" / "report.html")
    assert [p.name for p in path.parent.iterdir()] == ["report.html"]
    assert path.stat().st_size < 1.6e6
    (tmp_path / "file").write_text("")
    with pytest.raises(FileError, match="file"):
        write_report([("in equilibrium", small())], tmp_path / "file" / "report.html")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file", "new"]


def test_refuses_nothing_and_different_arches():
    with pytest.raises(InputError, match="at least one"):
        report_text([])
    other = replace(small(), teeth={11: small().teeth[11]})
    with pytest.raises(InputError, match="'b' has other teeth"):
        report_text([("a", small()), ("b", other)])


def test_command_line(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "case.toml").write_text(dump(small().scenario.document), encoding="utf-8")
    assert main(["report", "case.toml", "--set", "title=Changed"]) == 0
    assert "report.html" in capsys.readouterr().out
    assert "<h1>Changed</h1>" in (tmp_path / "out" / "case" / "report.html").read_text(encoding="utf-8")
    assert main(["report", "case.toml", "--out", "report.pdf"]) == 2
    assert "ends in .html" in capsys.readouterr().err
    assert main(["report", "absent.toml"]) == 2


def test_steps_of_a_whole_carry_notes_sections_and_one_scenario():
    solution = small()
    scenario = solution.scenario.changed({"title": "The whole course", "wire.main.torque": {}})
    claim = {"output": "end.day", "wanted": "at least 1", "value": 0.5, "met": False, "why": "so it goes", "problem": None}
    found = Checked([Check("a <check>", "0.1", "0.2", "met")], ["all the rest"])
    more = tag("section", "More about it", id="more")
    whole = Whole(scenario, ["as <found>", "as left"], tag("p", "In brief."), more, [claim], found,
                  [(0.0, solution), (28.0, solution)], ["mind <this>"], ["day 3: a root is out"], [],
                  [Stage(solution.appliance, (0.0, 28.0))], ["all of it outside the <evidence>"])  # fmt: skip
    page = report_text([("one", solution), ("two", solution)], whole=whole)
    assert [s["note"] for s in data_of(page)["steps"][1:]] == ["as <found>", "as left"]
    assert "<h1>The whole course</h1>" in page and '<section id="more">' in page
    text = unescape(re.search(r'<pre class="scenario">(.*?)</pre>', page, re.DOTALL)[1])
    assert Scenario.parse(tomllib.loads(text)).document == scenario.document
    assert "worst of 2 moments" in page and "so it goes" in page
    assert "a &lt;check&gt;" in page and "all the rest" in page
    assert "mind &lt;this&gt;" in page[page.index("To be aware of"):page.index("In brief.")]
    assert "all of it outside the &lt;evidence&gt;" in page[page.index("Not covered by evidence"):page.index("<h2>Figures")]
    assert "day 3: a root is out" in page[page.index('id="card"'):page.index("Each tooth at its worst")]
