"""Quantities as text with units ("0.036 in", "12 deg", "150 gf") to plain floats in N, mm, rad and MPa.

Units live at the edge of the program: text is read here, everything behind works in floats. A bare number is
refused, since nobody can tell millimetres from inches afterwards.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from biomech.errors import InputError, nearest

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?|[+-]?(?:inf|infinity|nan)(?![a-zA-Z])"
_TEXT = re.compile(rf"\s*({_NUMBER})\s*(.*?)\s*", re.DOTALL)
_COMMA = re.compile(r"\s*[+-]?\d+,\d")


@dataclass(frozen=True)
class Kind:
    """One kind of quantity: its `name`, the inside `unit`, common `units` for messages and one `example`."""

    name: str
    unit: str
    units: tuple[str, ...]
    example: str


KINDS = {
    kind.name: kind
    for kind in (
        Kind("length", "mm", ("mm", "cm", "m", "um", "in", "inch"), "0.5 mm"),
        Kind("angle", "rad", ("deg", "degree", "rad", "mrad"), "10 deg"),
        Kind("force", "N", ("N", "cN", "mN", "kN", "gf", "kgf", "ozf", "lbf"), "150 gf"),
        Kind(
            "moment", "N.mm", ("N.mm", "N.cm", "N.m", "cN.mm", "gf.mm", "gf.cm", "kgf.mm", "ozf.in"), "5 N.mm"
        ),
        Kind("pressure", "MPa", ("MPa", "kPa", "Pa", "GPa", "N/mm^2", "psi"), "0.05 MPa"),
        Kind("stiffness", "N/mm", ("N/mm", "N/m", "cN/mm", "gf/mm", "kgf/mm", "lbf/in"), "50 N/mm"),
        Kind("time", "day", ("hour", "day", "week", "month", "year", "days", "weeks", "months", "years"), "6 weeks"),
        Kind("speed", "mm/day", ("mm/day", "mm/week", "mm/month", "mm/year", "um/day"), "1 mm/month"),
        Kind("temperature", "degC", ("degC", "degF", "K"), "36 degC"),
    )
}
"""The kinds of quantity a scenario knows."""
_FAHRENHEIT = (5 / 9, -160 / 9)
_DEGREES = {"degC": (1.0, 0.0), "°C": (1.0, 0.0), "degF": _FAHRENHEIT, "°F": _FAHRENHEIT, "K": (1.0, -273.15)}
"""Of the units of temperature: what one degree is in degC, and where their zero lies."""


def length(text: str) -> float:
    """Return the length `text` ("0.036 in") in mm. Raises InputError as `read` does."""
    return read("length", text)


def angle(text: str) -> float:
    """Return the angle `text` ("12 deg") in rad. Raises InputError as `read` does."""
    return read("angle", text)


def force(text: str) -> float:
    """Return the force `text` ("150 gf", "1.5 N", "100 cN") in N. Raises InputError as `read` does."""
    return read("force", text)


def moment(text: str) -> float:
    """Return the moment `text` ("5 N.mm", "1860 gf.mm") in N.mm. Raises InputError as `read` does."""
    return read("moment", text)


def pressure(text: str) -> float:
    """Return the pressure, stress or modulus `text` ("200 GPa") in MPa. Raises InputError as `read` does."""
    return read("pressure", text)


def stiffness(text: str) -> float:
    """Return the stiffness `text` ("50 N/mm") in N/mm. Raises InputError as `read` does."""
    return read("stiffness", text)


def temperature(text: str) -> float:
    """Return the temperature `text` ("36 degC", "97 degF") in degC. Raises InputError as `read` does."""
    return read("temperature", text)


def read(kind: str, text: Any) -> float:
    """Return the quantity `text` of a `kind` in KINDS as a float in the inside unit of that kind.

    Raises InputError, saying what is allowed, for anything but text, a bare number, a number that is not
    finite, an unknown unit and a unit of another kind.
    """
    number, unit = split(kind, text)
    zero = _DEGREES.get(unit, (0.0, 0.0))[1] if kind == "temperature" else 0.0
    return number * factor(kind, unit) + zero


def split(kind: str, text: Any) -> tuple[float, str]:
    """Return the number in front of `text` and the rest of it; raise InputError unless both are there."""
    known = KINDS[kind]
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise InputError(f'must be text with a {kind} and its unit, like "{known.example}"')
    found = _TEXT.fullmatch(text) if isinstance(text, str) else _TEXT.fullmatch(repr(text))
    if found is None or (isinstance(text, str) and _COMMA.match(text)):
        comma = " (write the decimal separator as a point)" if isinstance(text, str) and "," in text else ""
        raise InputError(f'is no {kind}: write a number and its unit, like "{known.example}"{comma}')
    number, rest = float(found[1]), found[2]
    if not math.isfinite(number):
        raise InputError("must be a finite number")
    if not rest:
        allowed = ", ".join(known.units)
        raise InputError(
            f'is without unit: write the {kind} as text like "{known.example}"; units: {allowed}'
        )
    return number, rest


@lru_cache(maxsize=256)
def factor(kind: str, unit: str) -> float:
    """Return how many inside units of `kind` one `unit` is; raise InputError for an unknown or unfit one."""
    known = KINDS[kind]
    allowed = f"units of {kind}: {', '.join(known.units)}"
    if kind == "temperature":
        if unit not in _DEGREES:
            raise InputError(f"has the unknown unit '{unit}'; {allowed}.{nearest(unit, known.units)}")
        return _DEGREES[unit][0]
    quantity = _parse(unit)
    if quantity is None:
        raise InputError(f"has the unknown unit '{unit}'; {allowed}.{nearest(unit, known.units)}")
    wanted = _parse(known.unit)
    # An angle has no dimension, and neither has a percentage: only true angles may pass.
    fits = quantity.dimensionality == wanted.dimensionality
    if kind == "angle":
        fits = fits and unit not in ("%", "percent", "ppm") and bool(quantity._units)
    if not fits:
        gram = (
            " A gram is a mass: write gf for gram-force." if kind == "force" and unit in ("g", "gram") else ""
        )
        raise InputError(f"has the unit '{unit}', which is no unit of {kind}; {allowed}.{gram}")
    return float(quantity.to(wanted.units).magnitude)


def _parse(unit: str) -> Any:
    """Return one `unit` as a pint quantity, or None when the text is no unit."""
    plain = re.sub(r"(?<=[A-Za-zµ])\s*[.·*]\s*(?=[A-Za-zµ])", "*", unit.replace("²", "^2"))
    if not re.fullmatch(r"[A-Za-zµμ°%][A-Za-z0-9µμ°%*/^ ]*", plain):
        return None
    try:
        return 1.0 * _registry().parse_units(plain)
    except Exception:  # the parser raises errors of many unrelated kinds on text that is no unit
        return None


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint  # heavy, and needed only when a scenario is read

    return pint.UnitRegistry()
