"""Cobalt-chromium."""

from __future__ import annotations

from biomech.alloys._base import REGISTRY, Elastic

ALLOY = REGISTRY.register(
    "cobalt-chromium",
    Elastic(
        name="cobalt-chromium",
        young=200e3,
        poisson=0.30,
        elastic_limit=1000.0,
        young_range=(180e3, 230e3),
        elastic_limit_range=(830.0, 1500.0),
        source=(
            "Young's modulus inside 180-230 GPa; about 1.19 times steel (Burstone 1981, AJO 80:1); elastic "
            "limit between wire as received and heat-treated"
        ),
        seen="all from memory (Burstone 1981: page abstract only)",
    ),
)
