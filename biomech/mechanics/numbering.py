"""The order of the unknowns: frames numbered so that the tangent has a narrow band."""

from __future__ import annotations

import numpy as np


def narrowest(free: np.ndarray, pairs: np.ndarray, frames: int) -> np.ndarray:
    """Return the free frames (n,) in the given order or in reverse Cuthill-McKee order, whichever has less band.

    `pairs` (m, 2) are the free frames that links join, `frames` how many there are with the fixed ones.
    """
    place = np.full(frames, -1)
    place[free] = np.arange(len(free))
    p = place[pairs]
    given = np.abs(p[:, 0] - p[:, 1]).max(initial=0)
    if given <= 2:
        return free
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import reverse_cuthill_mckee

    n = len(free)
    graph = csr_matrix((np.ones(2 * len(p)), (np.r_[p[:, 0], p[:, 1]], np.r_[p[:, 1], p[:, 0]])), shape=(n, n))
    order = np.asarray(reverse_cuthill_mckee(graph, symmetric_mode=True))
    place2 = np.empty(n, dtype=int)
    place2[order] = np.arange(n)
    q = place2[p]
    best: np.ndarray = free[order] if np.abs(q[:, 0] - q[:, 1]).max() < given else free
    return best
