"""Plots of a comparison, 800 x 600 pixels, with matplotlib: how a tooth moves, forces along the arch, gain in width.

Variants differ in colour (Okabe and Ito's palette, made for colour-blind readers; from memory), marker and line at
once, so that every plot can be read in grey. Needs no display.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from biomech.outputs._arch import PLACES
from biomech.outputs.limits import TORQUE
from biomech.outputs.tip import LEAST_GAIN
from biomech.render._beside import ready_folder, write_beside
from biomech.render._canvas import GREY, canvas, fit, legend, note, place_variants, points, save, say, styles
from biomech.studies.leftovers import COMPARED
from biomech.studies.prescriptions import slot_play
from biomech.studies.record import place_key
from biomech.studies.still import HARDLY
from biomech.studies.variants import Axis, axis, key_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from biomech.studies.compare import Comparison
    from biomech.studies.rows import Row
    from biomech.studies.sentences import Labelled

RATIOS = (-2.0, 3.0)
"""Range of apex over crown that is drawn; what lies beyond is marked at the edge with its value."""
TIPS = (-6.0, 8.0)
"""Range of tip per mm that is drawn, deg/mm."""
_HEIGHTS = ("crown", "apex")


def plot_comparison(found: Comparison, folder: Path | str) -> list[Path]:
    """Write movement.png, forces.png and widths.png into `folder` (made if needed) and return their paths.

    widths.png is left out where no tooth has its fellow. Raises FileError when the folder cannot be written to.
    """
    folder = ready_folder(Path(folder))
    plots: dict[str, Callable[[Comparison], Figure | None]] = {
        "movement.png": movement_plot, "forces.png": forces_plot, "widths.png": widths_plot,
    }  # fmt: skip
    paths = []
    for name, make in plots.items():
        figure = make(found)
        if figure is not None:
            paths.append(write_beside(folder / name, partial(save, figure, COMPARED)))
    return paths


def movement_plot(found: Comparison) -> Figure:
    """Return apex over crown displacement and tip per mm of the teeth in the foreground against the varied value."""
    figure, (upper, lower) = canvas(2, f"How {_teeth(found)} would move at first, by {varied(found)}")
    along = axis(found.variants)
    x = np.array(along.numbers) if along else np.arange(len(found.labels), dtype=float)
    shift = np.zeros(1) if along or len(found.teeth) == 1 else np.linspace(-0.1, 0.1, len(found.teeth))
    still = {n: np.abs(_numbers(found.row(f"teeth.{n}.long_axis_mm.crown"))) < LEAST_GAIN for n in found.teeth}
    hardly = np.all([_hardly_moves(found, n) for n in found.teeth], axis=0)
    for panel, key, limits, marks in (
        (upper, "apex_to_crown", RATIOS, {0.0: "about\nthe apex", 1.0: "bodily"}),
        (lower, "tip_deg_per_mm", TIPS, {0.0: "bodily"}),
    ):
        drawn = [np.where(still[n], np.nan, _numbers(found.row(f"teeth.{n}.{key}"))) for n in found.teeth]
        for i, (tooth, style) in enumerate(zip(found.teeth, styles(len(found.teeth)), strict=True)):
            at = x + shift[min(i, len(shift) - 1)]
            points(panel, at, drawn[i], limits, style, f"tooth {tooth}", joined=along is not None)
        for value, text in marks.items():
            note(panel, value, text, "top" if "apex" in text else "bottom")
        fit(panel, [np.clip(y, *limits) for y in drawn], list(marks))
        for xi, silent, rests in zip(x, np.all(np.isnan(drawn), axis=0), hardly, strict=True):
            if silent:
                say(panel, xi, 0.5, "hardly moves" if rests else "crown rests")
    upper.set_ylabel("apex over crown\ndisplacement (1)")
    lower.set_ylabel("buccal crown tip\nper mm gained (deg/mm)")
    _shade_play(found, along, (upper, lower))
    place_variants((upper, lower), x, found.labels, _value_label(found, along), along is not None)
    if len(found.teeth) > 1:
        legend(figure, upper)
    return figure


def _hardly_moves(found: Comparison, tooth: int) -> np.ndarray:
    """Return for each variant whether neither crown nor apex of a tooth moves, or next to what they do in another."""
    crown, apex = (np.abs(_numbers(found.row(f"teeth.{tooth}.long_axis_mm.{at}"))) for at in ("crown", "apex"))
    told = np.array([kind == HARDLY for kind in found.row(f"teeth.{tooth}.movement").values])
    out: np.ndarray = told | ((crown < LEAST_GAIN) & (apex < LEAST_GAIN))
    return out


def forces_plot(found: Comparison) -> Figure:
    """Return buccal force and torque moment on every tooth along the arch, a line a variant."""
    figure, (upper, lower) = canvas(2, f"Force and torque on the teeth, by {varied(found)}")
    teeth, x = found.common, np.arange(len(found.common), dtype=float)
    for panel, key in ((upper, "force_N.buccal"), (lower, "moment_at_bracket_N_mm.torque")):
        values = np.array([_numbers(found.row(f"teeth.{n}.{key}")) for n in teeth])
        for y, label, style in zip(values.T, found.labels, styles(len(found.labels)), strict=True):
            panel.plot(x, y, label=label, **style)
        panel.axhline(0.0, color=GREY, linewidth=1, zorder=0)
        fit(panel, [values])
    for low, high in ((TORQUE.low, TORQUE.high), (-TORQUE.high, -TORQUE.low)):
        lower.axhspan(low, high, color=GREY, alpha=0.15, linewidth=0, zorder=0)
    upper.set_ylabel("force (N)\n+ buccal, - lingual")
    lower.set_ylabel("torque moment (N.mm)\n+ buccal, - lingual root")
    label = "tooth (ISO 3950), patient's right to left"
    if max(np.abs(lower.get_ylim())) > TORQUE.low:
        label = f"tooth (ISO 3950), right to left; shaded: useful torque, {TORQUE.low:g} to {TORQUE.high:g} N.mm"
    place_variants((upper, lower), x, [str(n) for n in teeth], label, False)
    legend(figure, upper)
    return figure


def widths_plot(found: Comparison) -> Figure | None:
    """Return the gain in width between fellow teeth at crowns and apices, a group of marks a place."""
    known = {row.path: row for row in found.rows}
    places = [p for p in PLACES if f"arch.width_change_mm.{place_key(p)}.crown" in known]
    if not places:
        return None
    figure, (upper, lower) = canvas(2, f"Gain in arch width at first, by {varied(found)}")
    x = np.arange(len(places), dtype=float)
    shift = np.linspace(-0.25, 0.25, len(found.labels))
    rows = {at: [_numbers(known[f"arch.width_change_mm.{place_key(p)}.{at}"]) for p in places] for at in _HEIGHTS}
    for panel, at in zip((upper, lower), _HEIGHTS, strict=True):
        for i, (label, style) in enumerate(zip(found.labels, styles(len(found.labels)), strict=True)):
            y = np.array(rows[at])[:, i]
            panel.plot(x + shift[i], y, label=label, **{**style, "linestyle": "none"})
            panel.vlines(x + shift[i], 0.0, y, color=style["color"], linewidth=2)
        panel.axhline(0.0, color=GREY, linewidth=1, zorder=0)
        fit(panel, [v for values in rows.values() for v in values])  # one scale for both
    upper.set_ylabel("at the crowns (mm)")
    lower.set_ylabel("at the apices (mm)")
    place_variants((upper, lower), x, [PLACES[p] for p in places], "between fellow teeth on both sides", False)
    legend(figure, upper)
    return figure


def _numbers(row: Row) -> np.ndarray:
    """Return a row's values, not a number where there is none."""
    return np.array([v if isinstance(v, float) else np.nan for v in row.values])


