"""The commands and their options."""

from __future__ import annotations

from pathlib import Path

import click

from biomech import __version__
from biomech.cli.animate import animate
from biomech.cli.bend import bend
from biomech.cli.comparing import compare
from biomech.cli.course import course
from biomech.cli.places import folder, png
from biomech.cli.sections import section_option
from biomech.cli.solid_ligament import solid_options
from biomech.cli.tooth_file import file_options

_PLAIN = {"help_option_names": ["-h", "--help"], "max_content_width": 100}


STATUS = (
    "Exit status: 0 done; 1 results cannot be written; 2 an option or a file cannot be used (and why is said); "
    "3 no trustworthy equilibrium was found; 130 interrupted."
)


@click.group(context_settings=_PLAIN, epilog=STATUS)
@click.version_option(__version__, message="biomech %(version)s")
def biomech() -> None:
    """The force system of orthodontic wires on teeth, and how the teeth would move.

    For teaching, research and sanity checks. Not a medical device; treatment is the decision of a licensed clinician
    under local rules.
    """


@biomech.command(short_help="Solve a scenario: tables, files, a picture.")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--out", metavar="FOLDER", callback=folder,
              help="Where to write the files.  [default: out/<name of FILE>]")  # fmt: skip
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE",
              help='Change the scenario, such as --set "wire.overlay.diameter=0.9 mm". May be repeated.')  # fmt: skip
@section_option("")
@click.option("--no-pictures", is_flag=True, help="Write numbers only: no VTK files, no picture.")
@click.option("--quiet", is_flag=True, help="No tables, no progress; files and errors only.")
def solve(
    file: Path, out: Path | None, changes: tuple[str, ...], sections: tuple[str, ...], no_pictures: bool, quiet: bool
) -> None:
    """Solve the scenario FILE: print tables and write result.json, CSV, VTK files and a picture."""
    from biomech.cli.solving import run

    run(file, out or Path("out") / file.stem, changes, pictures=not no_pictures, quiet=quiet, sections=sections)


@biomech.command(short_help="Solve a scenario and write a report to hand on.")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--out", metavar="FILE.html", type=click.Path(path_type=Path),
              help="Where to write the report.  [default: out/<name of FILE>/report.html]")  # fmt: skip
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE",
              help='Change the scenario, such as --set "wire.overlay.diameter=0.9 mm". May be repeated.')  # fmt: skip
@click.option("--quiet", is_flag=True, help="No progress; errors only.")
def report(file: Path, out: Path | None, changes: tuple[str, ...], quiet: bool) -> None:
    """Solve the scenario FILE, or run its course, and write a report: one HTML file that needs no network."""
    from biomech.cli.report import run

    run(file, out or Path("out") / file.stem / "report.html", changes, quiet=quiet)


@biomech.command(short_help="One tooth's support: stiffness, resistance, M/F.")
@click.argument("tooth", metavar="NUMBER|FILE", type=str)
@file_options
@click.option("--bone-level", metavar="LENGTH", help='Cemento-enamel junction to crest, such as "3 mm".')
@click.option("--root-length", metavar="LENGTH", help='Length of the longest root, such as "12 mm".')
@click.option("--law", metavar="NAME", help="Ligament law; see `biomech list`.  [default: bilinear]")
@click.option("--model", metavar="NAME",
              help='How the ligament bears on the root; see `biomech list`.  [default: springs]')  # fmt: skip
@click.option("--young", metavar="PRESSURE", help='Young\'s modulus of the ligament, such as "0.05 MPa".')
@click.option("--second-young", metavar="PRESSURE", help="Modulus of the second branch (bilinear).")
@click.option("--transition-strain", type=float, help="Strain where the second branch begins (bilinear).")
@click.option("--poisson", type=float, help="Poisson's ratio of the ligament.")
@click.option("--thickness", metavar="LENGTH", help='Thickness of the ligament, such as "0.2 mm".')
@click.option("--picture", metavar="FILE.png", callback=png,
              help="Draw the tooth with crest, long axis, bracket and resistance.")  # fmt: skip
@solid_options
def tooth(tooth: str, **options: str | float | bool | tuple[str, ...] | None) -> None:
    """Report the support of a tooth: stiffness, centre of resistance, M/F.

    NUMBER (ISO 3950) takes the tooth of the handbooks. FILE takes the tooth's shape from a closed surface (STL, PLY,
    OBJ, VTK, VTP, MSH), with --number, --unit and --buccal or --bracket; points and directions are coordinates of the
    file. The values hold for small loads on an otherwise free tooth.
    """
    from biomech.cli.one_tooth import run

    run(tooth, {key: value for key, value in options.items() if value is not None})


@biomech.command(short_help="Print the JSON Schema of scenario files.")
@click.option("--result", is_flag=True, help="That of result.json instead.")
def schema(result: bool) -> None:
    """Print the JSON Schema of scenario files, for editors that complete and check TOML."""
    import json

    from biomech import scenario
    from biomech.studies import layout

    click.echo(json.dumps(layout.schema() if result else scenario.schema(), indent=2))


biomech.add_command(compare)
biomech.add_command(animate)
biomech.add_command(bend)
biomech.add_command(course)


@biomech.command(name="list", short_help="List alloys, ligament laws, arch forms, holds.")
def list_() -> None:
    """List what a scenario can name: alloys, ligament laws, arch forms, holds."""
    from biomech.cli.families import run

    run()
