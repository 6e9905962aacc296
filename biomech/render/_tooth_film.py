"""Pictures of teeth in buccolingual section, side by side, on their way from rest to the solved place and back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from biomech.render._legend import FORCE, INK
from biomech.render._scales import LEAST_MOMENT, arc_angles, scales_of
from biomech.render._sheet import Frame, Sheet, Tile
from biomech.render._tooth_ground import RING, tooth_ground
from biomech.render._tooth_panel import BOTTOM, TOP, Panel, panels_of
from biomech.render._views import CROWN, OUTLINE, ROOT

if TYPE_CHECKING:
    from biomech.studies.solve import Solution

_ARROW = 52.0  # units: length of the largest force
MOST_PANELS = 4


def section_frames(
    solutions: Sequence[Solution], number: int, frames: int, size: tuple[int, int], magnify: float | None
) -> Iterator[Frame]:
    """Yield the frames, one panel for each solution, all to the same scales; all must have the tooth `number`."""
    bare = Sheet(size)
    for solution in solutions:
        solution.tooth(number)
    longest = min(_ARROW, 0.15 * bare.width / len(solutions))
    panels = panels_of(solutions, number, scales_of([s.teeth[number] for s in solutions], longest, magnify), bare)
    ground = tooth_ground(bare, panels, list(dict.fromkeys(s.scenario.note for s in solutions if s.scenario.note)))
    rest = _rest(panels, size)
    for k in range(frames):
        sheet = Sheet(size, ground.image)
        phase = 0.5 - 0.5 * float(np.cos(2.0 * np.pi * k / frames))
        for panel in panels:
            for shape, colour in ((panel.root, ROOT), (panel.crown, CROWN)):
                sheet.polygon(panel.at(panel.moved(shape, phase)), colour, INK, 1.2)
        sheet.stamp(rest, OUTLINE)
        for panel in panels:
            _marks(sheet, panel, phase)
            loads(sheet, panel, phase)
        yield sheet.frame()


def _rest(panels: Sequence[Panel], size: tuple[int, int]) -> list[Tile]:
    """Return a stencil of the teeth's outlines at rest."""
    sheet = Sheet(size)
    for panel in panels:
        for shape in (panel.root, panel.crown):
            sheet.dashed(panel.at(np.concatenate([shape, shape[:1]])), "black", 1.6)
        sheet.dashed(panel.at(panel.axis), "black", 1.0, (3.0, 4.0))
    return sheet.stencil()


def _marks(sheet: Sheet, panel: Panel, phase: float) -> None:
    """Draw the long axis, how far its ends have come, and the centres over a tooth at one moment."""
    sheet.line(panel.at(panel.moved(panel.axis, phase)), INK, 1.4)
    for end in panel.axis:
        path = panel.moved(end, np.linspace(0.0, phase, 12))
        sheet.line(panel.at(path), INK, 4.0)
        sheet.disc(panel.at(path[-1]), 4.0, INK, INK)
    if panel.view.centre is not None:
        sheet.disc(panel.at(panel.moved(panel.view.centre.point[1:], phase)), 6.5, "white", INK, 2.4)
    _rotation(sheet, panel)


def _rotation(sheet: Sheet, panel: Panel) -> None:
    if panel.rests or not np.isfinite(panel.rotation).all():
        return
    place = panel.at(panel.rotation)
    if TOP < place[1] < BOTTOM and abs(place[0] - panel.origin[0]) < 9.0 * panel.scale:
        sheet.cross(place, 6.5, INK)
        return
    apical = panel.view.jaw * panel.rotation[1] > 0
    up = (panel.view.jaw > 0) == apical
    far = f"centre of rotation far {'apical' if apical else 'occlusal'}"
    left, right = panel.span
    size = sheet.common_size([far], right - left - 16.0, 1, 11.5, bold=True)
    sheet.text((0.5 * (left + right), TOP + 9 if up else BOTTOM - 8), far, size, bold=True, anchor="mm", rim=2)


def loads(sheet: Sheet, panel: Panel, phase: float) -> None:
    """Draw force and moment at the bracket to scale, the moment as an arc whose angle is in proportion.

    Both grow with the movement.
    """
    foot = panel.at(panel.moved(panel.view.bracket[1:], phase))
    force = panel.view.wrench[1:3]
    sheet.arrow(foot, foot + phase * panel.scales.newton * force * np.array([1.0, -1.0]), FORCE, 4.0)
    if abs(panel.moment) >= LEAST_MOMENT:
        sheet.arc_arrow(foot, RING, arc_angles(force, phase * panel.scales.sweep(panel.moment)), FORCE, 3.2)
