import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from biomech import units
from biomech.errors import InputError


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        # Definitions: 1 in = 25.4 mm, 1 kgf = 9.80665 N, 1 lbf = 4.4482216152605 N (exact by definition).
        ("length", "0.036 in", 0.9144),
        ("length", "0.5mm", 0.5),
        ("length", "1e-3 m", 1.0),
        ("length", "25 µm", 0.025),
        ("angle", "180 deg", math.pi),
        ("angle", "-0.5 rad", -0.5),
        ("force", "150 gf", 1.4709975),
        ("force", "100 cN", 1.0),
        ("force", "1 lbf", 4.4482216152605),
        ("moment", "1860 gf.mm", 1860 * 9.80665e-3),
        ("moment", "5 N.mm", 5.0),
        ("moment", "5 N*mm", 5.0),
        ("moment", "5 N·mm", 5.0),
        ("moment", "0.01 N.m", 10.0),
        ("pressure", "200 GPa", 200e3),
        ("pressure", "4.7 kPa", 4.7e-3),
        ("pressure", "0.05 N/mm^2", 0.05),
        ("stiffness", "50 N/mm", 50.0),
        ("stiffness", "1 N/m", 1e-3),
        ("time", "6 weeks", 42.0),
        ("time", "12 months", 365.25),
        ("speed", "1 mm/month", 1 / 30.4375),
        # 0 C = 32 F = 273.15 K, and 100 C = 212 F (definitions)
        ("temperature", "36 degC", 36.0),
        ("temperature", "212 degF", 100.0),
        ("temperature", "32 °F", 0.0),
        ("temperature", "273.15 K", 0.0),
    ],
)
def test_reads(kind: str, text: str, value: float) -> None:
    assert units.read(kind, text) == pytest.approx(value, rel=1e-12)


def test_one_function_a_kind() -> None:
    assert units.length("1 cm") == 10.0
    assert units.angle("90 deg") == pytest.approx(math.pi / 2)
    assert (
        units.force("1 N")
        == units.moment("1 N.mm")
        == units.pressure("1 MPa")
        == units.stiffness("1 N/mm")
        == 1
    )


@pytest.mark.parametrize(
    ("kind", "text", "says"),
    [
        ("length", "0.036", "without unit"),
        ("length", 0.036, "without unit"),
        ("length", 3, "without unit"),
        ("length", True, "must be text"),
        ("length", None, "must be text"),
        ("length", ["1 mm"], "must be text"),
        ("length", "", "is no length"),
        ("length", "mm", "is no length"),
        ("length", "1,5 mm", "decimal separator"),
        ("length", "nan mm", "finite"),
        ("length", "inf mm", "finite"),
        ("length", "-inf mm", "finite"),
        ("length", "1e999 mm", "finite"),
        ("length", float("nan"), "finite"),
        ("length", "1 parsecc", "unknown unit"),
        ("length", "1 mmm", "Did you mean 'mm'?"),
        ("length", "1 deg", "no unit of length"),
        ("length", "1 mm^2", "no unit of length"),
        ("length", "1 __import__('os')", "unknown unit"),
        ("angle", "10 %", "no unit of angle"),
        ("angle", "10 mm", "no unit of angle"),
        ("angle", "10 radian/radian", "no unit of angle"),
        ("force", "150 g", "write gf"),
        ("force", "150 g*m", "no unit of force"),
        ("moment", "150 N", "no unit of moment"),
        ("pressure", "1 N/mm", "no unit of pressure"),
        ("stiffness", "1 N.mm", "no unit of stiffness"),
    ],
)
def test_refuses(kind: str, text: object, says: str) -> None:
    with pytest.raises(InputError, match=None) as refused:
        units.read(kind, text)
    assert says in str(refused.value)


@given(st.floats(-1e6, 1e6, allow_nan=False), st.sampled_from(sorted(units.KINDS)))
def test_inside_units_are_one(number: float, kind: str) -> None:
    assert units.read(kind, f"{number!r} {units.KINDS[kind].unit}") == pytest.approx(
        number, rel=1e-12, abs=1e-300
    )


@pytest.mark.parametrize("kind", sorted(units.KINDS))
def test_every_listed_unit_is_read(kind: str) -> None:
    for unit in units.KINDS[kind].units:
        assert units.factor(kind, unit) > 0
    assert units.read(kind, units.KINDS[kind].example) != 0


@given(st.text(max_size=20))
def test_any_text_is_read_or_refused(text: str) -> None:
    for kind in units.KINDS:
        try:
            assert math.isfinite(units.read(kind, text))
        except InputError as error:
            assert str(error)
