"""`biomech bend`: wires on the bench."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from biomech.cli.places import folder as named
from biomech.cli.progress import Progress
from biomech.errors import BiomechError, FileError, InputError

if TYPE_CHECKING:
    from biomech.bench import Curve
    from biomech.bench.ranges import RangeError
    from biomech.studies.bend import Setup

_OF = {
    "span": ("three-point", "cantilever", "torsion"), "support": ("three-point", "cantilever"),
    "friction": ("three-point", "cantilever"), "edgewise": ("three-point", "cantilever", "couples"),
    "slot": ("torsion",), "one_span": ("torsion",), "angles": ("couples",), "distance": ("couples",),
    "radius": ("opening",), "legs": ("opening",), "ends": ("opening",),
}  # fmt: skip
"""Rigs that each option belongs to."""


_GIVEN_BY = {
    "span": "span", "length": "span", "nose": "support", "friction": "friction", "slot": "slot",
    "distance": "distance", "radius": "radius", "legs": "legs", "first": "angles",
}  # fmt: skip
"""Options by the argument of a rig's builder that they give."""
MOST_STEPS = 2000
"""Most steps of a path: a slip of a unit must not run for hours."""


def run(wires: tuple[str, ...], options: Mapping[str, Any], folder: Path, *, plots: bool, quiet: bool) -> None:
    """Test wires; write, print and draw what came of it. A folder that cannot be written to costs only the files."""
    from biomech.bench.ranges import RangeError
    from biomech.studies.bend import bend_wires
    from biomech.studies.bend_files import write_bend
    from biomech.studies.leftovers import BENCH, clear_leftovers
    from biomech.studies.parallel import cores

    setup = setup_of(options)
    with Progress(quiet=quiet) as progress:
        progress.say("testing")
        try:
            curves = bend_wires(wires, setup, jobs=cores(), progress=progress.say)
        except RangeError as error:
            raise InputError(_of_option(error, options)) from None
        written: list[Path] = []
        failure: FileError | None = None
        try:  # before anything is printed: the reader of a pipe may leave early
            written = write_bend(curves, setup, folder)
        except FileError as error:
            failure = error
    if not quiet:
        from biomech.report import terminal
        from biomech.report.bend import print_bend

        print_bend(curves, setup, terminal())
    if failure is not None:
        raise failure
    if plots:
        written += _draw(curves, setup, folder)
    clear_leftovers(folder, BENCH, written)
    if not quiet:
        print(f"\nWritten to {folder}: {', '.join(path.name for path in written)}")


def _of_option(error: RangeError, options: Mapping[str, Any]) -> str:
    """Return what is wrong with a size, naming the option that gave it as it was written."""
    option = _GIVEN_BY.get(error.argument)
    if option is None or not options.get(option):
        return str(error)
    return f'--{option} "{options[option]}": {error.allowed}'


def _draw(curves: list[Curve], setup: Setup, folder: Path) -> list[Path]:
    try:
        from biomech.render.bend_plot import plot_bend

        return [plot_bend(curves, setup, folder)]
    except FileError:
        raise
    except (BiomechError, ImportError) as error:
        print(f"biomech: plot left out: {error}", file=sys.stderr)
        return []


def setup_of(options: Mapping[str, Any]) -> Setup:
    """Return the set-up that the options of the command ask for. InputError names the option."""
    from biomech.studies.bend import RIGS, Setup

    name = options["rig"]
    kind = RIGS[name]
    for key, value in options.items():
        if isinstance(value, str) and not value.strip():
            raise InputError(f'--{key.replace("_", "-")} "{value}": is empty; leave it out for its default')
    for key, rigs in _OF.items():
        if options.get(key) and name not in rigs:
            raise InputError(f"--{key.replace('_', '-')} belongs to {' and '.join(rigs)}, not to the rig {name}")
    setup = Setup(name, kind.turns, kind.step, kind.stops, options=_own(name, options))
    if options.get("temperature"):
        setup = replace(setup, temperature=_read("temperature", options["temperature"], "temperature"))
    what = "angle" if kind.angular else "length"

    def reads(text: str, option: str = "path") -> float:
        return _share(text, option) if name == "couples" else _read(what, text, option)

    if options.get("path"):
        turns, temperatures = zip(*(_turn(part, reads) for part in options["path"].split(",")), strict=True)
        setup = replace(setup, turns=turns, step=min(setup.step, max(abs(t) for t in turns) / 15 or 1.0))
        if any(t is not None for t in temperatures):
            setup = replace(setup, temperatures=temperatures)
    if options.get("step"):
        step = reads(options["step"], "step")
        if not step > 0:
            raise InputError(f'--step "{options["step"]}": must be positive')
        setup = replace(setup, step=step)
    steps = sum(abs(b - a) for a, b in pairwise((0.0, *setup.turns))) / setup.step
    if steps > MOST_STEPS:
        raise InputError(f"the path takes {steps:.3g} steps, at most {MOST_STEPS}: turn earlier, or take larger steps")
    return setup


