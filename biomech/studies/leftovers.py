"""What an earlier run of a command left in its folder, and the run now has not written: told apart and removed.

A file counts as left by a command only if it has a name that the command gives and carries the command's own mark: the
text in a plot that names it as source, the heading of its table. Everything else in the folder is somebody's.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

from biomech.errors import FileError

COMPARED, COURSE, BENCH = "biomech compare", "biomech course", "biomech bend"
"""Sources that plots name."""
_TOOTH = "(-[1-4][1-7])?"
_PLOTS = {
    COMPARED: rf"(widths|movement{_TOOTH}|forces{_TOOTH}|tip{_TOOTH}|torque{_TOOTH})\.png",
    COURSE: r"course\.png",
    BENCH: r"curves\.png",
}
_TABLES = {COMPARED: {"curves.csv": b"variant,day,after_visit,"}}
"""By command: tables that not every run writes, and what their heading begins with."""
_SIGNATURE = b"\x89PNG\r\n\x1a\n"


def clear_leftovers(folder: Path, source: str, written: Iterable[Path]) -> list[Path]:
    """Remove what earlier runs of the command `source` left in `folder`, except the files `written`.

    To be called when all new files are in place. Returns the paths of what is gone; raises FileError naming a file that
    cannot be removed.
    """
    kept = {path.name for path in written}
    gone = [path for path in _left(folder, source) if path.name not in kept]
    for path in gone:
        try:
            path.unlink()
        except OSError as error:
            reason = error.strerror or error
            raise FileError(f"{path}: is left from an earlier run and cannot be removed: {reason}") from None
    return gone


def _left(folder: Path, source: str) -> Iterator[Path]:
    try:
        found = sorted(folder.iterdir())
    except OSError as error:
        raise FileError(f"{folder}: cannot be read: {error.strerror or error}") from None
    for path in found:
        if path.is_symlink() or not path.is_file():
            continue
        plot = re.fullmatch(_PLOTS[source], path.name) and source_of(path) == source
        heading = _TABLES.get(source, {}).get(path.name)
        if plot or (heading is not None and _begin(path, len(heading)) == heading):
            yield path


def source_of(path: Path) -> str | None:
    """Return the source that the text of a PNG file names; None where it names none, and for any other file."""
    data, at = _begin(path, 1 << 14), len(_SIGNATURE)  # the text stands before the picture
    if not data.startswith(_SIGNATURE):
        return None
    while at + 8 <= len(data):
        size, kind = int.from_bytes(data[at : at + 4]), data[at + 4 : at + 8]
        keyword, _, text = data[at + 8 : at + 8 + size].partition(b"\0")
        if (kind, keyword) == (b"tEXt", b"Source"):
            return text.decode("latin-1")
        at += size + 12  # length, kind and checksum around the data
    return None


def _begin(path: Path, count: int) -> bytes:
    """Return the first bytes of a file, none where it cannot be read."""
    try:
        with path.open("rb") as file:
            return file.read(count)
    except OSError:
        return b""
