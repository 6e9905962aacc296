"""Which tooth of a course stands in the foreground: the one whose force tells what the wires do."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from biomech.movement.readings import WireLeft
from biomech.report.course import vertical_lines
from biomech.studies.course_files import wire_values
from biomech.studies.course_shown import shown_tooth, shown_way

TEETH = (17, 16, 13, 11)


def reading(forces, raised=()):
    force, crown = np.zeros((len(TEETH), 3)), np.zeros((len(TEETH), 3))
    for number, values in forces.items():
        force[TEETH.index(number)] = values
    for number, value in dict(raised).items():
        crown[TEETH.index(number), 2] = value
    return SimpleNamespace(teeth=TEETH, force=force, crown=crown, of=TEETH.index)


@pytest.mark.parametrize(
    ("moments", "tooth", "way"),
    [  # moments, each the forces (mesial, buccal, occlusal) of teeth by number, N
        ([{16: (0, 1.1, 0.2), 11: (0, -2, 0)}, {16: (0, 0.3, 0)}], 16, "buccal"),
        ([{16: (0, 0.01, 0), 13: (-2.4, 0.04, 7.2)}, {16: (0, 0.03, 0), 13: (0, 1, 0)}], 13, "occlusal"),
        ([{16: (0, 0, 0)}, {11: (0, -2, 0.5)}], 11, "buccal"),
        ([{16: (0, 0, 0)}], 16, "buccal"),
    ],
)
def test_the_molar_unless_it_tells_nothing(moments, tooth, way):
    found = [reading(forces) for forces in moments]
    assert shown_tooth(found) == tooth
    assert shown_way(found, tooth)[1] == way


def test_teeth_moved_or_pulled_along_themselves_are_told():
    found = reading({13: (0, 0, 4.63), 17: (0, 0, 0.05)}, {16: -0.4})
    left = reading({13: (0, 0, 7.0), 17: (0, 0, 0.05)}, {16: -0.4})
    told = ["tooth 16: crown -0.40 mm, force 0.00 N", "tooth 13: crown 0.00 mm, force 4.63 N found, 7.00 N left"]
    assert vertical_lines(found, left) == told
    assert vertical_lines(found, None)[1] == "tooth 13: crown 0.00 mm, force 4.63 N"


def test_what_a_wire_remembers_stands_in_the_record_of_a_course():
    assert "martensite_share" not in wire_values(WireLeft(1.0, 0.5))
    assert wire_values(WireLeft(1.0, 0.5, True, "martensite", 0.4))["martensite_share"] == 0.4
    assert wire_values(WireLeft(1.0, 0.5, True, "set", 0.01))["set_strain"] == 0.01
