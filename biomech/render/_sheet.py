"""A sheet for the pictures of a film: lines, marks and words, drawn fast and smooth with Pillow.

Lengths are in units that are pixels at 800 x 600; a larger sheet has larger pixels' worth of everything. Drawn at twice
the resolution and reduced, which smooths all edges.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from biomech.mechanics.poses import Array

if TYPE_CHECKING:
    from PIL.Image import Image

WIDTH, HEIGHT = 800.0, 600.0
_SAMPLES = 2
Frame = NDArray[np.uint8]


@cache
def _font(size: int, bold: bool) -> Any:
    import matplotlib
    from PIL import ImageFont

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return ImageFont.truetype(str(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name), size)


class Sheet:
    """A sheet of `size` (width, height) pixels; `width`, `height` are its measures in units."""

    def __init__(self, size: tuple[int, int], ground: Image | None = None) -> None:
        from PIL import Image, ImageDraw

        self.size = size
        unit = min(size[0] / WIDTH, size[1] / HEIGHT)
        self.width, self.height = size[0] / unit, size[1] / unit
        self.pixels = _SAMPLES * unit
        self.image = ground.copy() if ground else Image.new("RGB", (_SAMPLES * size[0], _SAMPLES * size[1]), "white")
        self.draw = ImageDraw.Draw(self.image)

    def frame(self) -> Frame:
        """Return the sheet (height, width, 3), smoothed."""
        return np.asarray(self.image.reduce(_SAMPLES))

    def _at(self, points: Array) -> list[tuple[float, float]]:
        return [(float(x), float(y)) for x, y in np.asarray(points, dtype=float).reshape(-1, 2) * self.pixels]

    def _thick(self, width: float) -> int:
        return max(1, round(width * self.pixels))

    def polygon(self, points: Array, fill: str | None, edge: str | None = None, width: float = 1.0) -> None:
        """Draw a closed polygon (n, 2)."""
        corners = self._at(points)
        if fill is not None:
            self.draw.polygon(corners, fill=fill)
        if edge is not None:
            self.draw.line([*corners, corners[0]], fill=edge, width=self._thick(width), joint="curve")

    def line(self, points: Array, colour: str, width: float = 1.0) -> None:
        """Draw a line through points (n, 2)."""
        self.draw.line(self._at(points), fill=colour, width=self._thick(width), joint="curve")

    def dashed(self, points: Array, colour: str, width: float = 1.0, dash: tuple[float, float] = (5.0, 3.5)) -> None:
        """Draw a dashed line through points (n, 2)."""
        points = np.asarray(points, dtype=float)
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
        for begin in np.arange(0.0, along[-1], sum(dash)):
            end = min(begin + dash[0], along[-1])
            inner = along[(along > begin) & (along < end)]
            at = np.concatenate([[begin], inner, [end]])
            self.line(np.column_stack([np.interp(at, along, points[:, k]) for k in (0, 1)]), colour, width)

    def arrow(self, tail: Array, head: Array, colour: str, width: float = 3.0) -> None:
        """Draw an arrow with a white rim; nothing when it is shorter than two units."""
        tail, head = np.asarray(tail, dtype=float), np.asarray(head, dtype=float)
        length = float(np.linalg.norm(head - tail))
        if length < 2.0:
            return
        along = (head - tail) / length
        self._tip(tail, head, along, min(4.0 * width, 0.7 * length), colour, width)

    def arc_arrow(self, points: Array, colour: str, width: float = 3.0) -> None:
        """Draw a bent arrow along points (n, 2)."""
        self.line(points[:-2], "white", width + 2.5)
        self.line(points[:-2], colour, width)
        along = points[-1] - points[-4]
        self._head(points[-1], along / np.linalg.norm(along), 4.0 * width, colour)

    def _tip(self, tail: Array, head: Array, along: Array, size: float, colour: str, width: float) -> None:
        neck = head - 0.8 * size * along
        self.line(np.array([tail, neck]), "white", width + 2.5)
        self.line(np.array([tail, neck]), colour, width)
        self._head(head, along, size, colour)

    def _head(self, head: Array, along: Array, size: float, colour: str) -> None:
        across = np.array([-along[1], along[0]])
        back = head - size * along
        self.polygon(np.array([head, back + 0.42 * size * across, back - 0.42 * size * across]), colour, "white", 1.0)
        self.polygon(np.array([head, back + 0.42 * size * across, back - 0.42 * size * across]), colour)

    def disc(self, at: Array, radius: float, fill: str, edge: str, width: float = 2.0) -> None:
        """Draw a disc."""
        x, y = self._at(at)[0]
        r = radius * self.pixels
        self.draw.ellipse((x - r, y - r, x + r, y + r), fill=fill, outline=edge, width=self._thick(width))

    def cross(self, at: Array, radius: float, colour: str, width: float = 3.5) -> None:
        """Draw a diagonal cross with a white rim."""
        at = np.asarray(at, dtype=float)
        for shade, wide in (("white", width + 3.0), (colour, width)):
            for way in (np.array([1.0, 1.0]), np.array([1.0, -1.0])):
                self.line(np.array([at - radius * way, at + radius * way]), shade, wide)

    def text(
        self, at: tuple[float, float], words: str, size: float = 13.0, colour: str = "#1c2733", *, bold: bool = False,
        anchor: str = "la", rim: float = 0.0,
    ) -> None:  # fmt: skip
        """Write words; `anchor` as in Pillow (l, m, r and a, m, s), `rim` a white border in units."""
        font = _font(max(1, round(size * self.pixels)), bold)
        self.draw.text(self._at(np.array(at))[0], words, fill=colour, font=font, anchor=anchor,
                       stroke_width=round(rim * self.pixels), stroke_fill="white")  # fmt: skip

    def measure(self, words: str, size: float = 13.0, bold: bool = False) -> float:
        """Return the width of words, units."""
        return float(_font(max(1, round(size * self.pixels)), bold).getlength(words) / self.pixels)

    def fitted(
        self, at: tuple[float, float], words: str, room: float, lines: int, size: float = 13.0,
        colour: str = "#1c2733", *, bold: bool = False, anchor: str = "la",
    ) -> None:  # fmt: skip
        """Write words broken into at most `lines` lines that fit `room`, smaller (to 8 units) if they must."""
        while True:
            broken = self._broken(words, room, size, bold)
            if len(broken) <= lines or size <= 8.0:
                break
            size -= 0.5
        if len(broken) > lines:
            broken = [*broken[: lines - 1], broken[lines - 1] + " \u2026"]
        for i, line in enumerate(broken):
            self.text((at[0], at[1] + 1.25 * size * i), line, size, colour, bold=bold, anchor=anchor)

    def _broken(self, words: str, room: float, size: float, bold: bool) -> list[str]:
        out = [""]
        for word in words.split():
            longer = f"{out[-1]} {word}".strip()
            if out[-1] and self.measure(longer, size, bold) > room:
                out.append(word)
            else:
                out[-1] = longer
        return out

    def mask(self) -> Image:
        """Return what is drawn on the sheet so far as a mask: full where it is black, empty where it is white."""
        from PIL import ImageOps

        return ImageOps.invert(self.image.convert("L"))

    def stamp(self, mask: Image, colour: str) -> None:
        """Lay a colour on the sheet through a mask of another one of its size."""
        self.image.paste(colour, (0, 0), mask)

    def paste(self, pixels: Frame, at: tuple[float, float]) -> None:
        """Lay a picture (h, w, 3), at the sheet's inner resolution, with its top left corner at a place."""
        from PIL import Image

        x, y = self._at(np.array(at))[0]
        self.image.paste(Image.fromarray(pixels), (round(x), round(y)))
