"""`biomech tooth`: one tooth's support, from its number or a surface file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from biomech.cli.solid_ligament import run_solid, split_solid
from biomech.cli.tooth_file import is_file, split, tooth_from
from biomech.errors import InputError

if TYPE_CHECKING:
    from biomech.ligaments import Ligament
    from biomech.studies.support import ToothSupport
    from biomech.tooth.model import Tooth

_LENGTHS = ("bone_level", "root_length", "thickness")
_PRESSURES = ("young", "second_young")


def run(name: str, options: Mapping[str, Any]) -> None:
    """Print the support of a tooth, given by its number or a surface file, and draw it if asked.

    `options` as given on the command line, quantities as text with units.
    """
    from biomech.report import terminal
    from biomech.report.support import print_support

    solid, options = split_solid(options)
    of_file, plain = split(options)
    if solid is not None:
        run_solid(name, solid, lambda: _tooth_and_ligament(name, of_file, plain))
        return
    picture: Path | None = plain.pop("picture", None)
    law, model = str(plain.pop("law", "bilinear")), str(plain.pop("model", "springs"))
    values = {key: _value(key, value) for key, value in plain.items()}
    support = (_from_file if is_file(name) else _from_number)(name, of_file, law, model, values)
    console = terminal()
    print_support(support, console)
    if picture is not None:
        from biomech.render.tooth_picture import tooth_picture

        console.print(f"Written: {tooth_picture(support, picture)}", soft_wrap=True)


def _tooth_and_ligament(
    name: str, of_file: Mapping[str, Any], plain: Mapping[str, Any]
) -> tuple[Tooth, Ligament]:
    """Return the tooth and its ligament from options as given, for the solid model."""
    values = {key: _value(key, value) for key, value in plain.items() if key != "law"}
    make = _from_file if is_file(name) else _from_number
    support = make(name, of_file, str(plain.get("law", "bilinear")), "springs", values)
    return support.tooth, support.ligament


def _from_number(
    name: str, of_file: Mapping[str, Any], law: str, model: str, values: Mapping[str, float]
) -> ToothSupport:
    from biomech.studies.support import tooth_support
    from biomech.tooth.anatomy import check_number

    if of_file:
        option = next(iter(of_file)).replace("tooth_number", "number").replace("_", "-")
        raise InputError(f"--{option} has no meaning without a surface file; name one instead of the number {name}")
    number = check_number(int(name) if name.isascii() and name.isdigit() else name)  # type: ignore[arg-type]
    return tooth_support(number, law=law, model=model, **values)


def _from_file(
    name: str, of_file: Mapping[str, Any], law: str, model: str, values: Mapping[str, float]
) -> ToothSupport:
    from biomech.ligaments import make_ligament
    from biomech.studies.support import support_on

    if "root_length" in values:
        raise InputError(f"--root-length has no meaning with a surface file: the root is as long as in {name}")
    layer = make_ligament(law, **{k: v for k, v in values.items() if k != "bone_level"})
    level = values.get("bone_level")
    return support_on(tooth_from(name, of_file, bone_level=level, thickness=layer.thickness), layer, model)


def _value(key: str, value: str | float) -> float:
    from biomech import units

    if not isinstance(value, str):
        return value
    kind = "length" if key in _LENGTHS else "pressure"
    try:
        return units.read(kind, value)
    except InputError as error:
        raise InputError(f'--{key.replace("_", "-")} "{value}": {error}') from None