def _teeth(found: Comparison) -> str:
    names = ", ".join(map(str, found.teeth))
    return f"tooth {names}" if len(found.teeth) == 1 else f"teeth {names}"


def varied(found: Labelled) -> str:
    """Return in words what is varied: "torque of wire main at 16, 26"."""
    if not found.keys:
        return "scenario"
    numbers = [s for key in found.keys for s in key.split(".") if s.isdigit()]
    words = key_words(found.keys)
    if words[0] == "wire" and len(words) > 2:
        words = [*words[2:], "of wire", words[1]]
    elif len(words) > 1:
        words = words[-1:]
    return " ".join([*words, *(["at", ", ".join(numbers)] if numbers else [])])


def _value_label(found: Comparison, along: Axis | None) -> str:
    unit = " ".join(u for u in (along.unit, along.word) if u) if along else ""
    return f"{varied(found)} ({unit})" if unit else varied(found)


def _shade_play(found: Comparison, along: Axis | None, panels: Sequence[Axes]) -> None:
    """Shade the torques that are lost in the slot's play, where torque of a wire is varied."""
    torque = along is not None and along.unit == "deg" and all(".torque." in key for key in found.keys) and found.keys
    play = slot_play(found) if torque else None
    if play is None or along is None:
        return
    low, high = max(-play, min(along.numbers)), min(play, max(along.numbers))
    for panel in panels:
        panel.axvspan(low, high, color=GREY, alpha=0.15, linewidth=0, zorder=0)
    say(panels[0], 0.5 * (low + high), 0.93, f"play {play:.1f} deg")
