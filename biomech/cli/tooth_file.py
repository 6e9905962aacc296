"""`biomech tooth FILE`: where things are in a surface file, as given on the command line."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from biomech.errors import InputError

if TYPE_CHECKING:
    from biomech.surfaces import Crest, Source
    from biomech.tooth.model import Tooth

_KEYS = ("tooth_number", "unit", "long_axis", "buccal", "bracket", "cej", "crest", "mirrored")
_OPTIONS = (
    click.option("--number", "tooth_number", metavar="NUMBER", help="With a FILE: which tooth it is (ISO 3950)."),
    click.option("--unit", metavar="UNIT", help="With a FILE: unit of its coordinates: mm, cm, m, um, in."),
    click.option("--long-axis", metavar="X,Y,Z",
                 help='Direction from crown to apex, or two points: "X,Y,Z to X,Y,Z".  [default: found]'),
    click.option("--buccal", metavar="X,Y,Z", help="Buccal direction.  [default: towards the bracket]"),
    click.option("--bracket", metavar="X,Y,Z", help="Middle of the bracket's base.  [default: amid the buccal side]"),
    click.option("--cej", metavar="X,Y,Z", help="A point of the cemento-enamel junction.  [default: usual share]"),
    click.option("--crest", metavar="X,Y,Z",
                 help='Bone crest: a point of its plane; "X,Y,Z normal X,Y,Z"; or a curve "X,Y,Z; X,Y,Z; ...".  '
                      "[default: --bone-level below the junction]"),
    click.option("--mirrored", is_flag=True, help="The file shows the tooth of the other side."),
)  # fmt: skip


def file_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that describe a surface file."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def split(options: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the options that describe a surface file, and the others."""
    given = {key: value for key, value in options.items() if value is not False}
    return {k: v for k, v in given.items() if k in _KEYS}, {k: v for k, v in given.items() if k not in _KEYS}


def is_file(name: str) -> bool:
    """Return whether what was named is meant as a file: it has an ending (of letters) or a folder, or is there."""
    path = Path(name)
    return any(map(str.isalpha, path.suffix)) or len(path.parts) > 1 or path.is_file()


def tooth_from(name: str, options: Mapping[str, Any], *, bone_level: float | None, thickness: float) -> Tooth:
    """Return the tooth of the surface file `name`. Raises InputError and FileError as `mesh_tooth` does."""
    from biomech.surfaces import UNITS, mesh_tooth
    from biomech.tooth.anatomy import check_number

    for key, option in (("tooth_number", "--number"), ("unit", "--unit")):
        if key not in options:
            what = "which tooth it is, such as 16" if key == "tooth_number" else f"one of {', '.join(UNITS)}"
            raise InputError(f"{name}: {option} is needed with a surface file: {what}")
    text = options["tooth_number"]
    number = check_number(int(text) if text.isascii() and text.isdigit() else text)
    source = _source(Path(name), options)
    return mesh_tooth(number, source, bone_level=bone_level, ligament_thickness=thickness)


def _source(path: Path, options: Mapping[str, Any]) -> Source:
    from biomech.surfaces import Source

    places: dict[str, Any] = {
        key: _point(f"--{key}", options[key]) for key in ("buccal", "bracket", "cej") if key in options
    }
    if "long_axis" in options:
        ends = options["long_axis"].split(" to ")
        axis = tuple(_point("--long-axis", end) for end in ends)
        if len(axis) > 2:
            raise InputError(f'--long-axis "{options["long_axis"]}": has {len(axis)} points; allowed: one or two')
        places["long_axis"] = axis if len(axis) == 2 else axis[0]
    if "crest" in options:
        places["crest"] = _crest(options["crest"])
    return Source(path, options["unit"], mirrored="mirrored" in options, **places)


def _crest(text: str) -> Crest:
    from biomech.surfaces import Crest

    if ";" in text:
        points = [part for part in text.split(";") if part.strip()]
        return Crest(curve=tuple(_point("--crest", part) for part in points))
    point, word, normal = text.partition(" normal ")
    return Crest(point=_point("--crest", point), normal=_point("--crest", normal) if word else None)


def _point(option: str, text: str) -> tuple[float, float, float]:
    try:
        x, y, z = (float(part) for part in text.replace(",", " ").split())
    except ValueError:
        raise InputError(f'{option} "{text}": must be three numbers "X,Y,Z", coordinates of the file') from None
    return x, y, z
