"""`biomech compare`: several scenarios, or one with a key varied, side by side."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from biomech.cli.course import rehearsed
from biomech.cli.places import folder as named
from biomech.cli.progress import Progress
from biomech.cli.solving import changed, read
from biomech.errors import BiomechError, FileError, InputError

if TYPE_CHECKING:
    from biomech.studies.compare import Comparison
    from biomech.studies.compare_courses import CourseComparison
    from biomech.studies.variants import Variant

    Found = Comparison | CourseComparison


KEPT = "legs"
"""Folder, in that of the results, of what was finished of each course between its visits."""


class Asked(NamedTuple):
    """What is asked for beside files: keys varied, teeth, changes; of courses: times, and how many run at once."""

    vary: str | None
    teeth: str | None
    changes: Sequence[str]
    at: str | None
    jobs: int | None
    first_moment: bool


def run(files: Sequence[Path], folder: Path, asked: Asked, *, plots: bool, quiet: bool) -> None:
    """Compare; a folder that cannot be written to is an error only after the tables are printed.

    Plots and curves of an earlier comparison in the same folder go once the new files are in place.
    """
    from biomech.studies.leftovers import COMPARED, clear_leftovers

    with Progress(quiet=quiet) as progress:
        progress.say(f"reading {', '.join(map(str, files))}")
        variants, keys = variants_of(files, asked.vary, asked.changes)
        if asked.first_moment:
            variants = [_at_first(variant) for variant in variants]
        for i, variant in enumerate(variants):
            rehearsed(variant.scenario, files[i] if len(files) > 1 else f"{files[0]}, {variant.label}")
        found, written, failure = _compared(variants, keys, folder, asked, progress, quiet=quiet)
    if not quiet:
        _print(found)
    if failure is not None:
        raise failure
    if plots:
        written += draw(found, folder, quiet=quiet)
    clear_leftovers(folder, COMPARED, written)
    if not quiet:
        print(f"\nWritten to {folder}: {', '.join(path.name for path in written)}")


def _compared(
    variants: list[Variant], keys: list[str], folder: Path, asked: Asked, progress: Progress, *, quiet: bool
) -> tuple[Found, list[Path], FileError | None]:
    """Compare and write: courses when the variants have them, else single moments."""
    from biomech.studies.compare_courses import check, have_courses

    teeth = numbers(asked.teeth)
    if len(variants) < 2 or not have_courses(variants):
        for option, given in (("--at", asked.at), ("--jobs", asked.jobs)):
            if given is not None:
                raise InputError(f"{option} is for courses; these scenarios are compared at a single moment")
        from biomech.studies.compare import compare
        from biomech.studies.comparison_files import write_comparison

        still = compare(variants, keys=keys, teeth=teeth, progress=progress.say)
        return (still, *_written(lambda: write_comparison(still, folder)))
    check(variants, teeth)
    from biomech.studies.course_comparison_files import write_course_comparison

    course = _courses(variants, keys, folder, asked, progress, quiet=quiet)
    return (course, *_written(lambda: write_course_comparison(course, folder)))


def _courses(
    variants: list[Variant], keys: list[str], folder: Path, asked: Asked, progress: Progress, *, quiet: bool
) -> CourseComparison:
    from biomech.studies.compare_courses import compare_courses
    from biomech.studies.parallel import cores
    from biomech.studies.write import write_texts

    store = folder / KEPT
    write_texts(store, {})  # a folder that cannot be made is an error now, not after the first stretch
    at = None if asked.at is None else asked.at.split(",")
    jobs = 2 * cores() if asked.jobs is None else asked.jobs  # three on two cores end sooner together
    try:
        return compare_courses(
            variants, keys=keys, teeth=numbers(asked.teeth), at=at, jobs=jobs, folder=store, progress=progress.say
        )
    except KeyboardInterrupt:
        if not quiet and any(store.glob("*/*.leg")):
            print(f"\nwhat is finished is kept in {store}; the same command goes on from there", file=sys.stderr)
        raise


def _written(write: Callable[[], list[Path]]) -> tuple[list[Path], FileError | None]:
    try:
        return write(), None
    except FileError as error:
        return [], error


def _print(found: Found) -> None:
    from biomech.report import terminal
    from biomech.studies.compare import Comparison

    if isinstance(found, Comparison):
        from biomech.report.comparison import print_comparison

        print_comparison(found, terminal())
    else:
        from biomech.report.course_comparison import print_course_comparison

        print_course_comparison(found, terminal())


def _at_first(variant: Variant) -> Variant:
    """Return a variant without its course."""
    from biomech.studies.actions import without_course

    return replace(variant, scenario=without_course(variant.scenario))


def variants_of(files: Sequence[Path], vary: str | None, changes: Sequence[str]) -> tuple[list[Variant], list[str]]:
    """Return the variants and the keys varied: several files, or one with --vary. Raises InputError for neither."""
    from biomech.studies import variants

    if vary is not None:
        if len(files) != 1:
            raise InputError(f"--vary needs exactly one file, got {len(files)}; leave it out to compare files")
        keys, values = variants.read_vary(vary)
        try:
            return variants.vary(changed(read(files[0]), changes, files[0]), keys, values), keys
        except InputError as error:
            raise InputError("\n".join(f"{files[0]} with --vary: {line}" for line in str(error).splitlines())) from None
    if len(files) < 2:
        raise InputError("name at least two scenario files, or one with --vary KEY=VALUE,VALUE,...")
    names = [file.stem for file in files]
    labels = [str(f) if names.count(name) > 1 else name for f, name in zip(files, names, strict=True)]
    return [variants.Variant(n, changed(read(f), changes, f)) for n, f in zip(labels, files, strict=True)], []


def numbers(teeth: str | None) -> list[int] | None:
    """Return the tooth numbers of "16,26"; InputError for anything else."""
    if teeth is None:
        return None
    from biomech.scenario.quantities import read_tooth

    try:
        return [read_tooth(part.strip()) for part in teeth.split(",")]
    except InputError as error:
        raise InputError(f'--teeth "{teeth}": {error}') from None


def draw(found: Found, folder: Path, *, quiet: bool) -> list[Path]:
    """Write the plots; what cannot be drawn is reported, and stops nothing. FileError for what cannot be written."""
    from biomech.studies.compare import Comparison

    with Progress(quiet=quiet) as progress:
        progress.say("drawing the plots")
        try:
            if isinstance(found, Comparison):
                from biomech.render.plots import plot_comparison

                return plot_comparison(found, folder)
            from biomech.render.course_comparison_plots import plot_course_comparison

            return plot_course_comparison(found, folder)
        except FileError:
            raise
        except (BiomechError, ImportError) as error:
            print(f"biomech: plots left out: {error}", file=sys.stderr)
            return []


@click.command(short_help="Several scenarios, or one with a key varied, side by side.")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@click.option("--vary", metavar="KEY=VALUES",
              help='Vary a key of one file, such as "bracket.prescription=A,B,C" or "wire.main.torque.16 + '
              'wire.main.torque.26 = 0 deg, 18 deg buccal root"; values with commas in quotes. '
              'The first value is the reference.')  # fmt: skip
@click.option("--teeth", metavar="NUMBERS",
              help="Teeth in the tables and plots, such as 16,13.  [default: those that differ most]")  # fmt: skip
@click.option("--out", metavar="FOLDER", callback=named,
              help="Where to write the files.  [default: out/compare-<name of the first FILE>]")  # fmt: skip
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE",
              help="Change all scenarios before they are compared. May be repeated.")  # fmt: skip
@click.option("--at", metavar="TIMES",
              help='Courses: times of the tables, such as "start, visit 2, 6 months", "visits" for all of them.  '
              "[default: middle, end]")  # fmt: skip
@click.option("--jobs", metavar="N", type=click.IntRange(min=1),
              help="Courses: how many run at once, each in a process of its own.  [default: two a core]")  # fmt: skip
@click.option("--first-moment", is_flag=True, help="Leave out the courses and compare the first moments.")
@click.option("--no-plots", is_flag=True, help="Write numbers only.")
@click.option("--quiet", is_flag=True, help="No tables, no progress; files and errors only.")
def compare(
    files: tuple[Path, ...], vary: str | None, teeth: str | None, out: Path | None, changes: tuple[str, ...],
    at: str | None, jobs: int | None, first_moment: bool, no_plots: bool, quiet: bool,
) -> None:  # fmt: skip
    """Compare scenario FILEs, or one FILE with a key varied: what differs in plain words, tables, CSV, JSON, plots.

    Scenarios with a [course] are run as courses; stopped, they go on when the same command is given again.
    """
    folder = out or Path("out") / f"compare-{files[0].stem}"
    asked = Asked(vary, teeth, changes, at, jobs, first_moment)
    run(files, folder, asked, plots=not no_plots, quiet=quiet)
