"""Numbers of teeth in a view of the arch: all of them, each led to where its tooth is seen."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from biomech.mechanics.poses import Array
from biomech.render._legend import INK, PALE
from biomech.render._scales import spread
from biomech.render._views import Image, Scene, View

WIDE, HIGH = 35.0, 23.0
"""Pixels that a number needs to itself."""
_BRACKETS = 15.0  # px
_LIFT = 17.0  # px from the teeth to the middle of a number
_LED = 11.0  # px from where it belongs beyond which a number is led there by a line
_LEAN = 0.15  # share of the crown's place in the order of a row: decides where roots end beside each other
_NEAR = 0.4  # mm below the end of a root that count as its end


def write_numbers(axes: Any, scene: Scene, view: View, image: Image, scale: float) -> None:
    """Write the numbers of a view's teeth in axes in mm, `scale` pixels per mm; no two overlap and none is left out.

    Seen from the occlusal side they stand on the crowns, else in a row beyond the roots. That of a tooth hidden by
    others stands in brackets.
    """
    from matplotlib.patheffects import withStroke

    seen = {n: image.seen(2 * i + 2, 2 * i + 1) for i, n in enumerate(view.numbers)}
    wide = WIDE if all(map(len, seen.values())) else WIDE + _BRACKETS
    if abs(view.up[2]) < 0.5:
        marks = {n: _on_crown(scene, view, n) for n in view.numbers}
        places = apart(marks, wide / scale, HIGH / scale)
    else:
        up = _rootwards(scene, view)
        marks = {n: _root_end(scene, view, n, seen[n], up) for n in view.numbers}
        places = _row(scene, view, marks, up, scale, wide)
    rim = [withStroke(linewidth=3.0, foreground="white")]
    for number, mark in marks.items():
        at = places[number]
        if np.linalg.norm(at - mark) > (_LED + (0.0 if abs(view.up[2]) < 0.5 else _LIFT)) / scale:
            axes.plot(*np.stack([at, mark]).T, color=PALE, linewidth=1.0, zorder=5.5)
        said = str(number) if len(seen[number]) else f"({number})"
        axes.text(*at, said, ha="center", va="center", fontsize=15, color=INK, zorder=6, weight="bold",
                  path_effects=rim)  # fmt: skip


def _on_crown(scene: Scene, view: View, number: int) -> Array:
    return np.asarray(view.flat(scene.crowns[number].vertices).mean(axis=0))


def _rootwards(scene: Scene, view: View) -> float:
    """Return +1 where roots lie above crowns in a view, else -1."""
    ends = [view.flat(group[n].vertices)[:, 1].mean() for group in (scene.roots, scene.crowns) for n in view.numbers]
    half = len(ends) // 2
    return 1.0 if np.mean(ends[:half]) >= np.mean(ends[half:]) else -1.0


def _root_end(scene: Scene, view: View, number: int, seen: Array, up: float) -> Array:
    """Return the end (2,) of what is seen of a tooth; that of its root where nothing is seen."""
    points = seen if len(seen) else view.flat(scene.roots[number].vertices)
    top = up * points[:, 1]
    near = points[top > top.max() - _NEAR]
    return np.array([near[:, 0].mean(), up * top.max()])


def _row(
    scene: Scene, view: View, marks: Mapping[int, Array], up: float, scale: float, wide: float
) -> dict[int, Array]:
    """Return places in a row beyond all roots, each as near to its tooth as the others allow."""
    groups = (scene.roots, scene.first_roots)
    ends = [float((up * view.flat(group[n].vertices)[:, 1]).max()) for group in groups for n in view.numbers]
    height = up * (max(ends) + _LIFT / scale)
    lean = {n: float(marks[n][0] + _LEAN * _on_crown(scene, view, n)[0]) for n in marks}
    order = sorted(marks, key=lambda n: lean[n])
    across = spread([float(marks[n][0]) for n in order], wide / scale)
    return {n: np.array([x, height]) for n, x in zip(order, across, strict=True)}


def apart(marks: Mapping[int, Array], wide: float, high: float) -> dict[int, Array]:
    """Return places (2,) near `marks` of which no two are nearer than `wide` across and `high` up.

    Those that overlap are pushed from each other, the shorter way, until none do.
    """
    numbers = list(marks)
    places = np.array([marks[n] for n in numbers], dtype=float)
    room = np.array([wide, high])
    for _ in range(100 * len(numbers)):
        crossed = False
        for i in range(len(numbers)):
            for j in range(i):
                gap = places[i] - places[j]
                lack = room - np.abs(gap)
                if (lack <= 1e-9 * room).any():
                    continue
                crossed = True
                k = int(np.argmin(lack / room))
                push = 0.51 * lack[k] * (1.0 if gap[k] >= 0.0 else -1.0)
                places[i, k] += push
                places[j, k] -= push
        if not crossed:
            return dict(zip(numbers, places, strict=True))
    order = np.argsort(places[:, 0])  # pushed to and fro: in a row there is always room
    places[order, 0] = spread(places[order, 0], wide)
    return dict(zip(numbers, places, strict=True))
