"""The plane of a section of a tooth: axes in mm, and what is seen of a surface."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from biomech.mechanics.poses import Array
from biomech.render._legend import INK, PALE, bare_axes
from biomech.tooth.meshes import Mesh

if TYPE_CHECKING:
    from biomech.outputs import ToothView

LETTERS = 16.0
"""Points of words in a section: 11 pixels of it shown 800 pixels wide."""
_FINE = 40  # pixels per mm of an outline


def flat(points: Array) -> Array:
    """Return points or vectors (..., 3) in tooth axes on the section (..., 2): buccal to the right, up up."""
    return np.asarray(points[..., 1:])


def section_axes(
    figure: Any, view: ToothView, box: tuple[float, float, float, float], title: str, shift: float = 0.0
) -> tuple[Any, float]:
    """Return axes in mm around the tooth, moved aside by `shift`, and pixels per mm."""
    axes = bare_axes(figure, box)
    marks = view.part.tooth.landmarks
    ends = [float(marks["edge"][2]), *(float(p[2]) for name, p in marks.items() if name.startswith("apex"))]
    scale = (box[3] - box[1]) / (max(ends) - min(ends) + 9.0)
    half, middle = 0.5 * (box[2] - box[0]) / scale, 0.5 * (max(ends) + min(ends))
    axes.set_xlim(shift - half, shift + half)
    axes.set_ylim(middle - 0.5 * (box[3] - box[1]) / scale, middle + 0.5 * (box[3] - box[1]) / scale)
    axes.text(0.5, 1.0, title, transform=axes.transAxes, ha="center", va="top", fontsize=18, weight="bold", color=INK)
    for x, word, align in ((0.02, "lingual", "left"), (0.98, "buccal", "right")):
        axes.text(x, 0.0, word, transform=axes.transAxes, ha=align, va="bottom", fontsize=LETTERS, color=PALE)
    return axes, scale


def silhouette(mesh: Mesh) -> tuple[Array, Array, NDArray[np.float64]]:
    """Return grid lines x (n,), y (m,), mm, and how far each cell is inside the mesh seen along the arch (m, n)."""
    from PIL import Image, ImageDraw

    seen = flat(mesh.vertices)
    low = seen.min(axis=0) - 0.2
    size = np.ceil((seen.max(axis=0) + 0.2 - low) * _FINE).astype(int)
    canvas = Image.new("L", (2 * int(size[0]), 2 * int(size[1])))
    draw = ImageDraw.Draw(canvas)
    for corners in ((seen - low) * 2 * _FINE)[mesh.triangles]:
        draw.polygon([tuple(c) for c in corners.tolist()], fill=1, outline=1)
    inside = np.asarray(canvas, dtype=np.float64).reshape(size[1], 2, size[0], 2).mean(axis=(1, 3))
    return low[0] + (np.arange(size[0]) + 0.5) / _FINE, low[1] + (np.arange(size[1]) + 0.5) / _FINE, inside
