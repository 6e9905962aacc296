"""Nickel-titanium, superelastic at room temperature and in the mouth."""

from __future__ import annotations

from biomech.alloys._base import REGISTRY
from biomech.alloys._superelastic import Superelastic

ALLOY = REGISTRY.register(
    "nickel-titanium, superelastic",
    Superelastic(
        name="nickel-titanium, superelastic",
        young=55e3,
        poisson=0.33,
        elastic_limit=1000.0,
        young_range=(40e3, 80e3),
        elastic_limit_range=(800.0, 1200.0),
        martensite=28e3,
        start_stress=450.0,
        finish_stress=520.0,
        back_start_stress=240.0,
        back_finish_stress=170.0,
        length=0.05,
        reference=37.0,
        temperature=37.0,
        slope=6.5,
        asymmetry=1.2,
        fracture_strain=0.12,
        source=(
            "upper plateau inside 400-600 MPa; lower plateau about 250 MPa below; austenite 40-80 GPa,"
            " martensite 20-40 GPa, transformation strain 0.05-0.08, 5.5-8 MPa/K, stresses in compression 1.2 times"
            " those in tension (published asymmetry 0.1-0.2 of their mean); set above 800-1200 MPa, fracture at 12 %"
        ),
        seen="upper plateau: secondary (web); all else: from memory",
        note=(
            "plateaux, moduli, transformation strain and temperature slope are from memory, chosen inside published"
            " ranges; wires of different makers differ widely; sub-loops are as high as the full loop, measured ones"
            " are rounder"
        ),
    ),
)
