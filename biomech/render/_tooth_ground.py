"""What does not move in a film of teeth in section: titles, bone, numbers, scales, caution."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from biomech.render._legend import FORCE, INK, PALE
from biomech.render._scales import round_amount
from biomech.render._sheet import Sheet
from biomech.render._tooth_panel import BOTTOM, NARROW, TOP, Panel
from biomech.render._views import OUTLINE

BONE = "#eceef1"
RING = 17.0
"""Units: radius of the arc of a moment."""
_READ = 11.0  # units: height of words down to which nothing is broken into more lines
_SAID = "Force and moment at the bracket, crown and apex on the long axis; one scale of {} for all teeth shown."


def tooth_ground(sheet: Sheet, panels: Sequence[Panel], notes: Sequence[str]) -> Sheet:
    """Draw what does not move and return the sheet; `notes` stand before the caution."""
    from biomech.studies.solve import CAUTION

    width = sheet.width / len(panels)
    room, factor = width - 24.0, panels[0].scales.factor
    moving = f"movement drawn \u00d7{factor:g}" if factor != 1.0 else "movement drawn true to size"
    teeth = [f"Tooth {p.view.part.tooth.number}, {p.view.part.tooth.name}; {moving}" for p in panels]
    titles = [panel.title for panel in panels]
    lines, high = 2, sheet.common_size(titles, room, 2, 15.0, bold=True)
    if high < _READ:
        lines, high = 3, sheet.common_size(titles, room, 3, _READ, bold=True)
    low = sheet.common_size(teeth, room, 2, 12.5)
    for i, panel in enumerate(panels):
        left = width * i
        if i:
            sheet.line(np.array([(left, 14.0), (left, sheet.height - 70.0)]), "#c8ced6")
        sheet.fitted((left + 12, 8), panel.title, room, lines, high, bold=True)
        sheet.fitted((left + 12, 51), teeth[i], room, 2, low, PALE)
        _bone(sheet, panel, left, width)
    _numbers(sheet, panels, width)
    _legend(sheet, panels)
    said = _SAID.format("movement, force and moment")
    sheet.fitted((12, sheet.height - 37), said, sheet.width - 24, 1, 11.5, PALE)
    foot = " ".join([*notes, CAUTION])
    sheet.fitted((12, sheet.height - 19), foot, sheet.width - 24, 1, 10.5, PALE)
    return sheet


def _bone(sheet: Sheet, panel: Panel, left: float, width: float) -> None:
    tooth, jaw = panel.view.part.tooth, panel.view.jaw
    crest = float(panel.at(np.array([0.0, jaw * tooth.bone_level]))[1])
    end = TOP if jaw > 0 else BOTTOM
    box = np.array([(left + 8, crest), (left + width - 8, crest), (left + width - 8, end), (left + 8, end)])
    sheet.polygon(box, BONE)
    sheet.text((left + 14, crest - 5 * jaw), "bone", 11.5, PALE, anchor="ls" if jaw > 0 else "la")
    row = BOTTOM - 4 if jaw > 0 else TOP + 14
    sheet.text((left + 14, row), "lingual", 12, PALE, anchor="ls")
    sheet.text((left + width - 14, row), "buccal", 12, PALE, anchor="rs")


def _numbers(sheet: Sheet, panels: Sequence[Panel], width: float) -> None:
    """Write the numbers below the teeth, in one size in all panels."""
    narrow = len(panels) >= NARROW
    room = width - 24.0
    share, lines = (0.36, 2) if narrow else (0.47, 1)
    heads = [p.lines[0][1][:1].upper() + p.lines[0][1][1:] for p in panels]
    head = sheet.common_size(heads, room, 1, 17.0, bold=True)
    texts = [text for p in panels for _, text in p.lines[1:]]
    value = (1.0 - share) * room
    size = sheet.common_size(texts, value, lines, 12.5)
    moment = 18.0 if all(sheet.lines_of(p.lines[2][1], value, size) == 1 for p in panels) else 32.0
    for i, panel in enumerate(panels):
        left, y = width * i + 12.0, BOTTOM + 10.0
        sheet.fitted((left, y), heads[i], room, 1, head, bold=True)
        y += 24.0
        for row, (name, text) in enumerate(panel.lines[1:]):
            sheet.text((left, y), name, min(size, 12.0), PALE)
            sheet.fitted((left + share * room, y), text, value, lines, size)
            y += moment if row == 1 else 18.0


def _legend(sheet: Sheet, panels: Sequence[Panel]) -> None:
    scales = panels[0].scales
    newton = round_amount(scales.newton, 42.0)
    moment = round_amount(90.0 / scales.quarter, 90.0)
    x, y = 14.0, sheet.height - 52.0
    sheet.dashed(np.array([(x, y), (x + 26, y)]), OUTLINE, 1.6)
    for mark, words in (
        ("", "at rest"), ("disc", "centre of resistance"), ("cross", "centre of rotation"),
        ("path", "path of crown and apex"), ("arrow", f"{newton:g} N"), ("arc", f"{moment:g} N\u00b7mm"),
    ):  # fmt: skip
        long = 26.0
        if mark == "disc":
            sheet.disc(np.array((x + 18, y)), 6, "white", INK, 2.2)
        elif mark == "cross":
            sheet.cross(np.array((x + 18, y)), 5, INK)
        elif mark == "arrow":
            long = scales.newton * newton
            sheet.arrow(np.array((x, y)), np.array((x + long, y)), FORCE, 4.0)
        elif mark == "arc":
            turned = 0.5 * np.pi, 0.5 * np.pi - scales.sweep(moment)
            sheet.arc_arrow(np.array((x + 2, y + 8)), RING, turned, FORCE, 3.2)
            long = RING + 4.0
        elif mark == "path":
            sheet.line(np.array([(x + 2, y), (x + 24, y)]), INK, 3.5)
        sheet.text((x + long + 6, y), words, 12, anchor="lm")
        x += long + 6 + sheet.measure(words, 12) + 12
