"""How far a wire on the bench is past its limit where its law does not follow: elastic ones, superelastic ones."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from biomech.alloys import REGISTRY, Alloy, Superelastic
from biomech.bench.curve import Curve, place
from biomech.bench.rig import Rig
from biomech.mechanics.links import Linear
from biomech.mechanics.network import Evaluation
from biomech.wire.fibre_rod import FibreRod, Memory
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
    others = " or ".join(f'"{name}"' for name in followed_by(alloy))
    instead = f"Try {others}, whose law goes on there, or go less far" if others else "Go less far"
    return (
        f"past its elastic limit of {alloy.elastic_limit:g} MPa from {place(curve.quantity, begins, curve.unit)} on, "
        f"at most {np.nanmax(curve.share):.2g} times it: taken as elastic there, it gives more than it could and keeps "
        f"no set. {instead}"
    )


def fibre_stress(rig: Rig, state: object) -> float:
    """Return the largest stress, MPa, of the fibres of a wire with memory; not a number for one without."""
    law = rig.network.groups[rig.wire].law
    if not isinstance(law, FibreRod) or not isinstance(state, Memory):
        return float("nan")
    return float(np.max(rig.specimen.response.peak_stress(state.sections)))


def set_words(rig: Rig, x: Sequence[float], stress: Sequence[float]) -> str | None:
    """Return where a superelastic wire first met the stress from which a set is likely; None where it did not.

    `x` are the points of the path, `stress` the largest there, MPa. Yielding alloys follow their set.
    """
    alloy = rig.specimen.alloy
    if not isinstance(alloy, Superelastic) or not max(stress) > alloy.elastic_limit:
        return None
    first = next(i for i, value in enumerate(stress) if value > alloy.elastic_limit)
    return (
        f"carries up to {max(stress):.0f} MPa, beyond {alloy.elastic_limit:g} MPa (met by "
        f"{place(rig.quantity, x[first], rig.unit)}), from which a set is likely; its law does not follow that"
    )


def followed_by(alloy: Alloy) -> list[str]:
    """Return the names of alloys of the same metal whose law goes on past the elastic limit: named alike to a comma."""
    stem = alloy.name.partition(",")[0]
    return [n for n in REGISTRY.names() if n.startswith(f"{stem},") and not REGISTRY.get(n).is_linear]
