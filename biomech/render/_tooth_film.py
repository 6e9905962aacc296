"""Pictures of teeth in buccolingual section, side by side, on their way from rest to the solved place and back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from biomech.mechanics.poses import Array, pose_exp
from biomech.render._legend import FORCE, INK, PALE
from biomech.render._shapes import STILL, magnification
from biomech.render._sheet import Frame, Sheet, Tile
from biomech.render._views import CROWN, OUTLINE, ROOT
from biomech.render.section import in_plane, silhouette
from biomech.tooth.meshes import Mesh
from biomech.tooth.motion import rotation_centre, words

if TYPE_CHECKING:
    from biomech.outputs import ToothView
    from biomech.studies.solve import Solution

BONE = "#eceef1"
_TOP, _BOTTOM = 92.0, 420.0  # units: the tooth's part of a panel
_ARROW, _RING = 52.0, 17.0  # units: length of the largest force, radius of a moment
MOST_PANELS = 4


@dataclass(frozen=True)
class Panel:
    """One tooth: outlines (n, 2) and points (2,) in section, mm, buccal to the right and up up, unmoved."""

    title: str
    view: ToothView
    factor: float
    lines: list[tuple[str, str]]
    crown: Array
    root: Array
    rotation: Array
    scale: float
    centre: Array
    origin: tuple[float, float]

    @property
    def moment(self) -> float:
        """Moment in the plane at the bracket, N.mm, from buccal towards up."""
        return float(self.view.moment_at(self.view.bracket)[0])

    def moved(self, points: Array, phase: float | Array) -> Array:
        """Return points (..., 2) of the tooth moved by a share `phase` of the magnified displacement.

        Of one point (2,) the places (n, 2) at several shares (n,).
        """
        solid = np.concatenate([np.zeros((*points.shape[:-1], 1)), points], axis=-1)
        motion = np.asarray(phase)[..., None] * self.factor * in_plane(self.view.motion)
        return np.asarray(pose_exp(motion).point(solid)[..., 1:])

    def at(self, points: Array) -> Array:
        """Return points (..., 2) in mm on the sheet."""
        return np.asarray(self.origin + (points - self.centre) * np.array([self.scale, -self.scale]))


def section_frames(
    solutions: Sequence[Solution], number: int, frames: int, size: tuple[int, int], magnify: float | None
) -> Iterator[Frame]:
    """Yield the frames, one panel for each solution; all must have the tooth `number`."""
    bare = Sheet(size)
    longest = max(_extent(s, number) for s in solutions)
    panels = [_panel(s, number, magnify, bare, i, len(solutions), longest) for i, s in enumerate(solutions)]
    ground = _ground(bare, panels, solutions)
    longest_arrow = min(_ARROW, 0.15 * bare.width / len(panels))
    turning = max(1e-9, *(abs(p.moment) for p in panels))
    newton = longest_arrow / max(1e-9, *(float(np.linalg.norm(p.view.wrench[1:3])) for p in panels))
    rest = _rest(panels, size)
    for k in range(frames):
        sheet = Sheet(size, ground.image)
        phase = 0.5 - 0.5 * float(np.cos(2.0 * np.pi * k / frames))
        for panel in panels:
            for shape, colour in ((panel.root, ROOT), (panel.crown, CROWN)):
                sheet.polygon(panel.at(panel.moved(shape, phase)), colour, INK, 1.2)
        sheet.stamp(rest, OUTLINE)
        for panel in panels:
            _marks(sheet, panel, phase, newton, turning)
        yield sheet.frame()


def _extent(solution: Solution, number: int) -> float:
    solution.tooth(number)
    z = [float(p[2]) for p in solution.teeth[number].part.tooth.landmarks.values()]
    return max(z) - min(z)


def _panel(
    solution: Solution, number: int, magnify: float | None, sheet: Sheet, i: int, count: int, longest: float
) -> Panel:
    report, view = solution.tooth(number), solution.teeth[number]
    tooth, marks = view.part.tooth, view.part.tooth.landmarks
    largest = max(float(np.linalg.norm(view.displacement(marks[name]))) for name in ("edge", "apex"))
    z = [float(p[2]) for p in marks.values()]
    width = sheet.width / count
    scale = min((_BOTTOM - _TOP - 40.0) / (longest + 2.0), width / 22.0)
    return Panel(
        title=solution.scenario.title,
        view=view,
        factor=magnification(largest, magnify) if largest >= STILL else 1.0,
        lines=_lines(view, str(report["movement"])),
        crown=outline(tooth.crown_surface(96)),
        root=outline(tooth.root_surface(64)),
        rotation=rotation_centre(in_plane(view.motion), "buccolingual"),
        scale=scale,
        centre=np.array([0.0, 0.5 * (max(z) + min(z))]),
        origin=(width * (i + (0.46 if view.wrench[1] >= 0.0 else 0.54)), 0.5 * (_TOP + _BOTTOM)),
    )


def outline(mesh: Mesh) -> Array:
    """Return the outline (n, 2) of a mesh in tooth axes seen along the arch, mm."""
    from contourpy import contour_generator

    x, y, inside = silhouette(mesh)
    lines = contour_generator(x, y, np.asarray(inside), corner_mask=False).lines(0.5)
    longest: Array = max((np.asarray(line) for line in lines), key=len)
    return np.asarray(longest[::3])


def _lines(view: ToothView, movement: str) -> list[tuple[str, str]]:
    marks = view.part.tooth.landmarks
    crown, apex = (1e3 * float(view.displacement(marks[name])[1]) for name in ("edge", "apex"))
    moment = -view.jaw * float(view.moment_at(view.bracket)[0])
    turning = f"{abs(moment):.1f} N\u00b7mm, {words('torque', moment)}" if abs(moment) >= 0.05 else "none"
    return [
        ("Movement", movement),
        ("Force at the bracket", _way(float(view.wrench[1]), 2, "N")),
        ("Moment at the bracket", turning),
        ("Crown moves", _way(crown, 1, "\u00b5m")),
        ("Apex moves", _way(apex, 1, "\u00b5m")),
    ]


def _way(value: float, digits: int, unit: str) -> str:
    """Return an amount with its unit and side."""
    size = f"{abs(value):.{digits}f}"
    side = "" if not float(size) else " buccal" if value > 0 else " lingual"
    return f"{size} {unit}{side}"


def _ground(sheet: Sheet, panels: Sequence[Panel], solutions: Sequence[Solution]) -> Sheet:
    """Draw what does not move and return the sheet."""
    from biomech.studies.solve import CAUTION

    width = sheet.width / len(panels)
    for i, panel in enumerate(panels):
        left = width * i
        if i:
            sheet.line(np.array([(left, 14.0), (left, sheet.height - 60.0)]), "#c8ced6")
        name = panel.view.part.tooth
        sheet.fitted((left + 12, 10), panel.title, width - 24, 2, 15.0, bold=True)
        moving = f"movement drawn \u00d7{panel.factor:g}" if panel.factor != 1.0 else "movement drawn true to size"
        sheet.fitted((left + 12, 52), f"Tooth {name.number}, {name.name}; {moving}", width - 24, 2, 12.5, PALE)
        _bone(sheet, panel, left, width)
        _numbers(sheet, panel, left, width)
    _legend(sheet)
    notes = " ".join(dict.fromkeys(s.scenario.note for s in solutions if s.scenario.note))
    sheet.fitted((12, sheet.height - 20), f"{notes} {CAUTION}".strip(), sheet.width - 24, 1, 10.0, PALE)
    return sheet


def _bone(sheet: Sheet, panel: Panel, left: float, width: float) -> None:
    tooth, jaw = panel.view.part.tooth, panel.view.jaw
    crest = float(panel.at(np.array([0.0, jaw * tooth.bone_level]))[1])
    end = _TOP if jaw > 0 else _BOTTOM
    box = np.array([(left + 8, crest), (left + width - 8, crest), (left + width - 8, end), (left + 8, end)])
    sheet.polygon(box, BONE)
    sheet.text((left + 14, crest - 5 * jaw), "bone", 11.5, PALE, anchor="ls" if jaw > 0 else "la")
    row = _BOTTOM - 4 if jaw > 0 else _TOP + 14
    sheet.text((left + 14, row), "lingual", 12, PALE, anchor="ls")
    sheet.text((left + width - 14, row), "buccal", 12, PALE, anchor="rs")


def _numbers(sheet: Sheet, panel: Panel, left: float, width: float) -> None:
    y = _BOTTOM + 10
    for i, (name, value) in enumerate(panel.lines):
        if i == 0:
            sheet.fitted((left + 12, y), value[0].upper() + value[1:], width - 24, 1, 17.0, bold=True)
            y += 25
            continue
        sheet.fitted((left + 12, y), name, 0.46 * (width - 24), 1, 12.0, PALE)
        sheet.fitted((left + 12 + 0.47 * (width - 24), y), value, 0.53 * (width - 24), 1, 12.5)
        y += 18


def _legend(sheet: Sheet) -> None:
    y = sheet.height - 44
    x = 14.0
    sheet.dashed(np.array([(x, y), (x + 26, y)]), OUTLINE, 1.6)
    for mark, words_ in (
        ("", "at rest"), ("disc", "centre of resistance"), ("cross", "centre of rotation"),
        ("arrow", "force and moment"), ("path", "path of edge and apex"),
    ):  # fmt: skip
        if mark == "disc":
            sheet.disc(np.array((x + 18, y)), 6, "white", INK, 2.2)
        elif mark == "cross":
            sheet.cross(np.array((x + 18, y)), 5, INK)
        elif mark == "arrow":
            sheet.arrow(np.array((x, y)), np.array((x + 26, y)), FORCE)
        elif mark == "path":
            sheet.line(np.array([(x + 2, y), (x + 24, y)]), INK, 3.5)
        sheet.text((x + 32, y), words_, 12, anchor="lm")
        x += 32 + sheet.measure(words_, 12) + 12


def _rest(panels: Sequence[Panel], size: tuple[int, int]) -> list[Tile]:
    """Return a stencil of the teeth's outlines at rest."""
    sheet = Sheet(size)
    for panel in panels:
        for shape in (panel.root, panel.crown):
            sheet.dashed(panel.at(np.concatenate([shape, shape[:1]])), "black", 1.6)
    return sheet.stencil()


