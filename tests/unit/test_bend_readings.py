"""What is read off curves of the bench: the largest value with its sign, and doubt about strains at which wires break."""

import pytest

from biomech.studies.bend import Setup, bend_wires, numbers


def test_a_wire_that_is_closed_tells_its_largest_force_with_its_sign():
    setup = Setup("opening", (-2.0, 0.0), 1.0)
    (found,) = bend_wires(["1.0 mm stainless as drawn"], setup)
    largest = next(n.value for n in numbers(setup, found) if n.name == "largest force, N")
    assert largest == pytest.approx(found.reading.min()) and largest < -0.01


def test_strains_at_which_a_wire_may_break_are_doubted():
    (found,) = bend_wires(["0.016 in stainless as drawn, yielding"], Setup("three-point", (2.0, 0.0), 0.25))
    assert any(w.startswith("largest fibre strain") and "may kink or break" in w for w in found.warnings)
    (found,) = bend_wires(["0.016 in stainless as drawn, yielding"], Setup("three-point", (0.3, 0.0), 0.25))
    assert not any("break" in w for w in found.warnings)
