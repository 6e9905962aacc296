"""`biomech compare`: several scenarios, or one with a key varied, side by side."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from biomech.cli.progress import Progress
from biomech.cli.solving import changed, read
from biomech.errors import BiomechError, FileError, InputError

if TYPE_CHECKING:
    from biomech.studies.compare import Comparison
    from biomech.studies.variants import Variant


def run(
    files: Sequence[Path], folder: Path, vary: str | None, teeth: str | None, changes: Sequence[str], *,
    plots: bool, quiet: bool,
) -> None:  # fmt: skip
    """Compare; a folder that cannot be written to is an error only after the tables are printed."""
    with Progress(quiet=quiet) as progress:
        progress.say(f"reading {', '.join(map(str, files))}")
        variants, keys = variants_of(files, vary, changes)
        from biomech.studies.compare import compare
        from biomech.studies.comparison_files import write_comparison

        found = compare(variants, keys=keys, teeth=numbers(teeth), progress=progress.say)
        written: list[Path] = []
        failure: FileError | None = None
        try:
            written = write_comparison(found, folder)
        except FileError as error:
            failure = error
    if not quiet:
        from biomech.report import terminal
        from biomech.report.comparison import print_comparison

        print_comparison(found, terminal())
    if failure is not None:
        raise failure
    if plots:
        written += draw(found, folder, quiet=quiet)
    if not quiet:
        print(f"\nWritten to {folder}: {', '.join(path.name for path in written)}")


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


def draw(found: Comparison, folder: Path, *, quiet: bool) -> list[Path]:
    """Write the plots; what cannot be done is reported, and stops nothing."""
    with Progress(quiet=quiet) as progress:
        progress.say("drawing the plots")
        try:
            from biomech.render.plots import plot_comparison

            return plot_comparison(found, folder)
        except (BiomechError, ImportError) as error:
            print(f"biomech: plots left out: {error}", file=sys.stderr)
            return []


@click.command(short_help="Several scenarios, or one with a key varied, side by side.")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@click.option("--vary", metavar="KEY=VALUES",
              help='Vary a key of one file, such as "bracket.prescription=A,B,C" or "wire.main.torque.16 + '
              'wire.main.torque.26 = 0 deg, 18 deg buccal root". The first value is the reference.')  # fmt: skip
@click.option("--teeth", metavar="NUMBERS",
              help="Teeth in the tables and plots, such as 16,13.  [default: those that differ most]")  # fmt: skip
@click.option("--out", metavar="FOLDER", type=click.Path(path_type=Path),
              help="Where to write the files.  [default: out/compare-<name of the first FILE>]")  # fmt: skip
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE",
              help="Change all scenarios before they are compared. May be repeated.")  # fmt: skip
@click.option("--no-plots", is_flag=True, help="Write numbers only.")
@click.option("--quiet", is_flag=True, help="No tables, no progress; files and errors only.")
def compare(
    files: tuple[Path, ...], vary: str | None, teeth: str | None, out: Path | None, changes: tuple[str, ...],
    no_plots: bool, quiet: bool,
) -> None:  # fmt: skip
    """Compare scenario FILEs, or one FILE with a key varied: what differs in plain words, tables, CSV, JSON, plots."""
    folder = out or Path("out") / f"compare-{files[0].stem}"
    run(files, folder, vary, teeth, changes, plots=not no_plots, quiet=quiet)
