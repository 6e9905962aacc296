"""A sheet for the pictures of a film: lines, marks and words, drawn fast and smooth with Pillow.

Lengths are in units that are pixels at 800 x 600; a larger sheet has larger pixels' worth of everything. Drawn at twice
the resolution and reduced, which smooths all edges.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from biomech.mechanics.poses import Array

if TYPE_CHECKING:
    from PIL.Image import Image

WIDTH, HEIGHT = 800.0, 600.0
LEAST = 8.0
"""Height, units, of the smallest words that are still read."""
_SAMPLES = 2
_TILE = 100  # pixels
Frame = NDArray[np.uint8]
Tile = tuple["Image", tuple[int, int]]
"""A mask and the pixel of its top left corner."""


@cache
def _font(size: int, bold: bool) -> Any:
    from PIL import ImageFont

    return ImageFont.truetype(str(_fonts() / ("DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf")), size)


@cache
def _fonts() -> Path:
    """Return the folder of matplotlib's fonts, where that is possible without loading it."""
    found = find_spec("matplotlib")
    for place in (found and found.submodule_search_locations) or ():
        usual = Path(place) / "mpl-data" / "fonts" / "ttf"
        if (usual / "DejaVuSans-Bold.ttf").is_file():
            return usual
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


@lru_cache(maxsize=512)
def _lettered(
    words: str, size: int, bold: bool, anchor: str, place: tuple[float, float]
) -> tuple[Image, tuple[int, int]]:
    """Return words as a mask and where its corner lies from the pixel of their place, which has fractions `place`."""
    from PIL import Image, ImageDraw

    font = _font(size, bold)
    left, top, right, bottom = (int(v) for v in font.getbbox(words, anchor=anchor))
    corner = min(left, 0) - 2, min(top, 0) - 2  # Pillow rounds places below zero the other way
    mask = Image.new("L", (max(right - corner[0], 0) + 3, max(bottom - corner[1], 0) + 3))
    at = place[0] - corner[0], place[1] - corner[1]
    ImageDraw.Draw(mask).text(at, words, fill=255, font=font, anchor=anchor)
    return mask, corner


@lru_cache(maxsize=512)
def _broken(words: str, room: float, size: int, bold: bool) -> list[str]:
    """Return words broken into lines that fit `room` pixels, where a single word does."""
    font, out = _font(size, bold), [""]
    for word in words.split():
        longer = f"{out[-1]} {word}".strip()
        if out[-1] and font.getlength(longer) > room:
            out.append(word)
        else:
            out[-1] = longer
    return out


@lru_cache(maxsize=1024)
def _fits(words: str, room: float, lines: int, size: int, bold: bool) -> bool:
    """Return whether words broken into lines that fit `room` pixels are at most so many, none of them wider."""
    broken = _broken(words, room, size, bold)
    return len(broken) <= lines and all(_font(size, bold).getlength(line) <= room for line in broken)


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
        places = np.asarray(points, dtype=float).reshape(-1, 2) * self.pixels
        return list(map(tuple, places.tolist()))

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

    def arc_arrow(
        self, centre: Array, radius: float, angles: tuple[float, float], colour: str, width: float = 3.0
    ) -> None:
        """Draw an arc about a centre with an arrow's head at its end; nothing when it is shorter than five units.

        `angles` of begin and end, rad, from the right towards up. The head takes at most 0.6 of a short arc.
        """
        begin, end = angles
        length = radius * abs(end - begin)
        if length < 5.0:
            return
        head = min(4.0 * width, 0.6 * length)
        neck = end - np.copysign(0.8 * head / radius, end - begin)
        way = np.linspace(begin, neck, max(3, int(length)))
        arc = np.asarray(centre) + radius * np.column_stack([np.cos(way), -np.sin(way)])
        self.line(arc, "white", width + 2.5)
        self.line(arc, colour, width)
        tip, back = (
            np.asarray(centre) + radius * np.array([np.cos(a), -np.sin(a)])
            for a in (end, end - np.copysign(head / radius, end - begin))
        )
        self._head(tip, (tip - back) / np.linalg.norm(tip - back), head, colour)

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
        letters, (x, y) = self._letters(size), self._at(np.array(at))[0]
        if rim:
            self.draw.text((x, y), words, fill=colour, font=_font(letters, bold), anchor=anchor,
                           stroke_width=round(rim * self.pixels), stroke_fill="white")  # fmt: skip
            return
        mask, (left, top) = _lettered(words, letters, bold, anchor, (x % 1.0, y % 1.0))
        self.image.paste(colour, (int(x // 1.0) + left, int(y // 1.0) + top), mask)

    def _letters(self, size: float) -> int:
        return max(1, round(size * self.pixels))

    def measure(self, words: str, size: float = 13.0, bold: bool = False) -> float:
        """Return the width of words, units."""
        return float(_font(self._letters(size), bold).getlength(words) / self.pixels)

    def common_size(
        self, texts: Sequence[str], room: float, lines: int, size: float = 13.0, *, bold: bool = False
    ) -> float:
        """Return the largest height of words up to `size` (and not below LEAST) at which all texts fit."""
        while size > LEAST and not all(
            _fits(text, room * self.pixels, lines, self._letters(size), bold) for text in texts
        ):
            size -= 0.5
        return max(size, LEAST)

    def lines_of(self, words: str, room: float, size: float, *, bold: bool = False) -> int:
        """Return into how many lines words are broken that fit `room`."""
        return len(self._broken(words, room, size, bold))

    def _broken(self, words: str, room: float, size: float, bold: bool) -> list[str]:
        return _broken(words, room * self.pixels, self._letters(size), bold)

    def fitted(
        self, at: tuple[float, float], words: str, room: float, lines: int, size: float = 13.0,
        colour: str = "#1c2733", *, bold: bool = False, anchor: str = "la",
    ) -> None:  # fmt: skip
        """Write words broken into at most `lines` lines that fit `room`, smaller (to LEAST) if they must."""
        size = self.common_size([words], room, lines, size, bold=bold)
        broken = self._broken(words, room, size, bold)
        if len(broken) > lines:
            broken = [*broken[: lines - 1], broken[lines - 1] + " \u2026"]
        for i, line in enumerate(broken):
            self.text((at[0], at[1] + 1.25 * size * i), line, size, colour, bold=bold, anchor=anchor)

    def stencil(self) -> list[Tile]:
        """Return where the sheet is dark so far, cut into tiles, those without anything left out."""
        dark = self.image.convert("L").point(lambda shade: 255 * (shade < 128), mode="1")
        width, height = dark.size
        across, down = (range(0, length, _TILE) for length in (width, height))
        out = []
        for x, y in ((x, y) for y in down for x in across):
            piece = dark.crop((x, y, min(x + _TILE, width), min(y + _TILE, height)))
            inked = piece.getbbox()
            if inked is not None:
                out.append((piece.crop(inked), (x + inked[0], y + inked[1])))
        return out

    def stamp(self, stencil: Sequence[Tile], colour: str) -> None:
        """Lay a colour on the sheet through a stencil of another one of its size."""
        for mask, corner in stencil:
            self.image.paste(colour, corner, mask)

    def paste(self, pixels: Frame, at: tuple[float, float]) -> None:
        """Lay a picture (h, w, 3), at the sheet's inner resolution, with its top left corner at a place."""
        from PIL import Image

        x, y = self._at(np.array(at))[0]
        self.image.paste(Image.fromarray(pixels), (round(x), round(y)))
