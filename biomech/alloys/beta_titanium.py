"""Beta-titanium (titanium-molybdenum type)."""

from __future__ import annotations

from biomech.alloys._base import REGISTRY, Elastic

ALLOY = REGISTRY.register(
    "beta-titanium",
    Elastic(
        name="beta-titanium",
        young=65e3,
        poisson=0.30,
        elastic_limit=900.0,
        young_range=(62e3, 72e3),
        elastic_limit_range=(700.0, 1200.0),
        source=(
            "Young's modulus 65 GPa and Poisson's ratio as in Papageorgiou 2017, Prog Orthod 18:6, Table 1;"
            " range 62-72 GPa and elastic limit 700-1200 MPa"
        ),
        seen="65 GPa and Poisson's ratio: seen in full; ranges and elastic limit: from memory",
    ),
)
