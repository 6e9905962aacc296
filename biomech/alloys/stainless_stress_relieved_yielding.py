"""Austenitic stainless steel after stress relief, with yield."""

from __future__ import annotations

from biomech.alloys._base import REGISTRY
from biomech.alloys._yielding import yielding
from biomech.alloys.stainless_stress_relieved import ALLOY as ELASTIC

ALLOY = REGISTRY.register(
    f"{ELASTIC.name}, yielding",
    yielding(
        ELASTIC,
        exponent=10,
        source=(
            "exponent as for wire as drawn (strength rises by 2.9-14.8 %, yield by 3.7-14.4 %, Oh 2002: "
            "their ratio stays); kinematic hardening; hardening beyond 2 % set of 0.5 % of Young's "
            "modulus assumed"
        ),
        seen="change of strength and yield: abstract only; exponent, hardening: from memory",
        note=(
            "how it yields is from memory: a rounded curve through 0.2 % of set at the elastic limit; hardening is"
            " kinematic (full Bauschinger effect)"
        ),
    ),
)
