"""`biomech solve`: read, solve, write, print, draw."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from biomech.cli.drawing import draw_all
from biomech.cli.progress import Progress
from biomech.cli.sections import draw_sections, teeth_asked
from biomech.errors import FileError, InputError

if TYPE_CHECKING:
    from biomech.scenario import Scenario
    from biomech.studies import Solution


def run(
    file: Path, folder: Path, changes: Sequence[str], *, pictures: bool, quiet: bool, sections: Sequence[str] = ()
) -> None:
    """Solve one scenario file. A folder that cannot be written to is an error only after the tables are printed."""
    with Progress(quiet=quiet) as progress:
        progress.say(f"reading {file}")
        scenario = changed(read(file), changes, file)
        teeth = teeth_asked(sections, scenario, file, pictures=pictures)
        from biomech.studies import record, solve, write
        from biomech.studies.leftovers import SOLVED, clear_leftovers

        progress.say(f"solving {file}")
        solution = solve(scenario, progress=progress.say)
        data = record(solution)
        written: list[Path] = []
        failure: FileError | None = None
        try:
            written = write(solution, folder)
        except FileError as error:
            failure = error
    if not quiet:
        from biomech.report import print_solution, terminal

        print_solution(solution, data, terminal())
        if changes and scenario.expect:
            print("\nWhat the scenario expects was written for the file without --set.")
        if scenario.course is not None:
            print(f"\nThe [course] is left out: this is its first moment. It is run by: biomech course {file}")
    if failure is not None:
        raise failure
    if pictures:
        written += draw(solution, folder, teeth, quiet=quiet)
    clear_leftovers(folder, SOLVED, written)
    if not quiet:
        print(f"\nWritten to {folder}: {', '.join(path.name for path in written)}")


def read(file: Path) -> Scenario:
    """Return the scenario of a file."""
    from biomech.scenario import load

    return load(file)


def changed(scenario: Scenario, changes: Sequence[str], file: Path) -> Scenario:
    """Return the scenario with the changes of --set; errors name the file and say so."""
    if not changes:
        return scenario
    try:
        return scenario.changed(assignments(changes))
    except InputError as error:
        lines = (line.removeprefix("scenario: ") for line in str(error).splitlines())
        raise InputError("\n".join(f"{file} with --set: {line}" for line in lines)) from None


def assignments(texts: Sequence[str]) -> dict[str, Any]:
    """Return keys and values of several "KEY=VALUE"; a key that is given twice is refused, since one would be lost."""
    out: dict[str, Any] = {}
    for text in texts:
        key, value = assignment(text)
        if key in out:
            raise InputError(f"{key} is changed twice; give each key once")
        out[key] = value
    return out


def assignment(text: str) -> tuple[str, Any]:
    """Return key and value of "KEY=VALUE"; a value that is no TOML is taken as text, so that quotes are not needed."""
    key, equals, value = (part.strip() for part in text.partition("="))
    if not (key and equals and value):
        raise InputError(f'"{text}" is no change: write KEY=VALUE, such as "wire.overlay.diameter=0.9 mm"')
    try:
        table = tomllib.loads(f"value = {value}")
    except tomllib.TOMLDecodeError:
        return key, value
    return key, table["value"] if len(table) == 1 else value


def draw(solution: Solution, folder: Path, teeth: Sequence[int] = (), *, quiet: bool) -> list[Path]:
    """Write VTK files, the picture, and `teeth` in section; what cannot be drawn is reported, and stops nothing.

    Raises FileError for what cannot be written.
    """
    drawn = (
        ("VTK files", partial(_vtk, solution, folder)),
        ("the picture", partial(_picture, solution, folder)),
        ("sections", partial(draw_sections, solution, folder=folder, numbers=teeth)),
    )
    return draw_all(drawn, quiet=quiet)


def _vtk(solution: Solution, folder: Path) -> list[Path]:
    from biomech.render import write_vtk

    return write_vtk(solution, folder)


def _picture(solution: Solution, folder: Path) -> list[Path]:
    from biomech.render import picture
    from biomech.studies.leftovers import SOLVED

    return [picture(solution, folder / "picture.png", source=SOLVED)]
