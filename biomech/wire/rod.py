"""A wire as links between its stations: stiffness of every element from section and alloy."""

from __future__ import annotations

import numpy as np

from biomech.mechanics.links import Linear, Links
from biomech.mechanics.poses import Array, Pose, ad, pose_log


def element_stiffness(section: Array, rest: Array) -> Array:
    """Return the stiffness (..., n, 6, 6) of elements whose stress-free relative pose is exp(rest).

    `section` (..., 6) = (EA, k2 G A, k3 G A, GJ, EI2, EI3) in N and N.mm^2, axes tangent, outward, up;
    `rest` (..., n, 6) mm and rad. The flexibility is L (C + L^2/12 ad(k) C ad(k)^T) with C the section's
    compliance and k = rest / L: the compliance integrated along the curved element as seen from its middle, to
    fourth order in L. On a straight element this is the residual bending flexibility 1/S = 1/(kGA) +
    L^2/(12 EI) (MacNeal 1978, Comput. Struct. 8:175; from memory), exact for loads at its ends; the curvature
    terms make few elements enough on a curved wire (derived here; checked by convergence in the tests).
    """
    compliance = np.zeros((*np.asarray(section).shape[:-1], 1, 6, 6))
    compliance[..., 0, range(6), range(6)] = 1 / np.asarray(section)
    length = np.linalg.norm(rest[..., :3], axis=-1)[..., None, None]
    k = ad(rest)
    out: Array = np.linalg.inv(length * (compliance + k @ compliance @ np.swapaxes(k, -1, -2) / 12))
    return 0.5 * (out + np.swapaxes(out, -1, -2))


def rod(
    name: str,
    frames: np.ndarray,
    section: Array,
    free: Pose,
    *,
    offsets: Pose | None = None,
    labels: tuple[str, ...] = (),
) -> Links:
    """Return the links of one wire.

    `frames` (n + 1,) indices of the stations' frames; `free` (n,) pose of each station seen from the one before when
    the wire is stress-free; `offsets` (n + 1,) pose of each station in its frame, None when they coincide.
    """
    rest = pose_log(free)
    law = Linear(element_stiffness(section, rest), rest)
    start = offsets.take(slice(0, -1)) if offsets is not None else None
    end = offsets.take(slice(1, None)) if offsets is not None else None
    return Links(name, frames[:-1], frames[1:], law, "pose", start, end, labels=labels)


def resultants(stress: Array, length: Array) -> Array:
    """Return section forces (N, V2, V3, T, M2, M3) at both ends of every element, (..., n, 2, 6), N and N.mm.

    `stress` (..., n, 6) is dual to the element's strain, i.e. the force and moment at mid-element; between its ends the
    bending moments change by shear times length (dM3/ds = -V2, dM2/ds = V3), `length` (n,) mm.
    """
    out = np.stack([stress, stress], axis=-2)
    half = 0.5 * np.asarray(length)[..., None] * np.array([1.0, -1.0])
    out[..., 5] += stress[..., None, 1] * half
    out[..., 4] -= stress[..., None, 2] * half
    return out
