"""Austenitic stainless steel as drawn, with yield."""

from __future__ import annotations

from biomech.alloys._base import REGISTRY
from biomech.alloys._yielding import yielding
from biomech.alloys.stainless_as_drawn import ALLOY as ELASTIC

ALLOY = REGISTRY.register(
    f"{ELASTIC.name}, yielding",
    yielding(
        ELASTIC,
        exponent=10,
        source=(
            "exponent 10 from yield 1543 MPa (0.1 %) and strength 2117 MPa of orthodontic steel wire; "
            "kinematic hardening; hardening beyond 2 % set of 0.5 % of Young's modulus assumed"
        ),
        seen="exponent, hardening: from memory",
        note=(
            "how it yields is from memory: a rounded curve through 0.2 % of set at the elastic limit; hardening is"
            " kinematic (full Bauschinger effect)"
        ),
    ),
)
