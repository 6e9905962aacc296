"""`biomech report`: solve and write a report."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from biomech.cli.course import KEPT, kept, rehearsed
from biomech.cli.progress import Progress
from biomech.cli.solving import changed, read
from biomech.errors import InputError

if TYPE_CHECKING:
    from biomech.scenario import Scenario


def run(file: Path, out: Path, changes: Sequence[str], *, quiet: bool) -> None:
    """Solve one scenario file and write its report; no report when that fails, only a course's finished stretches."""
    if out.suffix.lower() not in (".html", ".htm"):
        raise InputError(f"--out {out}: name a file that ends in .html")
    with Progress(quiet=quiet) as progress:
        progress.say(f"reading {file}")
        scenario = changed(read(file), changes, file)
        if scenario.course is None:
            told: list[str] = []
            path = _moment(scenario, out, progress)
        else:
            rehearsed(scenario, file)
            told, path = _course(scenario, out, _store(file, out), progress)
    if not quiet:
        print("\n".join([*told, f"Written: {path}"]))


def _moment(scenario: Scenario, out: Path, progress: Progress) -> Path:
    from biomech.report.html import write_report
    from biomech.studies import solve

    progress.say("solving")
    solution = solve(scenario, progress=progress.say)
    progress.say("writing the report")
    return write_report([("in equilibrium", solution)], out)


def _store(file: Path, out: Path) -> Path:
    """Return the folder of finished stretches: beside the report where one is, else where `biomech course` has it."""
    beside = out.parent / KEPT
    return beside if beside.is_dir() else Path("out") / file.stem / KEPT


def _course(scenario: Scenario, out: Path, store: Path, progress: Progress) -> tuple[list[str], Path]:
    """Return which stretches were there already, in words, and the report's path."""
    from biomech.report.html.course import write_course_report
    from biomech.studies.course import run_course

    progress.say("running the course")
    course = run_course(scenario, folder=store, progress=progress.say)
    progress.say("writing the report")
    return [kept(course, store)], write_course_report(course, out)
