"""Austenitic stainless steel as drawn, with the low modulus found in cold-drawn wire."""

from __future__ import annotations

from biomech.alloys._base import REGISTRY, Elastic

ALLOY = REGISTRY.register(
    "stainless as drawn, low modulus",
    Elastic(
        name="stainless as drawn, low modulus",
        young=157.5e3,
        poisson=0.30,
        elastic_limit=1400.0,
        young_range=(155e3, 160e3),
        elastic_limit_range=(1100.0, 1900.0),
        source=(
            "Young's modulus of cold-drawn wire, 155-160 GPa, 20 % below the 193-200 GPa of the bulk metal (Goldberg,"
            " Vanderby and Burstone 1977, J Dent Res 56:1227); elastic limit: middle of 1100-1900 MPa; Poisson's ratio"
            " as in Papageorgiou 2017, Prog Orthod 18:6"
        ),
        seen="modulus: abstract only; elastic limit: from memory; Poisson's ratio: seen in full",
    ),
)
