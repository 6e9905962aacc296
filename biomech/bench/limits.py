"""How far an elastic wire on the bench is past its limit: its law stays straight there, a real wire's does not."""

from __future__ import annotations

import numpy as np

from biomech.alloys import REGISTRY, Alloy
from biomech.bench.curve import Curve
from biomech.bench.rig import Rig
from biomech.mechanics.links import Linear
from biomech.mechanics.network import Evaluation
from biomech.wire.rod import resultants


def share_of_limit(rig: Rig, evaluation: Evaluation) -> float:
    """Return the peak stress (von Mises) in an elastic wire over its alloy's elastic limit.

    Peaks lie at the ends of the elements, where the bending moment is largest. Not a number for a wire with memory,
    whose law goes on past its limit.
    """
    law, specimen = rig.network.groups[rig.wire].law, rig.specimen
    if not isinstance(law, Linear):
        return float("nan")
    carried = evaluation.responses[rig.wire].stress[0]
    length = np.linalg.norm(np.broadcast_to(law.rest, carried.shape)[:, :3], axis=-1)
    peak = specimen.section.peak_stress(resultants(carried, length))
    return float(np.max(peak)) / specimen.alloy.elastic_limit


def past_words(curve: Curve, alloy: Alloy) -> str | None:
    """Return from where on a wire is past its elastic limit, by how much, and what to try; None where it never is."""
    begins = curve.past_from
    if begins is None:
        return None
    value, unit = (np.degrees(begins), "deg") if curve.unit == "rad" else (begins, curve.unit)
    others = " or ".join(f'"{name}"' for name in followed_by(alloy))
    instead = f"Try {others}, whose law goes on there, or go less far" if others else "Go less far"
    return (
        f"past its elastic limit of {alloy.elastic_limit:g} MPa from {curve.quantity} {value:.3g} {unit}".rstrip()
        + f" on, at most {np.nanmax(curve.share):.2g} times it: taken as elastic there, it gives more than it could "
        f"and keeps no set. {instead}"
    )


def followed_by(alloy: Alloy) -> list[str]:
    """Return the names of alloys of the same metal whose law goes on past the elastic limit: named alike to a comma."""
    stem = alloy.name.partition(",")[0]
    return [n for n in REGISTRY.names() if n.startswith(f"{stem},") and not REGISTRY.get(n).is_linear]
