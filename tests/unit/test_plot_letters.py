"""Letters of plots: names side by side do not run into each other, upright labels stay beside their panel."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from matplotlib.figure import Figure

from biomech.render._canvas import canvas, fit, legend, note, place_variants, settle

LONGEST = {1: "torque moment (N.mm)", 2: "torque moment (N.mm)\n+ buccal, - lingual root", 3: "gain in width\nat crowns (mm)"}
"""The longest upright labels on sheets with so many panels."""
SHORT = ["0 deg", "10 deg"]
FILES = [f"upper-overlay-molar-torque-{i}" for i in (0, 10, 18, 21)]
MANY = [*FILES, "upper-overlay-torque-shared", "upper_overlay_molar_torque_prescription_with_long_name", "plain"]


def sheet(names: list[str], panels: int = 2) -> Figure:
    figure, axes = canvas(panels, "By scenario")
    x = np.arange(len(names), dtype=float)
    for i, name in enumerate(names):
        for panel in axes:
            panel.plot(x, x + i, label=name)
            panel.set_ylabel(LONGEST[panels])
    place_variants(axes, x, names, "scenario", False)
    legend(figure, axes[0])
    settle(figure)
    figure.draw_without_rendering()
    return figure


@pytest.mark.parametrize("names", [SHORT, FILES, MANY])
def test_names_stand_apart_and_break_where_a_reader_would(names: list[str]) -> None:
    labels = sheet(names).axes[-1].get_xticklabels()
    boxes = [label.get_window_extent() for label in labels]
    assert all(a.x1 < b.x0 for a, b in pairwise(boxes))
    for label, name in zip(labels, names, strict=True):
        lines = label.get_text().split("\n")
        assert "".join(lines).replace(" ", "") == name.replace(" ", "")
        assert all(line[-1] in "-_" or f"{line} " in name for line in lines[:-1])
    assert labels[0].get_fontsize() == {2: 12, 4: 12, 7: 7}[len(names)]


def test_the_marks_of_a_ratio_do_not_run_into_each_other() -> None:
    figure, axes = canvas(3, "By scenario")
    for panel in axes:
        panel.set_ylim(-3.0, 4.0)
        note(panel, 1.0, "bodily", "bottom")
        note(panel, 0.0, "about\nthe apex", "top")
    figure.draw_without_rendering()
    for panel in axes:
        bodily, about = (text.get_window_extent() for text in panel.texts)
        assert about.y1 < bodily.y0


@pytest.mark.parametrize("names", [SHORT, MANY])
@pytest.mark.parametrize("panels", [1, 2, 3])
def test_upright_labels_stay_beside_their_panel(names: list[str], panels: int) -> None:
    figure = sheet(names, panels)
    for panel in figure.axes:
        label = panel.yaxis.label
        assert label.get_fontsize() >= 7.5
        assert label.get_window_extent().height <= 1.1 * panel.get_window_extent().height or label.get_fontsize() == 7.5
    boxes = sorted((p.yaxis.label.get_window_extent() for p in figure.axes), key=lambda box: box.y0)
    assert all(low.y1 <= high.y0 + 1 for low, high in pairwise(boxes))


@pytest.mark.parametrize("top", [0.3, 0.33, 0.36])
def test_nothing_stands_off_the_sheet_where_room_changes_the_ticks(top: float) -> None:
    """Panels whose ticks take more letters, and by that room, once legend and marks have taken theirs."""
    figure, axes = canvas(3, "By scenario")
    for panel, ends in zip(axes, ((-0.05, 1.62), (-0.36, top), (-0.4, 3.0)), strict=True):
        for i in range(3):
            panel.plot([0.0, 4.6], ends, label=f"{i} mm")
        fit(panel, [np.array(ends)])
        panel.set_ylabel("apex, mm\n+ buccal")
    axes[0].annotate("1", (1, 1.0), xycoords=("data", "axes fraction"), va="bottom", fontsize=11)
    note(axes[2], 0.0, "about\nthe apex", "top")
    axes[-1].set_xlabel("months since the start; dashed, numbered and marked: visits")
    legend(figure, axes[0])
    settle(figure)
    figure.draw_without_rendering()
    assert all(panel.yaxis.label.get_window_extent().x0 >= 0 for panel in axes)
    for panel, ends in zip(axes, ((-0.05, 1.62), (-0.36, top), (-0.4, 3.0)), strict=True):
        assert panel.get_ylim()[0] < ends[0] and panel.get_ylim()[1] > ends[1], "ticks do not narrow the range"
