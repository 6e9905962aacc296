"""Austenitic stainless steel as it comes from the drawing die."""

from __future__ import annotations

from biomech.alloys._base import REGISTRY, Elastic

ALLOY = REGISTRY.register(
    "stainless as drawn",
    Elastic(
        name="stainless as drawn",
        young=180e3,
        poisson=0.30,
        elastic_limit=1400.0,
        young_range=(155e3, 192.4e3),
        elastic_limit_range=(1100.0, 1900.0),
        source=(
            "Young's modulus: chosen inside 155-160 GPa (cold-drawn wire, Goldberg, Vanderby and Burstone "
            "1977, J Dent Res 56:1227) to 187.5-192.4 GPa (single-strand wire in bending, Kusy and Stevens "
            "1987); elastic limit: middle of 1100-1900 MPa; Poisson's ratio as in Papageorgiou 2017, Prog "
            "Orthod 18:6"
        ),
        seen="moduli: abstracts only; elastic limit: from memory; Poisson's ratio: seen in full",
    ),
)
