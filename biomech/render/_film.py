"""Frames into a film: MP4 by ffmpeg (imageio-ffmpeg brings it along), GIF by Pillow."""

from __future__ import annotations

from collections.abc import Iterable
from importlib.util import find_spec
from itertools import chain, pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from biomech.errors import InputError
from biomech.render._beside import write_beside
from biomech.render._sheet import Frame
from biomech.render.probe import DrawError

if TYPE_CHECKING:
    from PIL.Image import Image

ENDINGS = (".mp4", ".gif")
MOST_FRAMES = 1000
SMALLEST, LARGEST = (320, 240), (1920, 1440)
_SHADES = 255  # colours of a GIF


def check_film(path: Path | str, frames: int, size: tuple[int, int]) -> Path:
    """Return `path` if a film of that kind can be written here.

    Raises InputError for another ending than .mp4 or .gif and for unusable `frames` or `size`; DrawError, which says
    what to install, when MP4 is asked for and its encoder is missing.
    """
    path = Path(path)
    if path.suffix.lower() not in ENDINGS:
        raise InputError(f"{path}: name a file that ends in .mp4 or .gif")
    if not 2 <= frames <= MOST_FRAMES:
        raise InputError(f"frames = {frames} cannot be used; allowed: 2 to {MOST_FRAMES}")
    width, height = size
    if not (SMALLEST[0] <= width <= LARGEST[0] and SMALLEST[1] <= height <= LARGEST[1]):
        raise InputError(f"size = {width}x{height} cannot be used; allowed: 320x240 to 1920x1440")
    if width % 2 or height % 2:
        raise InputError(f"size = {width}x{height} cannot be used; both must be even")
    if path.suffix.lower() == ".mp4" and find_spec("imageio_ffmpeg") is None:
        raise DrawError(f'{path}: MP4 needs imageio-ffmpeg: pip install "biomech[animation]"; a GIF needs nothing more')
    return path


def write_film(frames: Iterable[Frame], path: Path, rate: float) -> Path:
    """Write frames (height, width, 3), all of one size, at `rate` a second, and return the path.

    A GIF repeats for ever. Raises FileError when the file cannot be written; no part of it is left then.
    """
    write = _mp4 if path.suffix.lower() == ".mp4" else _gif
    return write_beside(path, lambda draft: write(frames, draft, rate))


def _mp4(frames: Iterable[Frame], path: Path, rate: float) -> None:
    import imageio_ffmpeg

    path.touch()  # the system's own words when that is impossible
    frames = iter(frames)
    first = next(frames)
    film = imageio_ffmpeg.write_frames(
        str(path), (first.shape[1], first.shape[0]), fps=rate, codec="libx264", macro_block_size=2,
        output_params=["-crf", "20", "-preset", "veryfast", "-movflags", "+faststart"], quality=None,
    )  # fmt: skip
    film.send(None)
    try:
        for frame in chain([first], frames):
            film.send(np.ascontiguousarray(frame))  # the film's writer must have it in one piece
    finally:
        film.close()


def _gif(frames: Iterable[Frame], path: Path, rate: float) -> None:
    from PIL import Image

    path.touch()
    drawn = [Image.fromarray(frame) for frame in frames]
    palette = _palette(drawn)
    small = [image.quantize(palette=palette, dither=Image.Dither.NONE) for image in drawn]
    small[0].save(path, format="GIF", save_all=True, append_images=small[1:], duration=_lasting(len(small), rate),
                  loop=0, optimize=False)  # fmt: skip


def _lasting(count: int, rate: float) -> list[int]:
    """Return for how long, ms, frames are shown. A GIF counts hundredths: some last one longer, to keep the time."""
    ends = [10 * round(100.0 * i / rate) for i in range(count + 1)]
    return [end - begin for begin, end in pairwise(ends)]


def _palette(drawn: list[Image]) -> Image:
    """Return colours chosen from the first, a middle and the last frame, so that they do not flicker."""
    from PIL import Image

    some = [drawn[i] for i in sorted({0, len(drawn) // 3, len(drawn) // 2, len(drawn) - 1})]
    width, height = some[0].size
    strip = Image.new("RGB", (width, height * len(some)))
    for i, image in enumerate(some):
        strip.paste(image, (0, i * height))
    return strip.quantize(colors=_SHADES, method=Image.Quantize.MEDIANCUT)