def _marks(sheet: Sheet, panel: Panel, phase: float, newton: float, turning: float) -> None:
    """Draw the marks over a tooth at one moment; `newton` units per N, `turning` the largest moment, N.mm."""
    marks = panel.view.part.tooth.landmarks
    for name in ("edge", "apex"):
        path = panel.moved(marks[name][1:], np.linspace(0.0, phase, 12))
        sheet.line(panel.at(path), INK, 4.0)
        sheet.disc(panel.at(path[-1]), 4.0, INK, INK)
    if panel.view.centre is not None:
        sheet.disc(panel.at(panel.moved(panel.view.centre.point[1:], phase)), 6.5, "white", INK, 2.4)
    _rotation(sheet, panel)
    _loads(sheet, panel, phase, newton, panel.moment / turning)


def _rotation(sheet: Sheet, panel: Panel) -> None:
    if not np.isfinite(panel.rotation).all():
        return
    place = panel.at(panel.rotation)
    if _TOP < place[1] < _BOTTOM and abs(place[0] - panel.origin[0]) < 9.0 * panel.scale:
        sheet.cross(place, 6.5, INK)
        return
    apical = panel.view.jaw * panel.rotation[1] > 0
    up = (panel.view.jaw > 0) == apical
    far = f"centre of rotation far {'apical' if apical else 'occlusal'}"
    sheet.text((panel.origin[0], _TOP + 9 if up else _BOTTOM - 8), far, 11.5, bold=True, anchor="mm", rim=2)


def _loads(sheet: Sheet, panel: Panel, phase: float, newton: float, turn: float) -> None:
    """Draw force and moment (`turn`, a share of the largest, as an arc of that share) at the bracket.

    Both grow with the movement.
    """
    foot = panel.at(panel.moved(panel.view.bracket[1:], phase))
    force = panel.view.wrench[1:3] * np.array([1.0, -1.0])
    sheet.arrow(foot, foot + phase * newton * force, FORCE, 4.0)
    if abs(panel.moment) < 0.05 or abs(turn) < 0.02 or phase < 0.1:
        return
    angle = np.radians(np.linspace(60.0, 60.0 + 40.0 + 210.0 * abs(turn) * phase, 30))
    ring = _RING * np.column_stack([np.cos(angle), -np.sign(turn) * np.sin(angle)])
    sheet.arc_arrow(foot + ring, FORCE, 3.2)
