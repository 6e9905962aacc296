"""Nickel-titanium that becomes superelastic only near the temperature of the mouth."""

from __future__ import annotations

from biomech.alloys._base import REGISTRY
from biomech.alloys._superelastic import Superelastic

ALLOY = REGISTRY.register(
    "nickel-titanium, heat-activated",
    Superelastic(
        name="nickel-titanium, heat-activated",
        young=50e3,
        poisson=0.33,
        elastic_limit=1000.0,
        young_range=(40e3, 80e3),
        elastic_limit_range=(800.0, 1200.0),
        martensite=25e3,
        start_stress=300.0,
        finish_stress=350.0,
        back_start_stress=120.0,
        back_finish_stress=60.0,
        length=0.05,
        reference=37.0,
        temperature=37.0,
        slope=6.5,
        asymmetry=1.2,
        fracture_strain=0.12,
        source=(
            "plateaux chosen so that the wire springs back just below the temperature of the mouth (27.8 C); austenite"
            " 40-80 GPa, martensite 20-40 GPa, transformation strain 0.05-0.08, 5.5-8 MPa/K, stresses in compression"
            " 1.2 times those in tension (published asymmetry 0.1-0.2 of their mean); set above 800-1200 MPa, fracture"
            " at 12 %"
        ),
        seen="upper plateau: secondary (web); all else: from memory",
        note=(
            "plateaux, moduli, transformation strain and temperature slope are from memory, chosen inside published"
            " ranges; wires of different makers differ widely; sub-loops are as high as the full loop, measured ones"
            " are rounder"
        ),
    ),
)
