"""`biomech tooth`: one tooth's support."""

from __future__ import annotations

from collections.abc import Mapping

from biomech.errors import InputError

_LENGTHS = ("bone_level", "root_length", "thickness")
_PRESSURES = ("young", "second_young")


def run(number: str, options: Mapping[str, str | float]) -> None:
    """Print the support of a tooth; `options` as given on the command line, quantities as text with units."""
    from biomech.report import terminal
    from biomech.report.support import print_support
    from biomech.studies.support import tooth_support
    from biomech.tooth.anatomy import check_number

    values = {key: _value(key, value) for key, value in options.items() if key not in ("law", "model")}
    law, model = str(options.get("law", "bilinear")), str(options.get("model", "springs"))
    found = check_number(int(number) if number.isascii() and number.isdigit() else number)  # type: ignore[arg-type]
    print_support(tooth_support(found, law=law, model=model, **values), terminal())


def _value(key: str, value: str | float) -> float:
    from biomech import units

    if not isinstance(value, str):
        return value
    kind = "length" if key in _LENGTHS else "pressure"
    try:
        return units.read(kind, value)
    except InputError as error:
        raise InputError(f'--{key.replace("_", "-")} "{value}": {error}') from None
