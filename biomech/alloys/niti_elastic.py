"""Nickel-titanium as a linear elastic stand-in, until it has a law of its own."""

from __future__ import annotations

from biomech.alloys._base import REGISTRY, Elastic

ALLOY = REGISTRY.register(
    "nickel-titanium, elastic stand-in",
    Elastic(
        name="nickel-titanium, elastic stand-in",
        young=45e3,
        poisson=0.33,
        elastic_limit=500.0,
        young_range=(20e3, 80e3),
        elastic_limit_range=(400.0, 600.0),
        source=(
            "Young's modulus: about 0.26 times steel (Burstone 1981, AJO 80:1), inside 20-40 GPa "
            "(martensite) to 40-80 GPa (austenite); elastic limit: start of the loading plateau, 400-600 "
            "MPa"
        ),
        seen="ratio: page abstract only, number from memory; moduli: from memory; plateau: secondary (web)",
        note=(
            "linear elastic stand-in without plateau, hysteresis or temperature: forces above the plateau "
            "stress are too high and unloading forces are not those of a superelastic wire"
        ),
    ),
)
