"""What a wire with memory went through, in words: as seen on the force card, in warnings and in courses."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from biomech.report.course import memory_lines
from biomech.studies.warnings import memory_words


def wire(**other):
    """A yielded wire, with other values."""
    values = {
        "past": SimpleNamespace(temperature=36.0), "reading": "set", "largest": 0.0141, "over": 1.0, "tooth": 11,
        "strain": 0.0072, "has_yielded": True, "set_mm": (-3.2, -3.24), "force_left": 0.704,
    }  # fmt: skip
    return SimpleNamespace(**{**values, **other})


@pytest.mark.parametrize(
    ("inner", "words"),
    [
        (wire(), "has yielded over 100 % of its length, most near tooth 11 (set strain 1.41 %), and taken out it stands "
                 "3.22 mm a side narrower than before; it delivers 70 % of the force of one that does not yield"),
        (wire(set_mm=(0.001, -0.002), force_left=1.0), "taken out it stands as it did before; it delivers 100 %"),
        (wire(set_mm=None, force_left=None), "most near tooth 11 (set strain 1.41 %)"),
        (wire(has_yielded=False, largest=0.0), "has not yielded"),
        (wire(reading="martensite", largest=1.0, over=0.08, strain=0.085, has_yielded=False, set_mm=(0.0, 0.0)),
         "is on its plateau over 8 % of its length at 36 C, most near tooth 11 (100 % martensite, fibre strain 8.5 %)"),
        (wire(reading="martensite", largest=0.0, has_yielded=False), "is austenite all along at 36 C"),
    ],
)  # fmt: skip
def test_words(inner, words):
    (text,) = memory_words("overlay", inner)
    assert text.startswith("wire 'overlay' ") and words in text


def test_a_course_tells_them_at_the_start_and_at_the_end():
    views = {"main": SimpleNamespace(inner=None), "overlay": SimpleNamespace(inner=wire())}
    course = SimpleNamespace(solution_at=lambda i: SimpleNamespace(wires=views))
    told = list(memory_lines(course))
    assert [line.partition(":")[0] for line in told] == ["start", "end"] and all("has yielded" in line for line in told)
