"""`biomech course`: run a course of treatment, visit by visit; one that was stopped goes on."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from biomech.cli.drawing import draw_all
from biomech.cli.places import folder
from biomech.cli.progress import Progress
from biomech.cli.sections import draw_course_sections, section_option, teeth_asked
from biomech.cli.solving import changed, read
from biomech.errors import FileError, InputError

if TYPE_CHECKING:
    from biomech.scenario import Scenario
    from biomech.studies.course import Course

KEPT = "legs"
"""Folder, in that of the results, of what was finished between visits."""


def run(
    file: Path, folder: Path, changes: Sequence[str], *, pictures: bool, quiet: bool, sections: Sequence[str] = ()
) -> None:
    """Run the course of one scenario file, going on from what an earlier run left in `folder`."""
    from biomech.studies.leftovers import COURSE, clear_leftovers

    with Progress(quiet=quiet) as progress:
        progress.say(f"reading {file}")
        scenario = changed(read(file), changes, file)
        teeth = teeth_asked(sections, scenario, file, pictures=pictures)
        course = _run(scenario, file, folder / KEPT, progress, quiet=quiet)
        from biomech.studies.course_files import write_course

        progress.say("writing the files")
        written: list[Path] = []
        failure: FileError | None = None
        try:
            written = write_course(course, folder)
        except FileError as error:
            failure = error
    if not quiet:
        from biomech.report import terminal
        from biomech.report.course import print_course

        print_course(course, terminal())
        print(kept(course, folder / KEPT))
        if scenario.expect:
            print(f"What the scenario expects of its first day is checked by: biomech solve {file}")
    if failure is not None:
        raise failure
    if pictures:
        written += draw(course, folder, teeth, quiet=quiet)
    clear_leftovers(folder, COURSE, written)
    if not quiet:
        print(f"\nWritten to {folder}: {', '.join(path.name for path in written)}")


def _run(scenario: Scenario, file: Path, store: Path, progress: Progress, *, quiet: bool) -> Course:
    if scenario.course is None:
        raise InputError(f"{file}: has no [course]; give one, or solve its only moment: biomech solve {file}")
    from biomech.studies.course import run_course
    from biomech.studies.write import write_texts

    rehearsed(scenario, file)  # before the folder is made: what cannot be done leaves nothing behind
    write_texts(store, {})  # a folder that cannot be made is an error now, not after the first stretch
    progress.say("running the course")
    try:
        return run_course(scenario, folder=store, progress=_watched(progress.say, quiet=quiet))
    except InputError as error:
        raise InputError("\n".join(f"{file}: {line}" for line in str(error).splitlines())) from None
    except KeyboardInterrupt:
        if not quiet and any(store.glob("*.leg")):
            print(f"\nwhat is finished is kept in {store}; the same command goes on from there", file=sys.stderr)
        raise


def rehearsed(scenario: Scenario, file: Path | str) -> None:
    """Act out the visits and rules of a course, where there is one, without time. Raises InputError naming the file."""
    from biomech.studies.course import rehearse

    if scenario.course is None:
        return
    try:
        rehearse(scenario, scenario.course)
    except InputError as error:
        raise InputError("\n".join(f"{file}: {line}" for line in str(error).splitlines())) from None


def _watched(say: Callable[[str, float], None], *, quiet: bool) -> Callable[[str, float], None]:
    """Return a progress function that tells, the first time it is called, when the course does not begin at day 0."""
    first = True

    def tell(what: str, share: float) -> None:
        nonlocal first
        if first and share > 0.0 and not quiet:
            print(f"biomech: going on from {what}; what came before was finished earlier", file=sys.stderr, flush=True)
        first = False
        say(what, share)

    return tell


def kept(course: Course, store: Path) -> str:
    """Return in words which stretches between visits an earlier run had finished."""
    old = sum(leg.resumed for leg in course.legs)
    if old == 0:
        return f"All computed now. Should a run be stopped, it goes on from what is in {store}"
    rest = len(course.legs) - old
    more = "nothing was left to compute" if rest == 0 else f"{rest} computed now"
    return f"Resumed: {old} of {len(course.legs)} stretches between visits were finished before, {more}; see {store}"


def draw(course: Course, folder: Path, teeth: Sequence[int] = (), *, quiet: bool) -> list[Path]:
    """Write the plot, and `teeth` in section; what cannot be drawn is reported, and stops nothing.

    Raises FileError for what cannot be written.
    """
    drawn = (
        ("the plot", partial(_plot, course, folder)),
        ("sections", partial(draw_course_sections, course, folder=folder, numbers=teeth)),
    )
    return draw_all(drawn, quiet=quiet)


def _plot(course: Course, folder: Path) -> list[Path]:
    from biomech.render.course_plot import plot_course

    return [plot_course(course, folder)]


@click.command(short_help="Run a course: visits, teeth moving in time.")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--out", metavar="FOLDER", callback=folder,
              help="Where to write the files.  [default: out/<name of FILE>]")  # fmt: skip
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE",
              help='Change the scenario, such as --set "course.duration=6 months". May be repeated.')  # fmt: skip
@section_option(" at the start, as visits leave it, and at the end")
@click.option("--no-pictures", is_flag=True, help="Write numbers only: no plot.")
@click.option("--quiet", is_flag=True, help="No tables, no progress; files and errors only.")
def course(
    file: Path, out: Path | None, changes: tuple[str, ...], sections: tuple[str, ...], no_pictures: bool, quiet: bool
) -> None:
    """Run the course of the scenario FILE: print every visit and write course.json, CSV files and a plot.

    A run that was stopped goes on from its last finished visit when the same command is given again.
    """
    run(file, out or Path("out") / file.stem, changes, pictures=not no_pictures, quiet=quiet, sections=sections)
