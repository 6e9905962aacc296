"""Films: teeth in section under different loads, and courses of treatment, side by side. MP4 or GIF by the ending."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from biomech.errors import InputError
from biomech.render._course_data import CourseData, course_data, pair_of
from biomech.render._course_film import MOST_COLUMNS, course_frames
from biomech.render._crew import cores
from biomech.render._film import check_film, write_film
from biomech.render._shapes import largest_crown_displacement, magnification
from biomech.render._sheet import Frame
from biomech.render._tooth_film import MOST_PANELS, section_frames
from biomech.render.probe import ensure_drawing

if TYPE_CHECKING:
    from biomech.studies.course import Course
    from biomech.studies.solve import Solution

__all__ = ["CourseData", "animate_courses", "animate_sections", "check_courses", "check_sections", "course_data"]

Progress = Callable[[str, float], None]
SIZE, FRAMES = (800, 600), 120
_RATE = 15.0  # frames a second
_WORTH = 25  # frames that take a process as long to draw as to start, or longer
_MOST = 6  # processes that draw: each needs 230 MB at 800 x 600, 500 MB at 1920 x 1440


def animate_sections(
    solutions: Sequence[Solution], path: Path | str, *, tooth: int | None = None, frames: int = FRAMES,
    size: tuple[int, int] = SIZE, magnify: float | None = None, progress: Progress | None = None,
) -> Path:  # fmt: skip
    """Write a film of one tooth of every solution in buccolingual section, side by side; return its path.

    The tooth (default: the one whose crown moves most, of several solutions the one whose long axis moves most
    differently) goes from rest to where it was solved and back, its displacement multiplied by `magnify` (default: a
    round factor, the same for all, stated), with its long axis, force and moment at the bracket to scales that all
    share and that are stated, the centres of resistance and rotation. `size` in pixels; `progress(what, share)` is
    called now and then. Needs no graphics library. Raises InputError (absent tooth, more than four solutions, unusable
    values), DrawError (no encoder for MP4) and FileError.
    """
    path = check_film(path, frames, size)
    check_sections(len(solutions), magnify)
    number = foremost(solutions) if tooth is None else tooth
    for solution in solutions:
        solution.tooth(number)
    drawn = section_frames(solutions, number, frames, size, magnify)
    return write_film(_told(drawn, frames, progress), path, _RATE)


def foremost(solutions: Sequence[Solution]) -> int:
    """Return the tooth to look at: of several solutions the one whose crown or apex moves most differently buccally.

    The first of equals from the patient's right; where nothing differs, the tooth whose crown moves most in the first.
    """
    spread = {}
    for number in (n for n in solutions[0].teeth if all(n in s.teeth for s in solutions)):
        axes = [s.tooth(number)["long_axis_mm"] for s in solutions]
        moved = [[float(axis[at] or 0.0) for at in ("crown", "apex")] for axis in axes if isinstance(axis, Mapping)]
        spread[number] = round(float(np.ptp(moved, axis=0).max()), 7) if moved else 0.0
    if max(spread.values(), default=0.0) == 0.0:
        return largest_crown_displacement(solutions[0])[0]
    return max(spread, key=lambda n: spread[n])


def animate_courses(
    courses: Sequence[Course | CourseData], path: Path | str, *, tooth: int | None = None, frames: int = FRAMES,
    size: tuple[int, int] = SIZE, magnify: float | None = None, jobs: int | None = None,
    progress: Progress | None = None,
) -> Path:  # fmt: skip
    """Write a film of courses over the months, side by side, and return its path.

    Above, the arch from the occlusal side, true to size, with its wires; below, a tooth and its fellow (default the
    first molars) from the front, their movement since the start multiplied by `magnify` (default: one round factor for
    all, stated), with the change of width between their cusps (edges) and apices and their tip as numbers; a clock, the
    visits and what was done at each. A course that was stopped stands still from then on. `courses` as run, or what
    `course_data` keeps of them. Up to `jobs` processes draw (default: a film that is worth it gets as many as there are
    cores); the pictures do not depend on it. Raises InputError (absent tooth, more than three courses, unusable
    values), DrawError (no way to draw, no encoder for MP4, a process killed) and FileError.
    """
    path = check_film(path, frames, size)
    check_courses(len(courses), magnify)
    processes = _processes(jobs, frames)
    datas = [one if isinstance(one, CourseData) else course_data(one) for one in courses]
    pair_of(datas, tooth)
    drawn = course_frames(datas, tooth, frames, size, magnify, processes)
    return write_film(_told(drawn, frames, progress), path, _RATE)


def check_sections(count: int, magnify: float | None) -> None:
    """Raise InputError unless so many solutions fit side by side and `magnify` can be used."""
    if not 1 <= count <= MOST_PANELS:
        raise InputError(f"{count} scenarios do not fit side by side; allowed: 1 to {MOST_PANELS}")
    magnification(1.0, magnify)


def check_courses(count: int, magnify: float | None) -> None:
    """Raise InputError unless so many courses fit and `magnify` can be used, DrawError when nothing can be drawn."""
    if not 1 <= count <= MOST_COLUMNS:
        raise InputError(f"{count} courses do not fit side by side; allowed: 1 to {MOST_COLUMNS}")
    magnification(1.0, magnify)
    ensure_drawing()


def _processes(jobs: int | None, frames: int) -> int:
    """Return how many processes draw so many frames, each of them enough to make up for its start."""
    if jobs is not None and jobs < 1:
        raise InputError(f"jobs = {jobs}: must be at least 1")
    return max(1, min(jobs or cores(), frames // _WORTH, _MOST))


def _told(drawn: Iterator[Frame], count: int, progress: Progress | None) -> Iterator[Frame]:
    for i, frame in enumerate(drawn):
        if progress is not None:
            progress("drawing frames", i / count)
        yield frame
