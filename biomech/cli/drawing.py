"""Pictures after numbers: what cannot be drawn is reported, and stops nothing."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from pathlib import Path

from biomech.cli.progress import Progress
from biomech.errors import BiomechError, FileError


def draw_all(drawn: Iterable[tuple[str, Callable[[], list[Path]]]], *, quiet: bool) -> list[Path]:
    """Return the paths of all that is `drawn`: what it is called, and what writes it.

    Raises FileError for what cannot be written.
    """
    paths: list[Path] = []
    with Progress(quiet=quiet) as progress:
        for what, write in drawn:
            progress.say(f"drawing {what}")
            try:
                paths += write()
            except FileError:
                raise
            except (BiomechError, ImportError) as error:
                print(f"biomech: {what} left out: {error}", file=sys.stderr)
    return paths
