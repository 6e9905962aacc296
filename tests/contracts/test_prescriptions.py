"""Every registered prescription gives all kinds of teeth and says how far each value was seen."""

from __future__ import annotations

import pytest

from biomech.errors import InputError
from biomech.prescriptions import KINDS, REGISTRY, SEEN, Angles, Prescription

FAMILY = dict(REGISTRY.items())


def test_the_family_is_complete():
    assert {"A", "B", "C"} <= set(FAMILY)


@pytest.mark.parametrize("name", sorted(FAMILY))
def test_names_its_sources(name):
    found = FAMILY[name]
    assert found.name == name
    assert len(found.source.strip()) > 20
    assert "memory" in found.source
    assert set(found.teeth) == set(KINDS)
    for angles in found.teeth.values():
        assert angles.torque_seen in SEEN
        assert angles.tip_seen in SEEN


@pytest.mark.parametrize("name", sorted(FAMILY))
def test_no_value_is_out_of_all_proportion(name):
    for angles in FAMILY[name].teeth.values():
        assert -40 <= angles.torque <= 25
        assert -5 <= angles.tip <= 15


def test_half_a_prescription_is_refused():
    with pytest.raises(InputError, match="must give all of"):
        Prescription("half", {"U1": Angles(7, 5)}, "from memory")


@pytest.mark.parametrize("wrong", [{"torque": 90.0}, {"tip": -40.0}, {"torque": float("nan")}, {"tip_seen": "rumour"}])
def test_impossible_angles_are_refused(wrong):
    with pytest.raises(InputError, match="allowed"):
        Angles(**{"torque": 7.0, "tip": 5.0, **wrong})
