"""Austenitic stainless steel after a stress-relief heat treatment."""

from __future__ import annotations

from biomech.alloys._base import REGISTRY, Elastic

ALLOY = REGISTRY.register(
    "stainless stress-relieved",
    Elastic(
        name="stainless stress-relieved",
        young=190e3,
        poisson=0.30,
        elastic_limit=1500.0,
        young_range=(159e3, 209.7e3),
        elastic_limit_range=(1140.0, 2170.0),
        source=(
            "the as-drawn values raised by the effect of 500 C for 6 min, E by 2.5-9.0 %, yield by 3.7-14.4"
            " % (Oh 2002, Mater Trans 43:3072); ranges: the as-drawn ranges raised by the smallest and "
            "largest of these"
        ),
        seen="increase: abstract only; as-drawn elastic limit: from memory",
    ),
)
