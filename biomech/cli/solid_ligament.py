"""`biomech tooth --solid`: the ligament as a solid, what it bears under a load, and pictures of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from biomech.cli.places import folder
from biomech.errors import InputError

if TYPE_CHECKING:
    from biomech.ligaments import Ligament
    from biomech.studies.ligament import Load
    from biomech.tooth.model import Tooth

_KEYS = ("load", "scenario", "out", "scale", "shear_scale", "waist", "deformable", "bone")
_OPTIONS = (
    click.option("--solid", is_flag=True, help="The ligament as a solid: any Poisson's ratio, and its stress."),
    click.option("--load", metavar="NAME=VALUE", multiple=True,
                 help='With --solid: part of the load at the bracket, such as "buccal=1 N" or "torque=5 N.mm"; mesial, '
                      "buccal, occlusal; torque, tip, rotation. May be repeated.  [default: buccal=1 N]"),
    click.option("--scenario", metavar="FILE",
                 help="With --solid: tooth, ligament and load as in this scenario once it is solved."),
    click.option("--out", metavar="FOLDER", callback=folder,
                 help="With --solid: write pictures and ligament.vtu there."),
    click.option("--scale", metavar="PRESSURE",
                 help='With --out: stress at the ends of the colours, such as "10 kPa", to compare pictures.'),
    click.option("--shear-scale", metavar="PRESSURE", help="With --out: the same for shear."),
    click.option("--deformable", is_flag=True,
                 help="With --solid: also what the tooth itself gives at the bracket, dentine and enamel; one root."),
    click.option("--bone", metavar="LENGTH",
                 help='With --deformable: bone around the socket that gives too, such as "4 mm".  [default: rigid]'),
    click.option("--waist", type=float,
                 help="With --solid: thickness in the middle of the root over the mean; 1 uniform, 0.66 hourglass."),
)  # fmt: skip


def solid_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of the solid ligament."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def split_solid(options: Mapping[str, Any]) -> tuple[dict[str, Any] | None, dict[str, Any]]:
    """Return the options of the solid ligament (None without --solid), and the others.

    One given without --solid raises InputError.
    """
    given = {key: value for key, value in options.items() if value not in (False, (), None)}
    own = {key: value for key, value in given.items() if key in _KEYS}
    others = {key: value for key, value in given.items() if key not in (*_KEYS, "solid")}
    if "solid" not in given:
        if own:
            raise InputError(f"--{next(iter(own)).replace('_', '-')} has no meaning without --solid")
        return None, others
    for key in ("model", "picture"):
        if key in others:
            raise InputError(f"--{key} has no meaning with --solid")
    if "scenario" in own:
        clash = next((key for key in (*others, *(k for k in own if k == "load"))), None)
        if clash is not None:
            raise InputError(f"--{clash.replace('_', '-')} has no meaning with --scenario, which says it itself")
    return own, others


def run_solid(name: str, own: Mapping[str, Any], tooth: Callable[[], tuple[Tooth, Ligament]]) -> None:
    """Print, and write if asked, what the solid ligament of the tooth `name` bears.

    `own`: options as given; `tooth` makes the tooth and its ligament where no scenario gives them.
    """
    from biomech.report import terminal
    from biomech.report.ligament import compliance_table, print_ligament
    from biomech.studies.ligament import (
        bracket_compliances,
        deformable_root,
        load_at_bracket,
        load_of_scenario,
        loaded_ligament,
    )
    from biomech.tooth.anatomy import check_number

    load: Load
    if "scenario" in own:
        number = check_number(int(name) if name.isascii() and name.isdigit() else name)  # type: ignore[arg-type]
        made, layer, load = load_of_scenario(Path(own["scenario"]), number)
    else:
        made, layer = tooth()
        load = load_at_bracket(made, read_load(own.get("load", ("buccal=1 N",))))
    bone = _bone(own)
    scales = [_kilopascal(key, own) for key in ("scale", "shear_scale")]
    if "deformable" in own:
        deformable_root(made)
    fine = 2.0 if "out" in own else 1.5  # percentiles want more places than a stiffness, pictures more again
    if "deformable" in own and own.get("waist", 1.0) != 1.0:
        raise InputError("--waist has no meaning with --deformable: there the ligament is uniform")
    found = loaded_ligament(made, layer, load, waist=own.get("waist", 1.0), fineness=fine)
    console = terminal()
    gives = bracket_compliances(made, layer, bone) if "deformable" in own else None
    print_ligament(found, console)
    if gives is not None:
        console.print(compliance_table(gives))
    if "out" in own:
        from biomech.render.ligament import write_ligament

        paths = write_ligament(found, own["out"], *scales)
        console.print(f"Written to {own['out']}: {', '.join(path.name for path in paths)}", soft_wrap=True)


def read_load(parts: Sequence[str]) -> dict[str, float]:
    """Return forces (N) and moments (N.mm) by name from texts such as "buccal=1 N"; InputError for any other."""
    from biomech import units
    from biomech.studies.ligament import FORCES, MOMENTS

    out: dict[str, float] = {}
    for part in parts:
        key, found, text = (x.strip() for x in part.partition("="))
        if not found or key not in (*FORCES, *MOMENTS) or key in out:
            allowed = ", ".join((*FORCES, *MOMENTS))
            raise InputError(f'--load "{part}": allowed is NAME=VALUE with each of {allowed} at most once')
        try:
            out[key] = units.read("force" if key in FORCES else "moment", text)
        except InputError as error:
            raise InputError(f'--load "{part}": {error}') from None
    return out


def _kilopascal(key: str, own: Mapping[str, Any]) -> float | None:
    from biomech import units

    if key not in own:
        return None
    option = key.replace("_", "-")
    if "out" not in own:
        raise InputError(f"--{option} has no meaning without --out")
    try:
        value = 1e3 * units.read("pressure", own[key])
    except InputError as error:
        raise InputError(f'--{option} "{own[key]}": {error}') from None
    if not value > 0.0:
        raise InputError(f'--{option} "{own[key]}": allowed: above 0')
    return value


def _bone(own: Mapping[str, Any]) -> float:
    """Return the bone around the socket, mm; 0 where none is given."""
    from biomech import units

    if "bone" not in own:
        return 0.0
    if "deformable" not in own:
        raise InputError("--bone has no meaning without --deformable")
    try:
        value = units.read("length", own["bone"])
    except InputError as error:
        raise InputError(f'--bone "{own["bone"]}": {error}') from None
    if not 0.5 <= value <= 20.0:
        raise InputError(f'--bone "{own["bone"]}": allowed: 0.5 to 20 mm')
    return value
