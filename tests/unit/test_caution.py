"""The caution: beside CSV files, at the foot of plots; tables stay plain for the readers people use."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from biomech.render._canvas import canvas, legend
from biomech.studies import CAUTION
from biomech.studies.write import CAUTION_FILE, csv_text, write_results


def test_it_stands_beside_tables_that_begin_with_their_heading(tmp_path: Path) -> None:
    paths = write_results(tmp_path, {"a.csv": csv_text([{"tooth": 16, "force_N": 1.5}])})
    assert [p.name for p in paths] == ["a.csv", CAUTION_FILE]
    assert CAUTION in paths[1].read_text(encoding="utf-8")
    with paths[0].open(newline="", encoding="utf-8") as file:
        assert list(csv.reader(file)) == [["tooth", "force_N"], ["16", "1.5"]]


@pytest.mark.parametrize("variants", [1, 2, 7])
@pytest.mark.parametrize("panels", [1, 3])
def test_it_fits_on_every_sheet_and_hides_nothing(panels: int, variants: int) -> None:
    figure, axes = canvas(panels, "How a tooth moves")
    for i in range(variants):
        for panel in axes:
            panel.plot([0, 1], [0, i], label=f"a scenario with a name of some length, {i}")
            panel.set_ylabel("force (N)\n+ buccal")
    axes[-1].set_xlabel("months since the start")
    legend(figure, axes[0])
    figure.draw_without_rendering()
    (foot,) = (text for text in figure.texts if text.get_text() == CAUTION)
    box = foot.get_window_extent()
    assert box.x0 > 0 and box.x1 < 800 and box.y0 >= 0
    key, label = figure.legends[0].get_window_extent(), axes[-1].xaxis.label.get_window_extent()
    assert box.y1 <= key.y0 and key.y1 <= label.y0 and all(key.y1 < panel.get_window_extent().y0 for panel in axes)