def _turn(text: str, reads: Callable[[str], float]) -> tuple[float, float | None]:
    """Return where the path turns, and at which temperature, C, of words such as "2 mm" or "2 mm at 10 degC"."""
    place, at, temperature = text.partition(" at ")
    return reads(place.strip()), _read("temperature", temperature.strip(), "path") if at else None


def _own(name: str, options: Mapping[str, Any]) -> dict[str, Any]:
    """Return the options of a rig's builder."""
    out: dict[str, Any] = {}
    for key, target in (("span", "span"), ("support", "nose"), ("slot", "slot"), ("distance", "distance"),
                        ("radius", "radius"), ("legs", "legs")):  # fmt: skip
        if options.get(key):
            out["length" if name == "cantilever" and key == "span" else target] = _read("length", options[key], key)
    if options.get("edgewise"):
        out["edgewise"] = True
    if options.get("friction"):
        out["friction"] = float(options["friction"])
    if options.get("one_span"):
        out["spans"] = 1
    if options.get("ends"):
        out["ends"] = options["ends"]
    if name == "couples":
        if not options.get("angles"):
            raise InputError('--angles is missing: give those of both brackets, such as --angles "10 deg, 5 deg"')
        parts = [part.strip() for part in options["angles"].split(",")]
        if len(parts) != 2:
            raise InputError(f'--angles "{options["angles"]}": give two angles, such as "10 deg, 5 deg"')
        out["first"], out["second"] = (_read("angle", part, "angles") for part in parts)
    return out


def _read(kind: str, text: str, option: str) -> float:
    from biomech import units

    try:
        return units.read(kind, text)
    except InputError as error:
        raise InputError(f'--{option} "{text}": {error}') from None


def _share(text: str, option: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not -2.0 <= value <= 2.0:
        raise InputError(f'--{option} "{text}": must be a share of the angles, between -2 and 2')
    return value


@click.command(short_help="Test wires on a bench: bend, twist, open them.")
@click.argument("wires", nargs=-1, required=True, metavar="WIRE...")
@click.option("--rig", type=click.Choice(["three-point", "cantilever", "torsion", "couples", "opening"]),
              default="three-point", show_default=True, help="The set-up.")  # fmt: skip
@click.option(
    "--path",
    metavar="VALUES",
    help='Where the path turns, such as "3.1 mm, 0 mm" or "45 deg, 0 deg"; and at which temperature: "2 mm, '
    '2 mm at 10 degC, 2 mm at 36 degC, 0 mm" holds, cools, warms, lets go.',
)
@click.option("--step", metavar="VALUE", help="Largest step on the path.")
@click.option("--temperature", metavar="VALUE", help='At the start, such as "5 degC".  [default: 36 degC]')
@click.option("--span", metavar="LENGTH", help="Between supports, to the blade, or from slot to clamp.")
@click.option("--support", metavar="LENGTH", help="Radius of the supports.  [default: 0.1 mm]")
@click.option("--friction", type=click.FloatRange(0.0, 1.0), help="Coefficient on the supports.  [default: none]")
@click.option("--edgewise", is_flag=True, help="Bend across the larger size.")
@click.option("--slot", metavar="LENGTH", help='Slot height for torsion.  [default: "0.022 in"]')
@click.option("--one-span", is_flag=True, help="Torsion with the wire held on one side only.")
@click.option("--angles", metavar="A,B", help='Of both brackets (couples), such as "10 deg, -5 deg".')
@click.option("--distance", metavar="LENGTH", help="Between the brackets (couples).  [default: 7 mm]")
@click.option("--radius", metavar="LENGTH", help="Of the half circle (opening).  [default: 25 mm]")
@click.option("--legs", metavar="LENGTH", help="Straight legs behind it (opening).  [default: 25 mm]")
@click.option("--ends", type=click.Choice(["free", "held"]), help="Ends at the molars (opening).  [default: free]")
@click.option("--out", metavar="FOLDER", callback=named, default="out/bend",
              show_default=True, help="Where to write the files.")  # fmt: skip
@click.option("--no-plots", is_flag=True, help="Write numbers only.")
@click.option("--quiet", is_flag=True, help="No tables, no progress; files and errors only.")
def bend(wires: tuple[str, ...], out: Path, no_plots: bool, quiet: bool, **options: Any) -> None:
    """Test each WIRE, given by size and alloy, such as "0.016 x 0.022 in nickel-titanium, superelastic".

    Prints what is read off the curves, writes them as CSV and JSON and plots them. `biomech list` names the alloys.
    """
    run(wires, options, out, plots=not no_plots, quiet=quiet)
